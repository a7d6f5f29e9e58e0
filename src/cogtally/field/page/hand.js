// Knows the part "in the hand": keys to type counts with, and what the piece then is, said anew at
// each key. The probabilities are left to the law, what may be said of them to the reading.
import { worthOf } from "./law.js";
import { LONGEST_READING, MOST_TIMES, isTeeth, lookFrom, lookText, nothingSeen,
  readingOf } from "./seen.js";
import { button, choice, el, field, fill, said, timeText } from "./dom.js";
import { familyName, featureName, groupText, matesOf, nextCount, othersOf, partingsOf, perCent,
  rolesOf, sentencesOf, setName, setsOf, surety, valueText, verdictOf, wishesFor } from "./reading.js";

/** What to count next is worked out when the keys have been still for so long. */
const STILL_MS = 60;
const UNDO_KEPT = 100;

export class Hand {
  constructor(app) {
    this.app = app;
    this.start();
    const draft = app.store.draft();
    if (draft) this.restore(draft);
    app.store.twin = () => {
      this.keep();
      if (app.bag.thing) app.store.keepForm(app.bag.thing);
    };
  }

  /** An empty hand. `places` hold a count each, `_` for a wheel not seen, null for one not typed yet;
   *  `at` is the place that is typed. */
  start() {
    Object.assign(this, { places: [null], at: 0, typed: "", seen: nothingSeen(), marks: [],
      done: [] });
  }

  /* ---- What is in the hand ---- */

  /** Whether a last wheel was asked for and not typed yet: there is one more, of unknown teeth. */
  get isGoingOn() {
    return this.places.length > 1 && this.places.at(-1) === null;
  }

  /** The piece as it was seen, what is being typed included. */
  get piece() {
    const places = this.places.map((count) => (count?.teeth ? [count] : []));
    if (this.isGoingOn) places.pop();
    const openEnd = this.seen.openEnd || this.isGoingOn;
    return { ...this.seen, places, openEnd, marks: this.marks.map(readingOf) };
  }

  get isEmpty() {
    return this.places.every((count) => !count) && !this.marks.length && !this.typed
      && !this.seen.features.length && this.places.length === 1;
  }

  snapshot() {
    return JSON.stringify({ places: this.places, at: this.at, typed: this.typed, marks: this.marks,
      seen: { ...this.seen, places: [] } });
  }

  restore(text) {
    try {
      const { places, at, typed, marks, seen } = typeof text === "string" ? JSON.parse(text) : text;
      Object.assign(this, { places, at, typed, marks, seen: { ...nothingSeen(), ...seen } });
    } catch {
      this.start();
    }
  }

  /** Change what is in the hand; the step can be taken back. */
  change(step) {
    const before = this.snapshot();
    step();
    if (this.snapshot() === before) return;
    this.done = [...this.done, before].slice(-UNDO_KEPT);
    this.keep();
    this.show();
  }

  keep() {
    this.app.store.keepDraft(this.isEmpty ? null
      : { ...JSON.parse(this.snapshot()), when: new Date().toISOString() });
  }

  /** Put a whole count into the place that is typed, as from the counting aid. */
  put(teeth) {
    this.change(() => {
      this.places[this.at] = { teeth, unsure: false, times: 1 };
      this.typed = "";
    });
  }

  /* ---- The keys ---- */

  digit(digit) {
    const typed = this.typed + digit;
    if (Number(typed) > 200 || typed === "0") {
      this.app.tell("A wheel has 4 to 200 teeth.");
      return;
    }
    const before = this.typed ? null : this.places[this.at];
    if (before?.teeth) this.app.tell(`Typed in place of ${before.teeth}; Undo brings that back.`);
    this.change(() => {
      this.typed = typed;
      const teeth = Number(typed);
      this.places[this.at] = isTeeth(teeth) ? { teeth, unsure: false, times: 1 } : null;
    });
  }

