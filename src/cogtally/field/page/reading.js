// Knows what a posterior comes to: which types count as one answer, what may be said of the leading
// one, where counts disagree with it, what it mates with and what parts the rest. The probabilities
// are left to the law, how it looks to the part "in the hand".
import { entropy, posterior, waysOn } from "./law.js";

/** From here on an answer is given. */
const SURE = 0.9;
/** Answers rarer than this are not worth telling apart, or worth a line. */
const LEAST = 0.005, LEAST_SHOWN = 0.0005;
/** From so many bits on a count is worth making. */
const SMALL_WORTH = 0.05;
/** What is measured parts two types from so much on. */
const LEAST_APART = { _mm: 0.2, _deg: 2 };
/** With more wheels off than these nothing is called more than very likely. */
const MOST_OFF = 2;
const MOST_SHOWN = 6, MOST_PARTINGS = 2;
/** So rare, or so many others being likelier, a type changes no digit that is shown. */
const TOO_RARE = 1e-5, MOST_GROUPED = 500;

const SCALE = [[0.999, "certain"], [0.97, "nearly certain"], [0.9, "very likely"], [0.7, "likely"],
  [0.5, "more likely than not"], [0.1, "possible"], [0.01, "unlikely"], [0, "very unlikely"]];

/** A probability in words, at most as strong as `most` allows. */
export function inWords(probability, most = 1) {
  return SCALE.find(([least]) => Math.min(probability, most) >= least)[1];
}

/** A probability in per cent; it never rounds to 0 or 100, nor across 90. */
export function perCent(probability) {
  if (probability < LEAST_SHOWN) return "under 0.1 %";
  if (probability >= 1 - LEAST_SHOWN) return "over 99.9 %";
  if (probability < 0.01 || probability >= 0.99) return `${(100 * probability).toFixed(1)} %`;
  if (probability >= 0.895 && probability < 0.9) {
    return `${(Math.floor(1000 * probability) / 10).toFixed(1)} %`;
  }
  return `${(100 * probability).toFixed(0)} %`;
}

export function teethText(teeth) {
  return teeth.map((t) => t ?? "_").join("-");
}

/** Words as one of which it is: `a, b or c`; those beyond `most` as a number. */
export function oneOf(words, most = 4) {
  const found = [...new Set(words)];
  const named = found.length > most
    ? [...found.slice(0, most - 1), `${found.length - most + 1} more`] : found;
  return named.length < 2 ? named.join("") : `${named.slice(0, -1).join(", ")} or ${named.at(-1)}`;
}

export function familyName(family) {
  return family.name || family.id;
}

export function setName(family, number) {
  const [id, name] = family.sets[number];
  return name || id;
}

/** The wishes that a type fulfils: the piece is that of the set which it is wanted for. */
export function wishesFor(app, group) {
  const sets = group.teeth ? setsOf(group).map((s) => group.family.sets[s][0]) : [];
  return (app.tables.wanted ?? []).filter((wish) => wish.family === group.family.id
    && wish.piece === group.piece.name && sets.includes(wish.set));
}

/**
 * The answers, the types of one piece that nothing seen parts taken together; falling. A group has
 * `teeth` null where it is an unlisted one; `near` then is the listed type that it is nearest to.
 */
function groupsOf(model, seen, found) {
  const groups = new Map();
  const looked = seen.marks.length || seen.features.length;
  for (const answer of found.answers.slice(0, MOST_GROUPED)) {
    if (answer.probability < TOO_RARE && groups.size) break;
    const family = model.families[answer.family], piece = family.pieces[answer.piece];
    const type = answer.type === null ? null : piece.types[answer.type];
    const level = type && looked
      ? Math.log(answer.probability / type.weight).toFixed(9) : "";
    const key = `${answer.family} ${answer.piece} ${type ? type.codes : "?"} ${level}`;
    const group = groups.get(key)
      ?? { family, piece, teeth: type && type.teeth, types: [], probability: 0 };
    group.probability += answer.probability;
    if (type) group.types.push({ type, probability: answer.probability });
    groups.set(key, group);
  }
  const all = [...groups.values()].sort((a, b) => b.probability - a.probability);
  for (const group of all.slice(0, MOST_SHOWN * 4)) lay(group, seen);
  return all;
}

