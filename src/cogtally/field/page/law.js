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

/** ρ from catalogued counts with their weights ([teeth, weight] pairs), by teeth from `least` on. */
function rhoOf(law, pool) {
  const size = law.greatest - law.least + 1;
  const rho = new Float64Array(size).fill(1 / size);
  let total = 0;
  for (const [, weight] of pool) total += weight;
  if (!total) return rho;
  rho.fill(law.rhoUniform / size);
  for (const [teeth, weight] of pool) {
    const near = rho.map((_, i) => law.rhoSpread ** Math.abs(law.least + i - teeth));
    const sum = near.reduce((a, b) => a + b);
    for (let i = 0; i < size; i++) rho[i] += law.rhoNear * (weight / total) * (near[i] / sum);
  }
  return rho;
}

/** ρ without some teeth, the rest made to add up to 1 again. */
function without(law, rho, teeth) {
  const at = teeth - law.least;
  if (!(at >= 0 && at < rho.length)) return rho;
  const rest = 1 - rho[at];
  return rho.map((value, i) => (i === at ? 0 : value / rest));
}

/* ---- A catalog made ready ---- */

/** Every type with what is needed of it, ρ of every wheel's name, and what families have there. */
export function prepare(tables) {
  const { law } = tables;
  const rho = new Map();
  const families = tables.families.map((family) => {
    const plan = tables.plans[family.plan];
    const pieces = plan.pieces.map(([name, wheels], p) => {
      const types = (family.types[p] ?? []).map(([teeth, carriers, marks, features]) => ({
        teeth, carriers, marks: marks ?? [], features: features ?? [],
        weight: carriers.reduce((sum, c) => sum + family.sets[c][2], 0),
      }));
      // What the family's counted sets have for each wheel, gaps left out: [teeth, share] pairs.
      const has = wheels.map((_, w) => {
        const found = new Map();
        for (const type of types) {
          if (type.teeth[w] !== null) {
            found.set(type.teeth[w], (found.get(type.teeth[w]) ?? 0) + type.weight);
          }
        }
        const total = [...found.values()].reduce((a, b) => a + b, 0);
        return [...found].map(([teeth, weight]) => [teeth, weight / total]);
      });
      for (const wheel of wheels) {
        if (!rho.has(wheel)) rho.set(wheel, rhoOf(law, tables.rho[wheel] ?? []));
      }
      return { name, wheels, types, has };
    });
    return { ...family, pieces };
  });
  return { law, families, rho, pool: rhoOf(law, tables.rhoOfAll), values: tables.values };
}

