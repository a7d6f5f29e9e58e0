// Knows the bag: what was found today, with price, place and note, kept on the telephone, and its way
// out as the CSV that `cogtally stock add --from` reads. Where it is kept is left to the store.
import { wordsOf, lookText } from "./seen.js";
import { button, el, field, fill, said, timeText } from "./dom.js";

const COLUMNS = ["item", "counts", "role", "mark", "feature", "place", "price", "currency", "note",
  "quantity"];
/** The rules of `stock add`: an exact amount, the three letters of a currency. */
const AMOUNT = /^[0-9]{1,9}(\.[0-9]{1,4})?$/, CURRENCY = /^[A-Za-z]{3}$/;
const MOST_ALIKE = 999;

/** One cell: in quotes where it has a comma, a quote or a line's end. */
function cell(text) {
  return /[",\n\r]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

/** The bag as CSV, a row a thing, oldest first. */
export function csvOf(things) {
  const rows = [...things].reverse().map((thing) => [
    `found ${thing.at.slice(0, 16).replace("T", " ")} UTC`, thing.counts, thing.role ?? "",
    (thing.marks ?? []).join(";"), (thing.features ?? []).join(";"), thing.place ?? "",
    thing.price ?? "", thing.price ? thing.currency ?? "" : "", thing.note ?? "",
    thing.quantity > 1 ? String(thing.quantity) : ""]);
  // The mark at the start tells a spreadsheet that it is UTF-8.
  return `\ufeff${[COLUMNS, ...rows].map((row) => row.map(cell).join(",")).join("\r\n")}\r\n`;
}

export class Bag {
  constructor(app) {
    this.app = app;
    /** The thing that is being written, not in the bag yet or taken out to be changed. */
    this.thing = app.store.form();
    this.gone = null;
  }

  fromHand(piece, marks, name, sure) {
    const { store } = this.app, counts = wordsOf(piece).join(" ");
    if (this.thing && this.thing.counts !== counts) {
      this.app.go("bag");
      this.app.tell("First finish what you began to write.");
      return;
    }
    this.form({ counts, role: piece.role ?? "", marks,
      features: piece.features.map(lookText), name: `${name} ${sure}`, place: store.last("place"),
      currency: store.last("currency"), quantity: 1, price: "", note: "", isNew: true });
    this.app.go("bag");
  }

  form(thing) {
    this.thing = thing;
    this.app.store.keepForm(thing);
    this.show();
  }

  open(root) {
    this.root = root;
    this.show();
  }

  show() {
    if (!this.root?.isConnected) return;
    // What is being typed in the form is not swept away by another window.
    if (this.thing && this.root.querySelector("form.thing")) return;
    fill(this.root, el("div", { class: "page", tabindex: "0" }, el("h1", {}, "Bag"), this.app.demoLine(),
      this.thing ? this.writing() : this.list()));
  }

  writing() {
    const thing = this.thing;
    const fields = {
      price: field("Price", { inputmode: "decimal", maxlength: 14, value: thing.price }),
      currency: field("Currency", { maxlength: 3, value: thing.currency, autocapitalize: "characters" },
        "three letters, for example EUR"),
      place: field("Where it is", { maxlength: 100, value: thing.place }),
      note: field("Note", { maxlength: 400, value: thing.note }),
      quantity: field("How many alike", { inputmode: "numeric", maxlength: 3, value: thing.quantity }),
    };
    for (const [name, { input }] of Object.entries(fields)) {
      input.setAttribute("data-name", name);
      input.addEventListener("input", () => {
        thing[name] = input.value;
        this.app.store.keepForm(thing);
      });
    }
    const close = () => {
      this.root.querySelector("form.thing")?.remove();
      this.form(null);
    };
    const save = (event) => {
      event.preventDefault();
      const price = String(thing.price).trim().replace(",", "."), currency = thing.currency.trim();
      const quantity = Number(thing.quantity);
      const wrong = price && !AMOUNT.test(price) ? "The price is no number: write 45 or 45.50."
        : price && !CURRENCY.test(currency) ? "Write the three letters of the currency, for example EUR."
          : !(Number.isInteger(quantity) && quantity >= 1 && quantity <= MOST_ALIKE)
            ? `Write how many: 1 to ${MOST_ALIKE}.` : "";
      if (wrong) {
        this.app.tell(wrong);
        return;
      }
      const { isNew, ...kept } = thing;
      const { store, hand } = this.app;
      const place = thing.place.trim(), note = thing.note.trim();
      store.putInBag({ ...kept, price, currency: currency.toUpperCase(), place, note, quantity });
      store.keepLast("place", place);
      if (currency) store.keepLast("currency", currency.toUpperCase());
      if (isNew) hand.change(() => hand.start());
      close();
      this.app.tell(`In the bag: ${thing.counts}.`);
    };
    return el("form", { class: "thing", submit: save, novalidate: true },
      el("p", {}, el("b", {}, said(thing.counts)), " ", said(thing.name)),
      Object.values(fields).map(({ row }) => row),
      el("div", { class: "row" }, el("button", { class: "strong", "data-name": "save" },
        thing.isNew ? "Into the bag" : "Keep it so"), button("Not now", close, { "data-name": "not now" })));
  }

  list() {
    const things = this.app.store.bag();
    const items = things.map((thing) => el("li", {},
      el("b", {}, said(thing.counts)), thing.quantity > 1 && ` \u00d7${thing.quantity}`,
      el("p", {}, said(thing.name)),
      el("p", {}, said([thing.price && `${thing.price} ${thing.currency}`, thing.place, thing.note]
        .filter(Boolean).join("; "))),
      el("small", {}, timeText(thing.at), thing.sent ? `, went out ${timeText(thing.sent)}` : ""),
      el("div", { class: "row" },
        button("Change", () => this.form({ ...thing, isNew: false }),
          { "aria-label": `Change ${thing.counts}`, "data-name": `change ${thing.id}` }),
        button("Take out", () => {
          this.gone = thing;
          this.app.store.takeOut(thing.id);
        }, { "aria-label": `Take out ${thing.counts}`, "data-name": `out ${thing.id}` }))));
    const file = () => new File([csvOf(things)], `bag-${new Date().toISOString().slice(0, 10)}.csv`,
      { type: "text/csv" });
    const canShare = things.length > 0 && navigator.canShare?.({ files: [file()] });
    return [
      el("div", { class: "row" },
        canShare && button("Share", () => navigator.share({ files: [file()] })
          .then(() => this.sent(things)).catch((error) => {
            if (error.name !== "AbortError") this.app.tell("It could not be shared: save it as a file.");
          }), { class: "strong", "data-name": "share" }),
        button("Save as a file", () => this.saveFile(file(), things),
          { disabled: !things.length, "data-name": "save file" }),
        button("Copy", () => this.copy(things), { disabled: !things.length, "data-name": "copy" })),
      this.gone && el("div", { class: "note" }, el("p", {}, "Taken out: ", said(this.gone.counts)),
        button("Put it back", () => {
          const { gone } = this;
          this.gone = null;
          this.app.store.putInBag(gone);
        }, { "data-name": "put back" })),
      this.app.store.formsElsewhere().map(({ key, draft }) => el("div", { class: "note" },
        el("p", {}, "Half written in another window: ", el("b", {}, said(draft.counts)), " ",
          said(draft.note)),
        button("Go on with it", () => { this.app.store.remove(key); this.form(draft); }),
        button("Drop it", () => { this.app.store.remove(key); this.show(); }))),
      things.length ? el("ul", { class: "list" }, items)
        : el("p", {}, "Nothing is in the bag. What you have in the hand goes in from there."),
      things.some(({ sent }) => sent) && button("Take out all that went out", () => {
        for (const { id, sent } of things) if (sent) this.app.store.takeOut(id);
      }, { "data-name": "empty" }),
      el("p", {}, "At home: cogtally stock add --from bag.csv"),
      el("p", {}, "The bag is kept in this browser on this telephone only; a private window forgets it "
        + "when it is shut."),
    ];
  }

  sent(things) {
    const sent = new Date().toISOString();
    for (const thing of things) this.app.store.putInBag({ ...thing, sent });
  }

  saveFile(file, things) {
    const url = URL.createObjectURL(file);
    const link = el("a", { href: url, download: file.name });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(url), 60000);
    this.sent(things);
    this.app.tell(`${file.name} goes to the downloads.`);
  }

  copy(things) {
    const text = csvOf(things).slice(1);
    const done = () => this.app.tell("Copied as CSV.");
    const byHand = () => fill(this.root, el("div", { class: "page", tabindex: "0" }, el("h1", {}, "Bag"),
      el("p", {}, "Copy this text:"), el("textarea", { rows: 12, readonly: true, "aria-label": "CSV" }, text),
      button("Back", () => this.show())));
    if (navigator.clipboard) navigator.clipboard.writeText(text).then(done, byHand);
    else byHand();
  }
}
