// Knows the law of a loose piece, as the section "A loose piece" of the evidence model has it, with
// its laws of counts, marks and features: from what was seen on one part to how probable each type
// is. Every figure comes with the tables that Python wrote; names, sentences and the screen are left
// to the other files. Weights are natural logarithms throughout, so a thousand counts do not underflow.

/**
 * A count of one wheel: `teeth`, `unsure` or not, the same result so many `times`.
 * @typedef {{teeth: number, unsure: boolean, times: number}} Count
 * A feature that was looked at; `place` from 1 as counted, 0: the piece as a whole.
 * @typedef {{place: number, feature: string, value: number|string, unsure: boolean, times: number}} Look
 * What was seen of a piece, along its axis from either end; a place without counts was not counted,
 * an open end has at least one more wheel beyond it. `marks` are readings as `markKey` gives them.
 * @typedef {{places: Count[][], openStart: boolean, openEnd: boolean, role: string|null,
 *   marks: string[], features: Look[]}} Seen
 * One answer: a type of a piece of a family; `type` is null for an unlisted one of that piece.
 * @typedef {{family: number, piece: number, type: number|null, probability: number}} Answer
 */

export const FEWEST_TEETH = 4;
export const MOST_TEETH = 200;
const STEADY = 0, HASTY = 1, HANDS = [STEADY, HASTY];
/** In the teeth of a type: a gap of the catalog. */
const GAP = MOST_TEETH + 1;
const NONE = [];
/** In the reading of a mark: one character that cannot be read, and any number of them. */
const UNREAD = "?", LOST = "*";

/** The sum of numbers given by their logarithms, as a logarithm. */
function logSum(logs) {
  let top = -Infinity;
  for (const log of logs) if (log > top) top = log;
  if (top === -Infinity) return top;
  let sum = 0;
  for (const log of logs) sum += Math.exp(log - top);
  return top + Math.log(sum);
}

/* ---- Teeth that nobody knows: ρ ---- */

/** ρ from catalogued counts with their weights ([teeth, weight] pairs), by teeth from `least` on.
 *  `near` keeps how each count is spread: as 0.7^|t−t₀|, adding up to 1. */
function rhoOf(law, pool, near) {
  const size = law.greatest - law.least + 1;
  let total = 0;
  for (const [, weight] of pool) total += weight;
  if (!total) return new Float64Array(size).fill(1 / size);
  const rho = new Float64Array(size).fill(law.rhoUniform / size);
  for (const [teeth, weight] of pool) {
    if (!near.has(teeth)) {
      const spread = Float64Array.from({ length: size }, (_, i) =>
        law.rhoSpread ** Math.abs(law.least + i - teeth));
      const sum = spread.reduce((a, b) => a + b);
      near.set(teeth, spread.map((value) => value / sum));
    }
    const spread = near.get(teeth), share = law.rhoNear * weight / total;
    for (let i = 0; i < size; i++) rho[i] += share * spread[i];
  }
  return rho;
}

/* ---- A catalog made ready ---- */

/** Every type with what is needed of it, ρ of every wheel's name, and what families have there. */
export function prepare(tables) {
  const { law } = tables;
  const rho = new Map(), outside = new Set(), near = new Map();
  for (const { pieces } of tables.plans) {
    for (const wheel of pieces.flatMap(([, wheels]) => wheels)) {
      if (!rho.has(wheel)) rho.set(wheel, rhoOf(law, tables.rho[wheel] ?? [], near));
    }
  }
  for (const [teeth] of tables.rhoOfAll) {
    if (teeth < law.least || teeth > law.greatest) outside.add(teeth);
  }
  let size = 0;
  /** The pieces with any type, by how many wheels they have. */
  const bySize = new Map();
  const families = tables.families.map((family, f) => {
    const pieces = tables.plans[family.plan].pieces.map(([name, wheels], p) => {
      let commonness = 0;
      const types = (family.types[p] ?? []).map(([teeth, carriers, marks, features]) => {
        let weight = 0;
        for (const c of carriers) weight += family.sets[c][2];
        commonness += weight;
        const codes = teeth.includes(null) ? teeth.map((t) => t ?? GAP) : teeth;
        return { teeth, codes, carriers, weight, marks: marks ?? NONE, features: features ?? NONE };
      });
      // Each type has a number, and behind those of a piece its unlisted one.
      const piece = { family: f, number: p, name, wheels, types, commonness, first: size,
        has: wheels.map((_, w) => hadThere(types, w)) };
      if (types.length) {
        size += types.length + 1;
        if (!bySize.has(wheels.length)) bySize.set(wheels.length, []);
        bySize.get(wheels.length).push(piece);
      }
      return piece;
    });
    return { ...family, pieces };
  });
  return { law, families, bySize, size, rho, outside, pool: rhoOf(law, tables.rhoOfAll, near),
    values: tables.values };
}