  erase() {
    this.change(() => {
      if (this.typed) {
        this.typed = this.typed.slice(0, -1);
        const teeth = Number(this.typed);
        this.places[this.at] = isTeeth(teeth) ? { teeth, unsure: false, times: 1 } : null;
      } else if (this.places[this.at]) this.places[this.at] = null;
      else if (this.places.length > 1) {
        this.places.splice(this.at, 1);
        this.at = Math.max(0, this.at - 1);
        this.seen.features = this.seen.features.filter((f) => f.place <= this.places.length);
      }
    });
  }

  next() {
    if (!this.places[this.at]) {
      this.app.tell(this.typed ? "A wheel has 4 to 200 teeth." : "Type its teeth, or: not seen.");
      return;
    }
    this.change(() => {
      this.typed = "";
      if (this.at === this.places.length - 1) this.places.push(null);
      this.at += 1;
    });
  }

  notSeen() {
    this.change(() => {
      this.places[this.at] = "_";
      this.typed = "";
      if (this.at === this.places.length - 1) this.places.push(null);
      this.at += 1;
    });
  }

  unsure() {
    const count = this.places[this.at];
    if (!count?.teeth) this.app.tell("Type the count first, then say that you are unsure of it.");
    else this.change(() => { this.places[this.at] = { ...count, unsure: !count.unsure }; });
  }

  again() {
    const count = this.places[this.at];
    if (!count?.teeth) this.app.tell("Type the count first, then say that you got the same again.");
    else if (count.times < MOST_TIMES) {
      this.change(() => { this.places[this.at] = { ...count, times: count.times + 1 }; });
    }
  }

  undo() {
    const before = this.done.pop();
    if (before === undefined) return;
    this.restore(before);
    this.keep();
    this.show();
  }

  key(event) {
    const keys = { Enter: () => this.next(), Backspace: () => this.erase(), u: () => this.unsure(),
      _: () => this.notSeen(), x: () => this.again(), z: () => this.undo() };
    if (/^[0-9]$/.test(event.key)) this.digit(event.key);
    else if (keys[event.key]) keys[event.key]();
    else return false;
    return true;
  }

  /* ---- The screen ---- */

  open(root) {
    this.root = root;
    this.strip = el("div", { class: "strip", role: "group", "aria-label": "Counts along the axis" });
    this.answer = el("section", { class: "answer", "aria-label": "What it is", tabindex: "0" });
    this.live = el("p", { class: "hidden", role: "status" });
    const key = (text, press, attributes = {}) => button(text, press,
      { class: "key", "data-name": `key ${text}`, ...attributes });
    const digit = (d) => key(d, () => this.digit(d), { class: "key digit" });
    const pad = el("div", { class: "pad", role: "group", "aria-label": "Keys" },
      digit("7"), digit("8"), digit("9"),
      key("\u232b", () => this.erase(), { "aria-label": "Erase" }),
      digit("4"), digit("5"), digit("6"), key("unsure", () => this.unsure()),
      digit("1"), digit("2"), digit("3"), key("same again", () => this.again()),
      key("not seen", () => this.notSeen()), digit("0"),
      key("next wheel", () => this.next(), { class: "key next" }));
    fill(root, el("div", { class: "hand" },
      el("h1", { class: "hidden" }, "In the hand"),
      el("div", { class: "seen" }, this.strip, this.live, this.answer), pad));
    this.show();
  }

  show() {
    if (!this.root?.isConnected) return;
    const piece = this.piece, reading = verdictOf(this.app.model, piece);
    this.showStrip(reading);
    this.showAnswer(piece, reading);
  }