/** Every way that what was seen fits on a piece of so many wheels: for each place, its wheel. */
export function waysOn(wheels, seen) {
  const length = seen.places.length;
  const ways = [];
  for (const backwards of [false, true]) {
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

/** What the counts of one place say of every number of teeth, for either hand, as logarithms. */
class Place {
  constructor(law, counts) {
    this.law = law;
    this.log = HANDS.map((hand) => {
      const log = new Float64Array(MOST_TEETH + 1);
      for (const { teeth, unsure, times } of counts) {
        const q = unsure ? law.unsure : law.q[hand];
        for (let t = 0; t <= MOST_TEETH; t++) {
          log[t] += times * Math.log(countLaw(law, Math.abs(teeth - t), q));
        }
      }
      return log;
    });
    this.known = new Map();
  }

  /** The mean over a spread of teeth that is kept under `key`, as a logarithm for each hand. */
  mean(key, spread) {
    let found = this.known.get(key);
    if (!found) {
      found = HANDS.map((hand) => {
        const logs = this.log[hand].subarray(this.law.least, this.law.greatest + 1);
        let top = -Infinity;
        for (let i = 0; i < logs.length; i++) if (spread[i] > 0 && logs[i] > top) top = logs[i];
        let sum = 0;
        for (let i = 0; i < logs.length; i++) {
          if (spread[i] > 0) sum += spread[i] * Math.exp(logs[i] - top);
        }
        return top + Math.log(sum);
      });
      this.known.set(key, found);
    }
    return found;
  }
}

/** What one place says of wheel `w` of a piece: listed with these teeth, changed, or new. */
class Wheel {
  constructor(model, place, piece, w) {
    Object.assign(this, { model, place, name: piece.wheels[w], has: piece.has[w] });
    this.rho = model.rho.get(this.name);
  }

  /** A listed wheel has its teeth; a gap of the catalog has ρ. */
  listed(teeth, hand) {
    if (!this.place) return 0;
    return teeth === null ? this.place.mean(this.name, this.rho)[hand] : this.place.log[hand][teeth];
  }

  /** A changed wheel has other teeth: ρ without the type's. A gap excludes nothing. */
  changed(teeth, hand) {
    if (!this.place) return 0;
    if (teeth === null) return this.place.mean(this.name, this.rho)[hand];
    const key = `${this.name} not ${teeth}`;
    return (this.place.known.get(key)
      ?? this.place.mean(key, without(this.model.law, this.rho, teeth)))[hand];
  }

  /** A wheel of a new piece: with 0.25 as one of the family's counted sets has it, else ρ. */
  fresh(hand) {
    if (!this.place) return 0;
    const { law } = this.model;
    const unknown = this.place.mean(this.name, this.rho)[hand];
    if (!this.has.length) return unknown;
    return logSum([
      Math.log(1 - law.asFamily) + unknown,
      ...this.has.map(([teeth, share]) =>
        Math.log(law.asFamily * share) + this.place.log[hand][teeth]),
    ]);
  }

  /** The teeth that it can have, with their share: of a listed, a changed and a new wheel. */
  spread(kind, teeth) {
    const { law } = this.model;
    if (kind === "listed" && teeth !== null) return [[teeth, 1]];
    const rho = kind === "changed" && teeth !== null ? without(law, this.rho, teeth) : this.rho;
    const asFamily = kind === "new" && this.has.length ? law.asFamily : 0;
    const found = Array.from(rho, (share, i) => [law.least + i, (1 - asFamily) * share]);
    if (asFamily) for (const [t, share] of this.has) found.push([t, asFamily * share]);
    return found;
  }
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

/**
 * The exact posterior of a loose piece: every answer, `uncatalogued` and the `steady` hand; they and
 * `uncatalogued` add up to 1.
 * @param {Seen} seen
 * @returns {{answers: Answer[], uncatalogued: number, steady: number, fits: boolean, parts: object}}
 */
export function posterior(model, seen) {
  const { law } = model;
  const places = seen.places.map((counts) => (counts.length ? new Place(law, counts) : null));
  const looks = new Looks(model, seen);
  const found = [];
  let commonness = 0;
  model.families.forEach((family, f) => family.pieces.forEach((piece, p) => {
    if (!piece.types.length || (seen.role !== null && piece.name !== seen.role)) return;
    const ways = waysOn(piece.wheels.length, seen);
    if (!ways.length) return;
    const wheels = ways.map((way) =>
      way.map((w, i) => new Wheel(model, places[i], piece, w)));
    found.push(...answersOf(law, looks, piece, ways, wheels).map((answer) =>
      ({ ...answer, family: f, piece: p, ways, wheels })));
    for (const type of piece.types) commonness += type.weight;
  }));
  const hands = law.hands.map(Math.log);
  const catalogued = Math.log((1 - law.uncatalogued) / commonness);
  for (const answer of found) {
    answer.logs = HANDS.map((hand) => hands[hand] + catalogued + answer.logs[hand]);
  }
  const alone = Math.log(found.length ? law.uncatalogued : 1);
  const outside = HANDS.map((hand) => places.reduce((sum, place) =>
    sum + (place ? place.mean("", model.pool)[hand] : 0),
  hands[hand] + alone + looks.elsewhere[hand]));
  const steady = logSum([outside[STEADY], ...found.map((a) => a.logs[STEADY])]);
  const total = logSum([steady, outside[HASTY], ...found.map((a) => a.logs[HASTY])]);
  for (const answer of found) answer.probability = Math.exp(logSum(answer.logs) - total);
  return {
    answers: [...found].sort((a, b) => b.probability - a.probability),
    uncatalogued: Math.exp(logSum(outside) - total),
    steady: Math.exp(steady - total),
    fits: found.length > 0,
    parts: { places, looks, outside, total, catalogued, hands },
  };
}

/** The weights of a piece's types and, last, of an unlisted one, for each hand; by commonness. */
function answersOf(law, looks, piece, ways, wheels) {
  const each = -Math.log(ways.length), n = piece.wheels.length;
  const unlisted = HANDS.map(() => []);
  const answers = piece.types.map((type, t) => {
    const share = Math.log(type.weight) + each;
    const listed = HANDS.map(() => []);
    ways.forEach((way, v) => {
      const look = looks.any ? looks.listed(type, way) : [0, 0];
      for (const hand of HANDS) {
        const logs = way.map((w, i) => wheels[v][i].listed(type.teeth[w], hand));
        const whole = logs.reduce((a, b) => a + b, 0);
        listed[hand].push(share + whole + look[hand]);
        // One wheel, any alike, has other teeth; one that was not seen, too.
        const changed = way.map((w, i) => whole - logs[i] + wheels[v][i].changed(type.teeth[w], hand));
        if (n > way.length) changed.push(Math.log(n - way.length) + whole);
        unlisted[hand].push(Math.log(law.changedShare / n) + share + logSum(changed));
      }
    });
    return { type: t, logs: listed.map((logs) => Math.log(1 - law.unlisted) + logSum(logs)) };
  });
  const weight = piece.types.reduce((sum, type) => sum + type.weight, 0);
  for (const hand of HANDS) {
    for (const places of wheels) {
      unlisted[hand].push(Math.log((1 - law.changedShare) * weight) + each
        + places.reduce((sum, wheel) => sum + wheel.fresh(hand), 0));
    }
  }
  return [...answers, { type: null, logs: HANDS.map((hand) =>
    Math.log(law.unlisted) + looks.elsewhere[hand] + logSum(unlisted[hand])) }];
}

/* ---- What to count next ---- */

/** Rarer answers than this, all together, are left out; so are those beyond so many. */
const TOO_RARE = 1e-12, MOST_ANSWERS = 400;

/** The expected fall of the answer's entropy, in bits, from one more plain count of each place. */
export function worth(model, seen, found) {
  const living = found.answers.filter((a) => a.probability > TOO_RARE).slice(0, MOST_ANSWERS);
  return seen.places.map((_, at) => {
    const joints = [...living.map((answer) => jointOf(model, found, answer, at)),
      jointOutside(model, found, at)];
    return expectedFall(joints.map(total), joints.map((joint) => predicted(model.law, joint)));
  });
}

/** The weight of each number of teeth at a place, for either hand, under one answer. */
function jointOf(model, found, answer, at) {
  const { law } = model, { parts } = found;
  const piece = model.families[answer.family].pieces[answer.piece];
  const n = piece.wheels.length, each = parts.catalogued - Math.log(answer.ways.length);
  const joint = HANDS.map(() => new Float64Array(MOST_TEETH + 1));
  const types = answer.type === null ? piece.types : [piece.types[answer.type]];
  answer.ways.forEach((way, v) => {
    const wheels = answer.wheels[v];
    for (const hand of HANDS) {
      const add = (log, kind, teeth) => spreadOn(joint[hand], parts, at, hand, log,
        wheels[at].spread(kind, teeth));
      for (const type of types) {
        const teeth = way.map((w) => type.teeth[w]);
        const logs = teeth.map((t, i) => (i === at ? 0 : wheels[i].listed(t, hand)));
        const others = logs.reduce((a, b) => a + b, 0);
        const share = parts.hands[hand] + each + Math.log(type.weight);
        if (answer.type !== null) {
          const look = parts.looks.any ? parts.looks.listed(type, way)[hand] : 0;
          add(share + Math.log(1 - law.unlisted) + look + others, "listed", teeth[at]);
          continue;
        }
        const one = share + Math.log(law.unlisted * law.changedShare / n)
          + parts.looks.elsewhere[hand];
        add(one + others, "changed", teeth[at]);
        const elsewhere = teeth.flatMap((t, i) =>
          (i === at ? [] : [others - logs[i] + wheels[i].changed(t, hand)]));
        if (n > way.length) elsewhere.push(Math.log(n - way.length) + others);
        if (elsewhere.length) add(one + logSum(elsewhere), "listed", teeth[at]);
        const fresh = wheels.reduce((sum, wheel, i) => sum + (i === at ? 0 : wheel.fresh(hand)), 0);
        add(share + Math.log(law.unlisted * (1 - law.changedShare)) + parts.looks.elsewhere[hand]
          + fresh, "new", null);
      }
    }
  });
  return joint;
}

/** The same of a piece of no family: every wheel from ρ over all wheels of the catalog together. */
function jointOutside(model, found, at) {
  const { parts } = found;
  const pool = Array.from(model.pool, (share, i) => [model.law.least + i, share]);
  return HANDS.map((hand) => {
    const place = parts.places[at];
    const rest = parts.outside[hand] - (place ? place.mean("", model.pool)[hand] : 0);
    return spreadOn(new Float64Array(MOST_TEETH + 1), parts, at, hand, rest, pool);
  });
}

/** Add teeth with their shares to a joint: each with what the counts of the place say of it. */
function spreadOn(joint, parts, at, hand, log, spread) {
  const place = parts.places[at];
  for (const [teeth, share] of spread) {
    if (share > 0) {
      joint[teeth] += share * Math.exp(log - parts.total + (place ? place.log[hand][teeth] : 0));
    }
  }
  return joint;
}

/** The weight of each plain count 4…200 under a joint. */
function predicted(law, joint) {
  const found = new Float64Array(MOST_TEETH - FEWEST_TEETH + 1);
  for (const hand of HANDS) {
    const chance = Float64Array.from({ length: MOST_TEETH + 1 }, (_, off) =>
      countLaw(law, off, law.q[hand]));
    joint[hand].forEach((weight, teeth) => {
      if (weight > 0) {
        for (let c = 0; c < found.length; c++) {
          found[c] += weight * chance[Math.abs(c + FEWEST_TEETH - teeth)];
        }
      }
    });
  }
  return found;
}

function total(joint) {
  return joint.reduce((all, spread) => spread.reduce((a, b) => a + b, all), 0);
}

/** How far the entropy of the answer falls on average, counts weighed by their chance. */
function expectedFall(weights, columns) {
  let mass = 0, after = 0;
  for (let c = 0; c < columns[0].length; c++) {
    const shares = columns.map((column) => column[c]);
    const chance = shares.reduce((a, b) => a + b, 0);
    mass += chance;
    after += chance * entropy(shares);
  }
  return Math.max(0, entropy(weights) - after / mass);
}

/** The entropy in bits of weights that need not add up to 1. */
export function entropy(weights) {
  const total = weights.reduce((a, b) => a + b, 0);
  return weights.reduce((sum, w) => (w > 0 ? sum - w / total * Math.log2(w / total) : sum), 0);
}