/** What a family's counted sets have for a wheel, gaps left out, and the share of each. */
function hadThere(types, w) {
  const teeth = [], shares = [];
  let total = 0;
  for (const { codes, weight } of types) {
    if (codes[w] === GAP) continue;
    const at = teeth.indexOf(codes[w]);
    total += weight;
    if (at >= 0) shares[at] += weight;
    else {
      teeth.push(codes[w]);
      shares.push(weight);
    }
  }
  for (let i = 0; i < shares.length; i++) shares[i] /= total;
  return { teeth, shares };
}

/** Every way that what was seen fits on a piece of so many wheels: for each place, its wheel. */
export function waysOn(wheels, seen) {
  const length = seen.places.length;
  const ways = [];
  // One wheel lies alike either way round: each way would only be there twice.
  const isAlike = length === 1 && seen.openStart === seen.openEnd;
  for (const backwards of isAlike ? [false] : [false, true]) {
    const [before, behind] = backwards
      ? [seen.openEnd, seen.openStart] : [seen.openStart, seen.openEnd];
    for (let first = 0; first + length <= wheels; first++) {
      if ((first > 0) === before && (first + length < wheels) === behind) {
        const way = Array.from({ length }, (_, i) => first + i);
        ways.push(backwards ? way.reverse() : way);
      }
    }
  }
  return ways;
}

/* ---- Counts ---- */

/** p(c|t) = (1−s)(1−q)/(1+q)·q^|c−t| + s/197: a discrete Laplace error and a slip. */
function countLaw(law, off, q) {
  const counts = MOST_TEETH - FEWEST_TEETH + 1;
  return (1 - law.slip) * (1 - q) / (1 + q) * q ** off + law.slip / counts;
}

/** What the counts of one place say of every number of teeth, for either hand. */
class Place {
  constructor(model, counts) {
    const { law } = model;
    const logs = HANDS.map((hand) => {
      const log = new Float64Array(MOST_TEETH + 1);
      for (const { teeth, unsure, times } of counts) {
        const q = unsure ? law.unsure : law.q[hand];
        for (let t = 0; t <= MOST_TEETH; t++) {
          log[t] += times * Math.log(countLaw(law, Math.abs(teeth - t), q));
        }
      }
      return log;
    });
    // No other teeth are ever asked for than those that ρ or the catalog has.
    this.scale = logs.map((log) => Math.max(...log.subarray(law.least, law.greatest + 1),
      ...Array.from(model.outside, (t) => log[t])));
    this.by = logs.map((log, hand) => log.map((l) => Math.exp(Math.min(0, l - this.scale[hand]))));
    this.wheels = new Map();
  }

  /** The mean over teeth that are spread as `rho`. */
  mean(law, rho, hand) {
    let sum = 0;
    for (let i = 0; i < rho.length; i++) sum += rho[i] * this.by[hand][law.least + i];
    return sum;
  }
}

/** A place that was not counted says nothing of any teeth. */
const SILENT = HANDS.map(() => new Float64Array(GAP + 1).fill(1));

/**
 * What a place says of wheels of one name, for either hand by the teeth that the type has: where they
 * are as listed, a gap having ρ; where the wheel is changed, ρ without the type's, a gap excluding
 * nothing; and where nothing is known, `unknown`.
 */
