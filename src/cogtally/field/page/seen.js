// Knows how a loose piece is written down, `28 24u _ 14x2 ..`, and its marks and features; what they
// come to is left to the law. The words are those of the command line, so that a bag can be typed
// there again without a change.
import { FEWEST_TEETH, MOST_TEETH, markKey, posterior, worthOf } from "./law.js";

export const MOST_TIMES = 99;
/** No mark is compared by more letters and digits than this. */
export const LONGEST_READING = 40;
const OPEN = "..";

/** A piece of which nothing was seen yet. */
export function nothingSeen() {
  return { places: [], openStart: false, openEnd: false, role: null, marks: [], features: [] };
}

/** One count as it is written: `24`, `24u`, `24x3`; `_` where nothing was counted. */
export function countText(counts) {
  return counts.length
    ? counts.map(({ teeth, unsure, times }) =>
      `${teeth}${unsure ? "u" : ""}${times > 1 ? `x${times}` : ""}`).join("+")
    : "_";
}

/** The words of a piece, as the command line reads them. */
export function wordsOf(seen) {
  return [...(seen.openStart ? [OPEN] : []), ...seen.places.map(countText),
    ...(seen.openEnd ? [OPEN] : [])];
}

/** A piece from its words; null where one cannot be read. */
export function seenFrom(words) {
  const seen = nothingSeen();
  const inner = [...words];
  if (inner[0] === OPEN) seen.openStart = Boolean(inner.shift());
  if (inner[inner.length - 1] === OPEN) seen.openEnd = Boolean(inner.pop());
  for (const word of inner) {
    const read = /^(?:_|([0-9]{1,3})(u?)(?:x([0-9]{1,2}))?)$/.exec(word);
    if (!read) return null;
    const count = { teeth: Number(read[1]), unsure: read[2] === "u", times: Number(read[3] ?? 1) };
    if (word !== "_" && !isTeeth(count.teeth)) return null;
    seen.places.push(word === "_" ? [] : [count]);
  }
  return seen;
}

export function isTeeth(teeth) {
  return Number.isInteger(teeth) && teeth >= FEWEST_TEETH && teeth <= MOST_TEETH;
}

/** The reading of a mark as it is compared; empty where it has no letter or digit. */
export function readingOf(text) {
  return markKey(text, "?*").replace(/\*+/g, "*");
}

/** A feature from its words, `splines=10`, `2.hand=left`; null where it cannot be read. */
export function lookFrom(text, law) {
  const read = /^\s*(?:([1-9][0-9]?)\.)?([a-z_]+)\s*=\s*(.+?)\s*$/i.exec(text);
  if (!read) return null;
  const feature = read[2].toLowerCase(), typed = read[3].toLowerCase();
  const look = { place: Number(read[1] ?? 0), feature, value: typed, unsure: false, times: 1 };
  const kinds = law.kinds[feature];
  if (kinds) return kinds.includes(typed) ? look : null;
  const isCounted = law.counted.includes(feature);
  if (!isCounted && !law.sized.includes(feature)) return null;
  const number = (isCounted ? /^([0-9]{1,6})(u?)(?:x([0-9]{1,2}))?$/
    : /^((?:[0-9]{1,8}(?:[.,][0-9]{1,8})?|[.,][0-9]{1,8}))(u?)(?:x([0-9]{1,2}))?$/).exec(typed);
  if (!number) return null;
  const value = Number(number[1].replace(",", ".")), times = Number(number[3] ?? 1);
  const most = isCounted ? 200 : feature.endsWith("_deg") ? 90 : 10000;
  if (!(value > 0 && value <= most && times >= 1)) return null;
  return { ...look, value, unsure: number[2] === "u", times };
}

/** A feature as the command line reads it. */
export function lookText({ place, feature, value, unsure, times }) {
  return `${place ? `${place}.` : ""}${feature}=${value}${unsure ? "u" : ""}`
    + `${times > 1 ? `x${times}` : ""}`;
}

/** Answers rarer than this are not listed. */
const LEAST_LISTED = 1e-6;

/** A piece with all that was seen of it, from the words of the command line. */
export function seenWith(law, { counts, role = null, marks = [], features = [] }) {
  return { ...seenFrom(counts), role, marks: marks.map(readingOf),
    features: features.map((text) => lookFrom(text, law)) };
}

/** What `cogtally piece --json` says of a piece given in its words. */
export function answerJson(model, words) {
  const seen = seenWith(model.law, words);
  const found = posterior(model, seen);
  return {
    answers: found.answers.filter((a) => a.probability >= LEAST_LISTED).map((answer) => {
      const family = model.families[answer.family], piece = family.pieces[answer.piece];
      const type = answer.type === null ? null : piece.types[answer.type];
      return { family: family.id, piece: piece.name, type: type && type.teeth,
        sets: type ? type.carriers.map((c) => family.sets[c][0]) : [],
        probability: answer.probability };
    }),
    uncatalogued: found.uncatalogued,
    hands: { steady: found.steady, hasty: 1 - found.steady },
    next: seen.places.map((_, i) => ({ position: i + 1, bits: worthOf(model, found, i) })),
  };
}
