// Knows how a family's key is followed, step by step: which wheel to count, and what is left after
// each count. How the key came about was left to Python: it is that of `cogtally catalog apart`.
import { button, el, field, fill, said } from "./dom.js";
import { familyName, oneOf, setName } from "./reading.js";

const MOST_NAMED = 12;

export class Key {
  constructor(app) {
    this.app = app;
    this.families = app.model.families.filter((family) => family.sets.length);
    const kept = app.store.last("key") || {};
    this.family = this.families.find((family) => family.id === kept.family) ?? null;
    this.steps = this.family && Array.isArray(kept.steps) ? kept.steps : [];
    this.asked = "";
  }

  keep() {
    this.app.store.keepLast("key", { family: this.family?.id, steps: this.steps });
    this.show();
  }

  /** Where the steps lead: the node to ask next, or the sets that are left; and what was counted. */
  walk() {
    const { key } = this.family;
    let node = 0;
    const told = [];
    for (const step of this.steps) {
      const [wheel, branches] = key[node];
      const branch = branches[step];
      if (!branch) break;
      told.push([wheel, branch[0]]);
      if (Array.isArray(branch[1])) return { told, sets: branch[1] };
      [, node] = branch;
    }
    return { told, node };
  }

  open(root) {
    this.root = root;
    this.show();
  }

  show() {
    fill(this.root, el("div", { class: "page", tabindex: "0" }, el("h1", {}, "Key"), this.app.demoLine(),
      this.family ? this.asking() : this.choosing()));
  }

  choosing() {
    const name = field("Family", { type: "search", value: this.asked, "data-name": "family",
      input: () => { this.asked = name.input.value; list(); } });
    const found = el("div", { class: "choices" });
    const list = () => {
      const words = this.asked.toLowerCase().split(/\s+/).filter(Boolean);
      const fitting = this.families.filter((family) =>
        words.every((word) => `${family.id} ${familyName(family)}`.toLowerCase().includes(word)));
      fill(found, fitting.slice(0, MOST_NAMED).map((family) =>
        button([said(familyName(family)), " ", el("small", {}, `${family.sets.length} sets`)], () => {
          this.family = family;
          this.steps = [];
          this.keep();
        }, { "data-name": family.id })),
      fitting.length > MOST_NAMED && el("p", {}, `${fitting.length - MOST_NAMED} more: write more of `
        + "the name."),
      !fitting.length && el("p", {}, "No family of this catalog is called that."));
    };
    list();
    return [el("p", {}, "Which family is the box? The key then says what to count first, and what "
      + "next after each count."), this.families.length > MOST_NAMED && name.row, found];
  }

  asking() {
    const { family } = this;
    const head = [el("h2", {}, said(familyName(family))),
      el("div", { class: "row" }, button("Other family", () => {
        this.family = null;
        this.steps = [];
        this.keep();
      }, { "data-name": "other family" }), button("One step back", () => {
        this.steps = this.steps.slice(0, -1);
        this.keep();
      }, { "data-name": "one step back", disabled: !this.steps.length }))];
    if (family.sets.length === 1) {
      return [head, el("p", {}, "It has one set: ", said(setName(family, 0)), ". Nothing is to be parted.")];
    }
    if (!family.key) {
      return [head, el("p", {}, "It has too many sets for a key on a telephone: count the pieces in the "
        + "hand, or ask 'cogtally catalog apart' at home.")];
    }
    if (!family.key.length) {
      return [head, el("p", {}, "No count parts its sets: ", said(oneOf(family.sets.map((_, s) =>
        setName(family, s)), 9)), ".")];
    }
    const { told, node, sets } = this.walk();
    const path = told.length > 0 && el("ol", {}, told.map(([wheel, teeth]) =>
      el("li", {}, said(wheel), ": ", teeth === null ? "another count" : String(teeth))));
    if (sets) {
      const names = sets.map((s) => el("li", {}, said(setName(family, s))));
      return [head, path, el("p", { role: "status" }, sets.length > 1 ? "No count parts these:"
        : "By the key it is:"), el("ul", {}, names),
      el("p", {}, "A key takes every count for right, and the box for one of its sets. Count the other "
        + "wheels to be sure.")];
    }
    const [wheel, branches] = family.key[node];
    const piece = family.pieces.find((one) => one.wheels.includes(wheel));
    return [head, path, el("p", { role: "status", class: "ask" }, "Count ", el("b", {}, said(wheel)),
      piece ? [", on the ", said(piece.name)] : "", ". It has:"),
    el("div", { class: "choices" }, branches.map(([teeth], step) =>
      button(teeth === null ? "another count" : String(teeth), () => {
        this.steps = [...this.steps, step];
        this.keep();
      }, { class: "digit", "data-name": `count ${teeth}` }))),
    el("p", {}, "A count that is not there: none of these sets, or count again.")];
  }
}