function saysOf(model, place, name) {
  if (!place) return { listed: SILENT, changed: SILENT, unknown: [1, 1] };
  let found = place.wheels.get(name);
  if (!found) {
    const { law } = model, rho = model.rho.get(name);
    const unknown = HANDS.map((hand) => place.mean(law, rho, hand));
    const listed = place.by.map((by, hand) => {
      const all = new Float64Array(GAP + 1);
      all.set(by);
      all[GAP] = unknown[hand];
      return all;
    });
    const changed = HANDS.map((hand) => othersOf(law, rho, place.by[hand], unknown[hand]));
    found = { listed, changed, unknown };
    place.wheels.set(name, found);
  }
  return found;
}

/** For all teeth that are left out, the mean over ρ of the rest; summed, for a difference of two
 *  sums would lose what is small. */
function othersOf(law, rho, by, unknown) {
  const found = new Float64Array(GAP + 1).fill(unknown);
  const below = new Float64Array(rho.length + 1), above = new Float64Array(rho.length + 1);
  for (let i = 0; i < rho.length; i++) below[i + 1] = below[i] + rho[i] * by[law.least + i];
  for (let i = rho.length; i > 0; i--) above[i - 1] = above[i] + rho[i - 1] * by[law.least + i - 1];
  for (let i = 0; i < rho.length; i++) {
    found[law.least + i] = (below[i] + above[i + 1]) / (1 - rho[i]);
  }
  return found;
}

/** What a place says of wheel `w` of a new piece: with 0.25 as one of the family's counted sets has
 *  that wheel, where any gives it, else ρ. */
function ofNew(law, says, { teeth, shares }, hand) {
  if (!teeth.length) return says.unknown[hand];
  let sum = 0;
  for (let i = 0; i < teeth.length; i++) sum += shares[i] * says.listed[hand][teeth[i]];
  return law.asFamily * sum + (1 - law.asFamily) * says.unknown[hand];
}

/* ---- Marks and features ---- */

/** A mark as it is compared: letters and digits alone, small ones, and those of `kept`. */
export function markKey(text, kept = "") {
  return Array.from(text.normalize("NFKC"), (c) => Array.from(c.toUpperCase(),
    (one) => one.toLowerCase()).join("")).join("").replace(/./gsu,
    (c) => (/[\p{L}\p{N}]/u.test(c) || kept.includes(c) ? c : ""));
}

/** The fewest edits that make a reading fit a mark; `?` fits one character, `*` any run of them. */
function edits(reading, mark) {
  let row = [0, ...mark.map((_, j) => j + 1)];
  for (const c of reading) {
    if (c === LOST) {
      for (let j = 1; j < row.length; j++) row[j] = Math.min(row[j], row[j - 1]);
      continue;
    }
    const next = [row[0] + 1];
    mark.forEach((other, j) => {
      const same = row[j] + (c !== UNREAD && c !== other ? 1 : 0);
      next.push(Math.min(same, row[j + 1] + 1, next[j] + 1));
    });
    row = next;
  }
  return row[row.length - 1];
}

/** erfc, from its series and, further out, its continued fraction. */
function erfc(x) {
  if (x < 0) return 2 - erfc(-x);
  if (x < 2.5) {
    let term = x, sum = x;
    for (let n = 1; term > 1e-18 * sum; n++) sum += term *= 2 * x * x / (2 * n + 1);
    return 1 - 2 / Math.sqrt(Math.PI) * Math.exp(-x * x) * sum;
  }
  let below = x;
  for (let k = 60; k > 0; k--) below = x + k / 2 / below;
  return Math.exp(-x * x) / Math.sqrt(Math.PI) / below;
}

function normal(off, sd) {
  return Math.exp(-off * off / (2 * sd * sd)) / (sd * Math.sqrt(2 * Math.PI));
}