  showStrip({ lead, kind }) {
    const off = new Set(kind !== "uncatalogued" && lead?.teeth ? lead.off?.map((o) => o.place - 1) : []);
    const piece = this.piece;
    const end = (name, label) => button(piece[name] ? "more \u2026" : "end", () =>
      this.change(() => {
        if (name === "openEnd" && this.isGoingOn) {
          this.places.pop();
          this.at = Math.min(this.at, this.places.length - 1);
        }
        this.seen = { ...this.seen, [name]: !piece[name] };
      }),
    { class: "end", "data-name": name,
      "aria-label": `${piece[name] ? "more \u2026 wheels" : "end of the piece"}, ${label}` });
    fill(this.strip, end("openStart", "before the first wheel"),
      this.places.map((count, i) => {
        const typed = i === this.at && this.typed && !count ? this.typed : null;
        const text = typed ?? (count?.teeth
          ? `${count.teeth}${count.unsure ? "?" : ""}${count.times > 1 ? ` \u00d7${count.times}` : ""}`
          : count ?? "\u2026");
        const words = count?.teeth ? ` teeth${count.unsure ? ", unsure" : ""}${
          off.has(i) ? ", differs" : ""}` : ", not counted";
        return button([el("span", { class: "hidden" }, "place "), el("small", {}, `${i + 1} `),
          el("b", {}, text), el("span", { class: "hidden" }, words)],
        () => this.change(() => { this.at = i; this.typed = ""; }),
        { class: `place${off.has(i) ? " off" : ""}`, "data-name": `place ${i}`,
          "aria-current": i === this.at ? "true" : false });
      }), end("openEnd", "after the last wheel"));
    this.strip.querySelector('[aria-current="true"]')?.scrollIntoView?.({ block: "nearest" });
  }

  showAnswer(piece, reading) {
    const sentences = sentencesOf(piece, reading);
    const sure = surety(reading);
    const isAnswer = reading.kind !== "empty";
    const wishes = reading.lead && ["type", "recount"].includes(reading.kind)
      ? wishesFor(this.app, reading.lead) : [];
    clearTimeout(this.timer);
    const advice = el("div", { class: "advice" });
    fill(this.answer,
      this.app.demoLine(),
      isAnswer && el("h2", { class: reading.kind }, said(sentences[0])),
      isAnswer && reading.found.fits && reading.kind !== "recount"
        && el("p", { class: "sure" }, sure.text),
      isAnswer ? sentences.slice(1).map((text, i) => el("p", {}, said(text),
        i === 0 && reading.kind === "recount" && el("b", { class: "sure" }, ` ${sure.text}`)))
        : el("p", {}, "Count the teeth of each wheel along the axis, from either end, and type them."),
      wishes.map((wish) => el("p", { class: "wanted" }, "Wanted for ", said(this.app.wishText(wish)))),
      advice,
      reading.kind !== "empty" && this.table(reading),
      this.others(reading),
      this.looks(piece),
      el("div", { class: "row" },
        button("Put in the bag", () => this.app.bag.fromHand(piece, this.marks, sentences[0], sure.text),
          { class: "strong", disabled: !isAnswer }),
        button("Undo", () => this.undo(), { "data-name": "undo", disabled: !this.done.length }),
        button("Clear", () => this.change(() => {
          const { done } = this;
          this.start();
          this.done = done;
        }), { "data-name": "clear", disabled: this.isEmpty })),
      this.left(),
      el("p", { class: "caution" }, this.app.tables.caution));
    this.timer = setTimeout(() => {
      this.live.textContent = isAnswer ? `${sentences[0]} ${reading.found.fits ? sure.text : ""}` : "";
      if (isAnswer) this.advise(advice, piece, reading);
    }, STILL_MS);
  }

  /** What to count, say or look at next: what a tap on it takes is taken for seen. Between two
   *  places the keys have their turn. */
  advise(place, piece, reading, bits = []) {
    if (!reading.found.fits) return;
    if (bits.length < piece.places.length) {
      bits.push(worthOf(this.app.model, reading.found, bits.length));
      this.timer = setTimeout(() => this.advise(place, piece, reading, bits));
      return;
    }
    const next = nextCount(piece, reading, bits);
    const roles = rolesOf(piece, reading);
    fill(place,
      next && el("p", {}, el("b", {}, "Next: "), said(next.text), next.at === null ? null
        : button(`to place ${next.at + 1}`, () => this.change(() => {
          this.at = next.at;
          this.typed = "";
        }), { "data-name": "to place" })),
      roles.length > 1 && el("p", {}, "If you know what it is: ", roles.map((role) =>
        button(said(role), () => this.change(() => { this.seen = { ...this.seen, role }; }),
          { "data-name": `role ${role}` }))),
      partingsOf(piece, reading).map((parting) => this.parting(parting)));
  }

