// Knows the counting aid: one tooth is chalked, each tap anywhere is a tooth, until the chalk comes
// round again. What the count is of is left to the part "in the hand".
import { button, el, fill } from "./dom.js";

const MOST = 200, BUZZ_EACH = 10, BUZZ_MS = 60;

export class Chalk {
  constructor(app) {
    this.app = app;
    this.count = Number(app.store.last("chalk")) || 0;
  }

  set(count) {
    this.count = count;
    this.app.store.keepLast("chalk", count);
    this.number.textContent = String(count);
    if (count && count % BUZZ_EACH === 0) {
      // Telephones without a buzzer in the browser show it alone.
      navigator.vibrate?.(BUZZ_MS);
      this.live.textContent = `${count} teeth`;
      this.area.classList.toggle("ten", true);
      setTimeout(() => this.area.classList.toggle("ten", false), 250);
    }
    for (const one of this.needed) one.disabled = !count;
  }

  tap() {
    if (this.count < MOST) this.set(this.count + 1);
    else this.app.tell("No wheel has more than 200 teeth: start again at the chalk.");
  }

  open(root) {
    this.number = el("b", {}, String(this.count));
    this.live = el("p", { class: "hidden", role: "status" });
    // A tap counts where the finger comes down; the keyboard and screen readers click.
    this.area = el("button", { type: "button", class: "tap", "data-name": "tap", pointerdown: (e) => { if (e.isPrimary && !e.button) this.tap(); },
      click: (e) => { if (e.detail === 0) this.tap(); } },
    this.number, el("span", {}, " Tap anywhere here for each tooth"));
    const undo = button("One back", () => this.set(this.count - 1), { "data-name": "one back" });
    const again = button("From 0", () => this.set(0), { "data-name": "from 0" });
    const place = this.app.hand.at + 1;
    const into = button(`Into the hand, place ${place}`, () => {
      if (this.count < 4) {
        this.app.tell("A wheel has 4 to 200 teeth.");
        return;
      }
      const count = this.count;
      this.set(0);
      this.app.hand.put(count);
      this.app.go("hand");
    }, { class: "strong", "data-name": "into the hand" });
    this.needed = [undo, again, into];
    for (const one of this.needed) one.disabled = !this.count;
    fill(root, el("div", { class: "chalk" }, el("h1", { class: "hidden" }, "Counting aid"), this.live,
      el("p", {}, "Chalk one tooth and tap for it first, then for each that follows, until the chalk "
        + "comes round. It buzzes at each ten."), this.area, el("div", { class: "row" }, undo, again, into)));
  }

  key(event) {
    if (event.key !== " " && event.key !== "Enter") return false;
    this.tap();
    return true;
  }
}