/** The likelihood of one look where the feature has `value`; of a size its density. */
function featureLaw(law, look, value, hand) {
  const kinds = law.kinds[look.feature];
  if (kinds) return look.value === value ? law.kindRight : (1 - law.kindRight) / (kinds.length - 1);
  if (law.counted.includes(look.feature)) {
    return countLaw(law, Math.abs(look.value - value), look.unsure ? law.unsure : law.q[hand]);
  }
  const least = look.feature.endsWith("_deg") ? law.sizeSd._deg : law.sizeSd._mm;
  const sd = Math.max(least, law.sizeShare * value) * (look.unsure ? law.unsureWider : 1);
  const off = look.value - value;
  let density = normal(off, sd);
  if (look.feature === law.wornFeature) {
    const both = Math.hypot(sd, law.wearMm);
    const worn = normal(off, both) * erfc(law.wearMm * off / (sd * both) / Math.SQRT2);
    density = (1 - law.worn) * density + law.worn * worn;
  }
  let slip = 1 / ((law.slipTo - law.slipFrom) * value);
  if (!(law.slipFrom * value <= look.value && look.value <= law.slipTo * value)) {
    slip *= law.slipBeyond;
  }
  return (1 - law.sizeSlip) * density + law.sizeSlip * slip;
}

/** All marks and features that were seen on one piece. */
class Looks {
  constructor(model, seen) {
    this.law = model.law;
    this.readings = seen.marks.map((mark) => Array.from(mark));
    const tied = new Map();
    for (const look of seen.features) {
      const key = `${look.place} ${look.feature}`;
      tied.set(key, [...(tied.get(key) ?? []), look]);
    }
    // Several looks at one feature are of one value: the mean of an unknown one is of their product.
    this.groups = [...tied.values()].map((group) => {
      const { place, feature } = group[0];
      const pool = model.values[place ? "wheel" : "piece"][feature] ?? [];
      const total = pool.reduce((sum, [, weight]) => sum + weight, 0);
      return { place, feature, group, unknown: HANDS.map((hand) => (pool.length
        ? logSum(pool.map(([value, weight]) => Math.log(weight) + this.of(group, value, hand)))
          - Math.log(total) : 0)) };
    });
    this.any = this.readings.length > 0 || this.groups.length > 0;
    const marks = this.readings.reduce((sum, reading) => sum + this.unknownMark(reading), 0);
    /** For each hand the logarithm where nothing is known of any of it. */
    this.elsewhere = HANDS.map((hand) => this.groups.reduce((s, g) => s + g.unknown[hand], marks));
  }

  of(group, value, hand) {
    return group.reduce((sum, look) =>
      sum + look.times * Math.log(featureLaw(this.law, look, value, hand)), 0);
  }

  legible(reading) {
    return reading.filter((c) => c !== UNREAD && c !== LOST).length;
  }

  unknownMark(reading) {
    return -this.legible(reading) * Math.log(this.law.characters);
  }

  /** 0.95·0.92^(n−e)·(0.08/36)^e + 0.05·36^−n, e the fewest edits to the nearest of the marks. */
  mark(reading, marks) {
    if (!marks.length) return this.unknownMark(reading);
    const { law } = this, n = this.legible(reading);
    const e = Math.min(n, ...marks.map(([, key]) => edits(reading, Array.from(key))));
    return Math.log(law.rightMark * law.readRight ** (n - e) * law.readWrong ** e
      + law.anyMark * law.characters ** -n);
  }

  /** What all of it is worth, for each hand, where the piece is of a type and lies that way. */
  listed(type, way) {
    const marks = this.readings.reduce((sum, reading) => sum + this.mark(reading, type.marks), 0);
    return HANDS.map((hand) => this.groups.reduce((sum, { place, feature, group, unknown }) => {
      const wheel = place ? way[place - 1] : type.teeth.length === 1 ? 0 : -1;
      const known = type.features.find(([w, name]) => w === wheel && name === feature);
      return sum + (known ? this.of(group, known[2], hand) : unknown[hand]);
    }, marks));
  }
}

/* ---- The piece ---- */