/** Where on its type the counts of a group fit with the fewest teeth off, and where they are off. */
function lay(group, seen) {
  const types = group.teeth ? [group.teeth] : group.piece.types.map(({ teeth }) => teeth);
  let least = Infinity;
  for (const teeth of types) {
    for (const way of waysOn(group.piece.wheels.length, seen)) {
      const off = way.flatMap((w, i) => {
        const [count] = seen.places[i];
        return count && teeth[w] !== null && count.teeth !== teeth[w]
          ? [{ place: i + 1, counted: count.teeth, listed: teeth[w] }] : [];
      });
      const away = off.reduce((sum, o) => sum + Math.abs(o.counted - o.listed), 0);
      if (away < least) {
        least = away;
        Object.assign(group, { way, off, near: teeth });
      }
    }
  }
}

export function setsOf(group) {
  return [...new Set(group.types.flatMap(({ type }) => type.carriers))].sort((a, b) => a - b);
}

/** `laygear 28-24-19 of Alder four-speed, Wide ratio or Late`. */
export function groupText(group) {
  const family = familyName(group.family);
  if (!group.teeth) return `a ${group.piece.name} of ${family} that is not listed`;
  return `${group.piece.name} ${teethText(group.teeth)} of ${family}, `
    + oneOf(setsOf(group).map((s) => setName(group.family, s)));
}

/** What each wheel of a piece runs with: [wheel's place in the piece, mate, texts of its teeth]. */
export function matesOf(app, group) {
  const plan = app.tables.plans[group.family.plan];
  const teethOf = (wheel, set) => {
    for (const piece of group.family.pieces) {
      const at = piece.wheels.indexOf(wheel);
      if (at >= 0) return piece.types.find((t) => t.carriers.includes(set))?.teeth[at] ?? null;
    }
    return null;
  };
  return group.piece.wheels.flatMap((wheel, at) => {
    const mates = plan.meshes.filter((mesh) => mesh.includes(wheel))
      .map(([left, right]) => (left === wheel ? right : left));
    return [...new Set(mates)].map((mate) => {
      const by = new Map();
      for (const set of setsOf(group)) {
        const teeth = teethOf(mate, set) ?? "_";
        by.set(teeth, [...(by.get(teeth) ?? []), setName(group.family, set)]);
      }
      const texts = [...by].map(([teeth, sets]) =>
        (by.size > 1 ? `${teeth} (${oneOf(sets)})` : `${teeth}`));
      return { at, mate, text: `${mate} ${oneOf(texts)}` };
    });
  });
}

/** Everything that is to be said of a piece. */
export function verdictOf(model, seen) {
  if (!seen.places.some((counts) => counts.length)) {
    return { kind: "empty", groups: [], probability: 0, found: { fits: true } };
  }
  const found = posterior(model, seen);
  const groups = groupsOf(model, seen, found);
  const lead = groups[0];
  const reading = { groups, lead, found, kind: "undecided",
    probability: lead ? lead.probability : found.uncatalogued };
  if (!found.fits || found.uncatalogued >= SURE) {
    return { ...reading, kind: "uncatalogued", probability: found.uncatalogued };
  }
  const whole = found.answers.reduce((sum, a) => (model.families[a.family] === lead.family
    && lead.family.pieces[a.piece] === lead.piece ? sum + a.probability : sum), 0);
  if (lead.probability >= SURE) {
    if (!lead.teeth) return { ...reading, kind: "unlisted" };
    // A yes means yes: while one count disagrees, it is asked for again.
    return { ...reading, kind: lead.off.length ? "recount" : "type" };
  }
  return whole >= SURE ? { ...reading, kind: "piece", probability: whole } : reading;
}

