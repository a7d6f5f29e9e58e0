// Knows the part "wanted": which pieces somebody looks for, for which set and up to which price. The
// list was made by Python from the stock of the book; a piece in the hand is compared with it there.
import { el, fill, said } from "./dom.js";
import { familyName, teethText } from "./reading.js";

/** Whose set a wish is for, and its price. */
export function wishText(app, wish) {
  const family = app.model.families.find(({ id }) => id === wish.family);
  const set = family?.sets.find(([id]) => id === wish.set);
  const name = `${family ? familyName(family) : wish.family}, ${set?.[1] || wish.set}`;
  return `${name}${wish.upTo ? `, up to ${wish.upTo} ${wish.currency}` : ""}`;
}

export class Wanted {
  constructor(app) {
    this.app = app;
  }

  open(root) {
    const { wanted } = this.app.tables;
    const body = wanted === null
      ? el("p", {}, "This page was made without what is wanted: 'cogtally field --wanted' puts it in.")
      : !wanted.length ? el("p", {}, "Nothing was wanted when this page was made.")
        : el("ul", { class: "list" }, wanted.map((wish) => el("li", {},
          el("b", {}, said(`${wish.piece} ${teethText(wish.teeth)}`)),
          el("p", {}, "for ", said(wishText(this.app, wish))),
          wish.why && el("p", {}, said(wish.why)))));
    fill(root, el("div", { class: "page", tabindex: "0" }, el("h1", {}, "Wanted"), this.app.demoLine(),
      wanted?.length > 0 && el("p", {}, "What you type in the hand says so where it is one of these."),
      body));
  }
}