/** In a catalog of more types than this, those rarer than that are summed and not listed. */
const MANY = 1000, LEAST_OF_MANY = 1e-6;

/**
 * The exact posterior of a loose piece: the answers, falling, `uncatalogued` and the `steady` hand;
 * all answers and `uncatalogued` add up to 1.
 * @param {Seen} seen
 * @returns {{answers: Answer[], uncatalogued: number, steady: number, fits: boolean, parts: object}}
 */
export function posterior(model, seen) {
  const { law } = model;
  const places = seen.places.map((counts) => (counts.length ? new Place(model, counts) : null));
  const looks = new Looks(model, seen);
  const fitting = [], ways = new Map(), says = new Map();
  for (const [size, pieces] of model.bySize) {
    ways.set(size, waysOn(size, seen));
    if (!ways.get(size).length) continue;
    for (const piece of pieces) {
      if (seen.role === null || piece.name === seen.role) fitting.push(piece);
    }
  }
  // Commonness times the likelihood of the counts, for each hand by the number of a type.
  const weights = HANDS.map(() => new Float64Array(model.size));
  const logLooks = looks.any ? new Map() : null;
  let commonness = 0;
  for (const piece of fitting) {
    const lying = ways.get(piece.wheels.length);
    // Families of one arrangement have the same list of wheels.
    if (!says.has(piece.wheels)) {
      says.set(piece.wheels, lying.map((way) =>
        way.map((w, i) => saysOf(model, places[i], piece.wheels[w]))));
    }
    commonness += piece.commonness;
    weigh(law, looks, piece, lying, says.get(piece.wheels), weights, logLooks);
  }
  // What the counts were scaled by, what marks and features say, and how often each hand is.
  const scale = HANDS.map((hand) => Math.log(law.hands[hand])
    + places.reduce((sum, place) => sum + (place ? place.scale[hand] : 0), 0));
  const outside = HANDS.map((hand) => places.reduce((product, place) =>
    product * (place ? place.mean(law, model.pool, hand) : 1), 1));
  let top = Math.max(...HANDS.map((hand) => scale[hand] + looks.elsewhere[hand]));
  for (const logs of logLooks?.values() ?? []) {
    for (const hand of HANDS) top = Math.max(top, scale[hand] + logs[hand]);
  }
  const elsewhere = HANDS.map((hand) => Math.exp(scale[hand] + looks.elsewhere[hand] - top));
  const catalogued = (1 - law.uncatalogued) / commonness;
  const alone = fitting.length ? law.uncatalogued : 1;
  const unknown = HANDS.map((hand) => alone * elsewhere[hand]);
  /** What the weight of a type is worth, for a hand, beside that of all others. */
  const plain = elsewhere.map((share) => catalogued * share);
  const factor = (number, hand) => (logLooks?.has(number)
    ? catalogued * Math.exp(scale[hand] + logLooks.get(number)[hand] - top) : plain[hand]);
  let steady = unknown[STEADY] * outside[STEADY];
  let total = steady + unknown[HASTY] * outside[HASTY];
  const uncatalogued = total, shares = new Float64Array(model.size);
  for (const { first, types } of fitting) {
    for (let number = first; number <= first + types.length; number++) {
      const one = factor(number, STEADY) * weights[STEADY][number];
      shares[number] = one + factor(number, HASTY) * weights[HASTY][number];
      steady += one;
      total += shares[number];
    }
  }
  const least = model.size > MANY ? LEAST_OF_MANY * total : 0;
  const answers = [];
  for (const { family, number: piece, first, types } of fitting) {
    for (let t = 0; t <= types.length; t++) {
      if (shares[first + t] >= least) {
        answers.push({ family, piece, type: t < types.length ? t : null,
          probability: shares[first + t] / total });
      }
    }
  }
  return {
    answers: answers.sort((a, b) => b.probability - a.probability),
    uncatalogued: uncatalogued / total,
    steady: steady / total,
    fits: fitting.length > 0,
    parts: { places, looks, logLooks, ways, says, factor, unknown },
  };
}