  parting({ what, place, values }) {
    const where = place ? ` of the wheel at place ${place}` : "";
    const take = (value) => this.change(() => {
      if (what === "mark") this.marks = [...this.marks, value.split(", ")[0]];
      else {
        this.seen = { ...this.seen, features: [...this.seen.features,
          { place, feature: what, value, unsure: false, times: 1 }] };
      }
    });
    return el("div", {}, el("p", {}, `Look at the ${featureName(what)}${where}. It is:`),
      values.slice(0, 6).map(({ value, of }) => button(
        [el("b", {}, said(valueText(what, value))), " ", el("small", {}, said(of))],
        () => take(value), { "data-name": `${what} ${value}` })));
  }

  /** Each wheel of the piece: what was counted, what is listed, what it runs with. */
  table({ lead, kind, found }) {
    if (!lead?.teeth || !lead.way || kind === "uncatalogued"
      || (kind === "undecided" && found.uncatalogued > lead.probability)) return null;
    const order = lead.piece.wheels.map((_, w) => w);
    if (lead.way.length > 1 && lead.way[0] > lead.way[1]) order.reverse();
    const mates = matesOf(this.app, lead);
    const rows = order.map((w) => {
      const at = lead.way.indexOf(w), count = at < 0 || !this.places[at]?.teeth ? null : this.places[at];
      const off = lead.off.some((o) => o.place === at + 1);
      return el("tr", { class: off ? "off" : false },
        el("td", {}, at < 0 ? "" : String(at + 1)), el("th", { scope: "row" }, said(lead.piece.wheels[w])),
        el("td", {}, count ? `${count.teeth}${off ? " \u2260" : ""}` : "\u2013"),
        el("td", {}, lead.teeth[w] === null ? "_" : String(lead.teeth[w])),
        el("td", {}, mates.filter((mate) => mate.at === w).map((mate) => el("div", {}, said(mate.text)))));
    });
    return el("table", {}, el("caption", {}, said(`${lead.piece.name} of ${familyName(lead.family)}: `
      + setsOf(lead).map((s) => setName(lead.family, s)).join(", "))),
    el("thead", {}, el("tr", {}, ["at", "wheel", "counted", "listed", "runs with"].map((head) =>
      el("th", { scope: "col" }, head)))), el("tbody", {}, rows));
  }

  others(reading) {
    if (reading.kind === "empty" || !reading.found.fits) return null;
    const { shown, left } = othersOf(reading);
    if (!shown.length) return el("p", {}, "No other answer comes to 0.1 %.");
    const isSaid = ["type", "recount", "unlisted", "uncatalogued"].includes(reading.kind);
    return [el("h3", {}, isSaid ? "Other answers" : "What it may be"), el("ul", { class: "others" },
      shown.map(({ group, probability }) => el("li", {}, el("b", {}, perCent(probability)), " ",
        said(group ? groupText(group) : "not in the catalog"),
        group?.teeth && group.off?.length > 0 && el("small", {}, ` (has ${group.off.map((o) =>
          `${o.listed} at place ${o.place}`).join(", ")})`),
        group && wishesFor(this.app, group).length > 0 && el("b", {}, " wanted"))),
      left > 0 && el("li", {}, el("b", {}, perCent(left)), " others"))];
  }