/** The headline of a piece and what follows it, as sentences; how sure it is stands beside them. */
export function sentencesOf(seen, reading) {
  const { lead, kind, found } = reading;
  const all = (off) => oneOf(off.map((o) => String(o.place)), 9).replace(" or ", " and ");
  const differs = (off) => off.map((o) =>
    `place ${o.place}: counted ${o.counted}, listed ${o.listed}`).join("; ");
  switch (kind) {
    case "empty": return ["Nothing was counted yet."];
    case "uncatalogued": return found.fits ? ["Not in the catalog.", ...nearest(reading, differs)]
      : [`Not in the catalog: none of its pieces has ${seen.places.length
        + (seen.openStart ? 1 : 0) + (seen.openEnd ? 1 : 0)} wheels${
        seen.openStart || seen.openEnd ? " or more" : ""}.`,
      "Was a ring of dogs counted as a wheel, or a wheel passed over?"];
    case "type": return [`The ${groupText(lead)}.`, ...gaps(lead)];
    case "recount": return [
      `Count place${lead.off.length > 1 ? "s" : ""} ${all(lead.off)} again.`,
      `${upper(differs(lead.off))}. If that was a miscount: the ${groupText(lead)}.`];
    case "unlisted": return [`${upper(groupText(lead))}.`, ...nearest(reading, differs)];
    case "piece": return [`A ${lead.piece.name} of ${familyName(lead.family)}; which is not settled.`,
      `Most likely ${groupText(lead)}: ${perCent(lead.probability)}.`,
      ...(lead.teeth && lead.off.length ? [`Count again: ${differs(lead.off)}.`] : [])];
    default: {
      if (found.uncatalogued > lead.probability) {
        return ["Not settled; most likely not in the catalog.", ...nearest(reading, differs)];
      }
      return [`Not settled; most likely ${groupText(lead)}.`,
        ...(lead.teeth && lead.off.length ? [`Count again: ${differs(lead.off)}.`] : [])];
    }
  }
}

/** How sure the headline is, in words and per cent. */
export function surety(reading) {
  const { kind, lead, found } = reading;
  let probability = reading.probability;
  if (kind === "undecided" && lead && found.uncatalogued > lead.probability) {
    probability = found.uncatalogued;
  }
  const most = lead?.off?.length > MOST_OFF ? 0.9 : 1;
  return { probability, text: `${inWords(probability, most)}, ${perCent(probability)}` };
}