/**
 * Put in the weight of every type of a piece and, last, of an unlisted one: over all ways that the
 * piece can lie. Where something was looked at, what it says of a listed type goes beside it.
 */
function weigh(law, looks, piece, ways, says, weights, logLooks) {
  const { types, first, has } = piece, n = piece.wheels.length, each = 1 / ways.length;
  for (const hand of HANDS) {
    let changes = 0, fresh = 0;
    for (let t = 0; t < types.length; t++) {
      const { codes, weight } = types[t];
      const look = logLooks && looksOf(looks, logLooks, first + t, types[t], ways);
      let listed = 0;
      for (let v = 0; v < ways.length; v++) {
        const way = ways[v];
        // The chance of the counts with no wheel changed, and summed over which one wheel is.
        let none = 1, one = n - way.length;
        for (let i = 0; i < way.length; i++) {
          const teeth = codes[way[i]], as = says[v][i].listed[hand][teeth];
          one = one * as + none * says[v][i].changed[hand][teeth];
          none *= as;
        }
        listed += look ? none * look[v][hand] : none;
        changes += weight * one / n;
      }
      weights[hand][first + t] = (1 - law.unlisted) * weight * each * listed;
    }
    for (let v = 0; v < ways.length; v++) {
      let product = piece.commonness;
      for (let i = 0; i < ways[v].length; i++) {
        product *= ofNew(law, says[v][i], has[ways[v][i]], hand);
      }
      fresh += product;
    }
    weights[hand][first + types.length] = law.unlisted * each
      * (law.changedShare * changes + (1 - law.changedShare) * fresh);
  }
}

/** What was looked at says of a type, for each way and hand, scaled by the logarithms kept. */
function looksOf(looks, logLooks, number, type, ways) {
  const logs = ways.map((way) => looks.listed(type, way));
  const most = HANDS.map((hand) => Math.max(...logs.map((log) => log[hand])));
  logLooks.set(number, most);
  return logs.map((log) => HANDS.map((hand) => Math.exp(log[hand] - most[hand])));
}

/* ---- What to count next ---- */

/** Answers rarer than this are left out, in a large catalog rarer ones; and those beyond so many. */
const TOO_RARE = 1e-12, TOO_RARE_OF_MANY = 1e-5, MOST_ANSWERS = 150;
/** From so many teeth off on a plain count is a slip: 0.06^12 is nothing beside it. */
const FAR_OFF = 12;

/** The expected fall of the answer's entropy, in bits, from one more plain count of a place. */
export function worthOf(model, found, at) {
  const least = model.size > MANY ? TOO_RARE_OF_MANY : TOO_RARE;
  const joints = [jointOutside(model, found, at)];
  for (const answer of found.answers.slice(0, MOST_ANSWERS)) {
    if (answer.probability > least) joints.push(jointOf(model, found, answer, at));
  }
  return expectedFall(joints.map(totalOf), joints.map((joint) => predicted(model.law, joint)));
}