  /** What else was seen: the role, marks, features; and fields to add more. */
  looks(piece) {
    const { tables, model } = this.app;
    const roles = [...new Set(tables.plans.flatMap((plan) => plan.pieces.map(([name]) => name)))];
    const mark = field("Mark, as far as it can be read",
      { maxlength: 80, "data-name": "mark", enterkeyhint: "done" },
      "? for a letter that cannot be read, * for any number");
    const value = field("What it is", { maxlength: 20, "data-name": "value", enterkeyhint: "done",
      autocapitalize: "none" }, "a number, with u where unsure; or a word");
    let { feature = tables.law.counted[0], place = 0 } = this.asked ?? {};
    const asked = () => { this.asked = { feature, place }; };
    const addMark = () => {
      const text = mark.input.value.replaceAll(";", " ").trim();
      const letters = Array.from(readingOf(text)).length;
      if (!letters || letters > LONGEST_READING) {
        this.app.tell(letters ? `A mark has at most ${LONGEST_READING} letters and digits.`
          : "The mark has no letter or digit.");
      } else this.change(() => { this.marks = [...this.marks, text]; });
    };
    const addFeature = () => {
      const found = lookFrom(`${place ? `${place}.` : ""}${feature}=${value.input.value}`, model.law);
      if (!found) {
        const kinds = tables.law.kinds[feature];
        this.app.tell(kinds ? `Write one of ${kinds.join(", ")}.`
          : "Write a number above 0, for example 10 or 19.05, with u where unsure.");
      } else this.change(() => {
        this.seen = { ...this.seen, features: [...this.seen.features, found] };
      });
    };
    const features = [...tables.law.counted, ...tables.law.sized, ...Object.keys(tables.law.kinds)];
    const taken = [
      piece.role !== null && [`it is a ${piece.role}`, () => { this.seen = { ...this.seen, role: null }; }],
      ...this.marks.map((text, i) => [`mark ${text}`,
        () => { this.marks = this.marks.filter((_, j) => j !== i); }]),
      ...piece.features.map((look, i) => [lookText(look), () => {
        this.seen = { ...this.seen, features: piece.features.filter((_, j) => j !== i) };
      }]),
    ].filter(Boolean);
    return [
      taken.length > 0 && el("ul", { class: "taken", "aria-label": "Also seen" }, taken.map(([text, drop]) =>
        el("li", {}, said(text), button("\u00d7", () => this.change(drop),
          { "aria-label": `Take back: ${text}`, "data-name": `drop ${text}` })))),
      el("details", { open: this.more ? "" : false, toggle: (e) => { this.more = e.target.open; } },
        el("summary", { "data-name": "more" }, "Mark, splines, bore, hand, which piece \u2026"),
        choice("What piece it is", [["", "not known"], ...roles.map((r) => [r, r])], piece.role ?? "",
          (role) => this.change(() => { this.seen = { ...this.seen, role: role || null }; })),
        el("form", { submit: (e) => { e.preventDefault(); addMark(); } }, mark.row,
          el("button", { "data-name": "add mark" }, "Add the mark")),
        el("form", { submit: (e) => { e.preventDefault(); addFeature(); } },
          choice("Feature", features.map((f) => [f, `${featureName(f)}${f.endsWith("_mm") ? ", mm"
            : f.endsWith("_deg") ? ", degrees" : ""}`]), feature, (f) => { feature = f; asked(); }),
          choice("Of", [["0", "the piece"], ...this.places.map((_, i) => [String(i + 1),
            `the wheel at place ${i + 1}`])], String(place), (p) => { place = Number(p); asked(); }),
          value.row, el("button", { "data-name": "add feature" }, "Add the feature")))];
  }

  /** What other windows, or one that was closed, left in their hands. */
  left() {
    if (!this.isEmpty) return null;
    return this.app.store.leftElsewhere().slice(0, 3).map(({ key, draft }) => {
      const drop = () => { this.app.store.remove(key); this.show(); };
      const counts = (draft.places ?? []).map((c) => c?.teeth ?? "_").join(" ");
      return el("div", { class: "note" }, el("p", {}, "Left in the hand of another window, ",
        timeText(draft.when), ": ", el("b", {}, counts || "no count")),
      button("Take it", () => { this.change(() => this.restore(draft)); drop(); }),
      button("Drop it", drop));
    });
  }
}