function upper(text) {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

function gaps(group) {
  const open = group.piece.wheels.filter((_, w) => group.teeth[w] === null);
  return open.length ? [`The catalog has no count of ${open.join(", ")} there.`] : [];
}

function nearest({ groups }, differs) {
  const listed = groups.find((g) => g.near && g.off);
  if (!listed) return [];
  const name = `${listed.piece.name} ${teethText(listed.near)} of ${familyName(listed.family)}`;
  return listed.off.length ? [`Nearest is the ${name}; it differs at ${differs(listed.off)}.`]
    : [`The ${name} has these teeth.`];
}

/** The lines below the headline: other answers, falling, and what is left. */
export function othersOf(reading) {
  const { groups, found, kind } = reading;
  const rows = (["type", "recount", "unlisted"].includes(kind) ? groups.slice(1) : groups)
    .map((group) => ({ group, probability: group.probability }));
  if (kind !== "uncatalogued") rows.push({ group: null, probability: found.uncatalogued });
  rows.sort((a, b) => b.probability - a.probability);
  const shown = rows.filter((row) => row.probability >= LEAST_SHOWN).slice(0, MOST_SHOWN);
  const left = rows.slice(shown.length).reduce((sum, row) => sum + row.probability, 0);
  return { shown, left: left >= LEAST_SHOWN ? left : 0 };
}

/* ---- What to look at next ---- */

/** The pieces that it can be, where saying which would help; empty where the role is known. */
export function rolesOf(seen, reading) {
  if (seen.role !== null || !["piece", "recount", "undecided"].includes(reading.kind)) return [];
  const names = reading.groups.filter((g) => g.probability >= LEAST).map((g) => g.piece.name);
  const found = [...new Set(names)];
  return found.length > 1 ? found.slice(0, 6) : [];
}

/** Which place to count next or again, in a sentence; `bits` are what a count of each is worth. */
export function nextCount(seen, reading, bits) {
  const at = bits.indexOf(Math.max(...bits));
  const off = reading.lead?.off ?? [];
  if (["recount", "piece", "undecided"].includes(reading.kind) && off.length && reading.lead.teeth) {
    return { at: off[0].place - 1, text: `Count place ${off[0].place} again.` };
  }
  if (bits[at] >= SMALL_WORTH) {
    const again = seen.places[at].length ? " again" : "";
    const told = new Map();
    for (const group of reading.groups) {
      const teeth = group.teeth && group.way && group.teeth[group.way[at]];
      if (teeth && group.probability >= LEAST && !told.has(teeth)) told.set(teeth, group);
    }
    const apart = told.size > 1 ? `: ${oneOf([...told].slice(0, 3).map(([t, g]) =>
      `${t} (${familyName(g.family)} ${g.piece.name})`))}` : "";
    return { at, text: `Count place ${at + 1}${again}${apart}.` };
  }
  if (reading.kind !== "type" && reading.found.steady < 0.5) {
    return { at: 0, text: "Count all of it again: the counts look hasty." };
  }
  if (seen.openStart || seen.openEnd) return { at: null, text: "Count a wheel further along." };
  return reading.kind === "type" ? null
    : { at: null, text: "No other count on it is worth much: look at the rest of it." };
}

/** The marks and features that part the likely types best: what, at which wheel, and the values. */
export function partingsOf(seen, reading) {
  // Where the teeth are settled, only types alike in teeth are left to be parted.
  const groups = reading.kind === "type" ? [reading.lead] : reading.groups;
  const members = groups.filter((g) => g.probability >= LEAST && g.way)
    .flatMap((group) => group.types.map(({ type, probability }) => ({ group, type, probability })));
  const known = new Map();
  const put = (what, place, member, value) => {
    const key = `${what} ${place}`;
    const entry = known.get(key) ?? { what, place, values: new Map() };
    entry.values.set(member, value);
    known.set(key, entry);
  };
  for (const member of members) {
    const { group, type } = member;
    if (type.marks.length) put("mark", 0, member, type.marks.map(([mark]) => mark).sort().join(", "));
    for (const [wheel, feature, value] of type.features) {
      const place = wheel < 0 || type.teeth.length === 1 ? 0 : group.way.indexOf(wheel) + 1;
      if (wheel >= 0 && type.teeth.length > 1 && !place) continue;
      put(feature, place, member, value);
    }
  }
  for (const entry of known.values()) measured(entry);
  const found = [];
  let classes = [members];
  while (found.length < MOST_PARTINGS) {
    let best = null, most = 0.05;
    for (const entry of known.values()) {
      const gain = classes.reduce((sum, some) => sum + gainOf(some, entry.values), 0);
      if (gain > most) [best, most] = [entry, gain];
    }
    if (!best) break;
    known.delete(`${best.what} ${best.place}`);
    found.push(best);
    classes = classes.flatMap((some) => [...parted(some, best.values)]);
  }
  return found.map(({ what, place, values }) => {
    const by = new Map();
    for (const [{ group, type }, value] of values) {
      const names = type.carriers.map((c) => `${familyName(group.family)}, ${setName(group.family, c)}`);
      by.set(value, [...(by.get(value) ?? []), ...names]);
    }
    return { what, place, values: [...by].map(([value, names]) => ({ value, of: oneOf(names, 2) })) };
  });
}

function parted(members, values) {
  const parts = new Map();
  for (const member of members) {
    const value = values.get(member);
    parts.set(value, [...(parts.get(value) ?? []), member]);
  }
  return parts.values();
}

/** Measures closer than can be told apart are taken as one, the least of them. */
function measured(entry) {
  const unit = Object.keys(LEAST_APART).find((end) => entry.what.endsWith(end));
  if (!unit) return;
  let first = null, last = null;
  const taken = new Map();
  for (const value of [...new Set(entry.values.values())].sort((a, b) => a - b)) {
    if (last === null || Number((value - last).toFixed(6)) >= LEAST_APART[unit]) first = value;
    taken.set(value, first);
    last = value;
  }
  for (const [member, value] of entry.values) entry.values.set(member, taken.get(value));
}

/** Bits, times their weight, from parting the members of which the value is known. */
function gainOf(members, values) {
  const sums = new Map();
  for (const member of members) {
    if (values.has(member)) {
      const value = values.get(member);
      sums.set(value, (sums.get(value) ?? 0) + member.probability);
    }
  }
  const weights = [...sums.values()];
  return weights.reduce((a, b) => a + b, 0) * entropy(weights);
}

/** A feature as a person calls it. */
export function featureName(feature) {
  return { od_mm: "outside diameter", mark: "mark" }[feature]
    ?? feature.replace(/_(mm|deg)$/, "").replaceAll("_", " ");
}

export function valueText(feature, value) {
  const unit = feature.endsWith("_mm") ? " mm" : feature.endsWith("_deg") ? "°" : "";
  return `${value}${unit}`;
}