/** The weight of each number of teeth at a place, for either hand, under one answer. */
function jointOf(model, found, answer, at) {
  const { law } = model, { places, looks, logLooks, factor } = found.parts;
  const piece = model.families[answer.family].pieces[answer.piece], n = piece.wheels.length;
  const ways = found.parts.ways.get(n), each = 1 / ways.length;
  const number = piece.first + (answer.type ?? piece.types.length);
  const joint = HANDS.map(() => new Float64Array(MOST_TEETH + 1));
  const types = answer.type === null ? piece.types : [piece.types[answer.type]];
  ways.forEach((way, v) => {
    const says = found.parts.says.get(piece.wheels)[v];
    const rho = model.rho.get(piece.wheels[way[at]]), has = piece.has[way[at]];
    for (const hand of HANDS) {
      const by = places[at]?.by[hand], teeth = joint[hand], whole = each * factor(number, hand);
      const put = (t, weight) => { teeth[t] += weight * (by ? by[t] : 1); };
      /** Teeth of which nothing is known but that they are not some. */
      const spread = (weight, not) => {
        const gone = rho[not - law.least] ?? 0;
        for (let i = 0; i < rho.length; i++) {
          if (law.least + i !== not) put(law.least + i, weight * rho[i] / (1 - gone));
        }
      };
      for (const type of types) {
        let none = 1, one = n - way.length;
        for (let i = 0; i < way.length; i++) {
          if (i === at) continue;
          const code = type.codes[way[i]];
          one = one * says[i].listed[hand][code] + none * says[i].changed[hand][code];
          none *= says[i].listed[hand][code];
        }
        const there = type.codes[way[at]], share = type.weight * whole;
        const asListed = (weight) => (there === GAP ? spread(weight, GAP) : put(there, weight));
        if (answer.type !== null) {
          const look = logLooks
            ? Math.exp(looks.listed(type, way)[hand] - logLooks.get(number)[hand]) : 1;
          asListed(share * (1 - law.unlisted) * look * none);
        } else {
          const changed = share * law.unlisted * law.changedShare / n;
          asListed(changed * one);
          spread(changed * none, there);
        }
      }
      if (answer.type === null) {
        let fresh = whole * law.unlisted * (1 - law.changedShare) * piece.commonness;
        for (let i = 0; i < way.length; i++) {
          if (i !== at) fresh *= ofNew(law, says[i], piece.has[way[i]], hand);
        }
        const asFamily = has.teeth.length ? law.asFamily : 0;
        has.teeth.forEach((t, i) => put(t, fresh * asFamily * has.shares[i]));
        spread(fresh * (1 - asFamily), GAP);
      }
    }
  });
  return joint;
}

/** The same of a piece of no family: every wheel from ρ over all wheels of the catalog together. */
function jointOutside(model, found, at) {
  const { places, unknown } = found.parts, { least } = model.law;
  return HANDS.map((hand) => {
    let rest = unknown[hand];
    places.forEach((place, i) => {
      if (place && i !== at) rest *= place.mean(model.law, model.pool, hand);
    });
    const joint = new Float64Array(MOST_TEETH + 1);
    model.pool.forEach((share, i) => {
      joint[least + i] = rest * share * (places[at] ? places[at].by[hand][least + i] : 1);
    });
    return joint;
  });
}

/** The weight of each plain count 4…200 under a joint. */
function predicted(law, joint) {
  const counts = MOST_TEETH - FEWEST_TEETH + 1;
  const found = new Float64Array(counts);
  for (const hand of HANDS) {
    const chance = Array.from({ length: FAR_OFF }, (_, off) => countLaw(law, off, law.q[hand]));
    const slip = law.slip / counts;
    let all = 0;
    joint[hand].forEach((weight, teeth) => {
      if (!weight) return;
      all += weight;
      const to = Math.min(MOST_TEETH, teeth + FAR_OFF - 1);
      for (let c = Math.max(FEWEST_TEETH, teeth - FAR_OFF + 1); c <= to; c++) {
        found[c - FEWEST_TEETH] += weight * (chance[Math.abs(c - teeth)] - slip);
      }
    });
    for (let c = 0; c < counts; c++) found[c] += all * slip;
  }
  return found;
}

function totalOf(joint) {
  let sum = 0;
  for (const spread of joint) for (const weight of spread) sum += weight;
  return sum;
}

/** How far the entropy of the answer falls on average, counts weighed by their chance. */
function expectedFall(weights, columns) {
  let mass = 0, after = 0;
  const shares = new Float64Array(columns.length);
  for (let c = 0; c < columns[0].length; c++) {
    let chance = 0;
    for (let a = 0; a < columns.length; a++) chance += shares[a] = columns[a][c];
    mass += chance;
    after += chance * entropy(shares);
  }
  return Math.max(0, entropy(weights) - after / mass);
}

/** The entropy in bits of weights that need not add up to 1. */
export function entropy(weights) {
  let total = 0, sum = 0;
  for (const weight of weights) total += weight;
  for (const weight of weights) {
    if (weight > 0) sum -= weight / total * Math.log2(weight / total);
  }
  return sum;
}
