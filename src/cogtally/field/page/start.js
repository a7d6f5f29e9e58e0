// Knows how the page begins: it reads its tables, shows one part at a time, and says what went wrong
// or is about to be lost. What the parts do is left to them.
import { prepare } from "./law.js";
import { answerJson, seenWith } from "./seen.js";
import { verdictOf } from "./reading.js";
import { button, el, fill, said, timeText } from "./dom.js";
import { Store } from "./store.js";
import { Hand } from "./hand.js";
import { Chalk } from "./chalk.js";
import { Key } from "./key.js";
import { Wanted, wishText } from "./wanted.js";
import { Bag } from "./bag.js";

const DAY_MS = 86_400_000;
/** A catalog so old is said to be old. */
const OLD_DAYS = 90;
const TOLD_MS = 6000, WARM_MS = 300;

class About {
  constructor(app) {
    this.app = app;
  }

  open(root) {
    const { catalog, cautions, limits } = this.app.tables;
    const days = Math.floor((Date.now() - new Date(catalog.made).getTime()) / DAY_MS);
    const age = days < 0 ? "by a clock ahead of this telephone's" : days === 0 ? "today"
      : days === 1 ? "yesterday" : `${days} days ago`;
    fill(root, el("div", { class: "page", tabindex: "0" }, el("h1", {}, "Cautions"), this.app.demoLine(),
      el("ul", { class: "cautions" }, cautions.map((text) => el("li", {}, text))),
      el("h2", {}, "This page"),
      el("dl", {},
        el("dt", {}, "Catalog"), el("dd", {}, said(catalog.name || "without a name")),
        el("dt", {}, "Made"), el("dd", {}, timeText(catalog.made), `, ${age}`,
          days >= OLD_DAYS && el("b", {}, ": old; make it anew")),
        el("dt", {}, "Fingerprint"), el("dd", {}, catalog.digest.slice(0, 16)),
        el("dt", {}, "Knows"), el("dd", {}, `families: ${catalog.families}, sets: ${catalog.sets}`),
        catalog.only.length > 0 && [el("dt", {}, "Only these families"),
          el("dd", {}, said(catalog.only.join(", ")), ". A piece of any other shows as not in the "
            + "catalog.")]),
      el("h2", {}, "What it does not do"),
      limits.map((text) => el("p", {}, text))));
  }
}

class App {
  constructor(tables) {
    this.tables = tables;
    this.model = prepare(tables);
    this.store = new Store(() => { this.note(); this.parts?.bag.show(); });
    this.parts = {};
    this.hand = this.parts.hand = new Hand(this);
    this.parts.chalk = new Chalk(this);
    this.parts.key = new Key(this);
    this.parts.wanted = new Wanted(this);
    this.bag = this.parts.bag = new Bag(this);
    this.parts.about = new About(this);
    this.main = document.querySelector("main");
    this.notes = document.querySelector("#notes");
    this.toldAt = document.querySelector("#told");
    for (const tab of document.querySelectorAll("nav button")) {
      tab.addEventListener("click", () => this.go(tab.dataset.part));
    }
    globalThis.addEventListener("keydown", (event) => this.key(event));
    globalThis.addEventListener("hashchange", () => this.go(location.hash.slice(1), true));
    this.note();
    this.go(location.hash.slice(1), true);
    this.keepNewest();
    // One question before the first is asked, so that its answer comes as quickly as the next: at
    // once what a first count says, which takes most, and later what to count then.
    const { model } = this;
    setTimeout(() => verdictOf(model, seenWith(model.law, { counts: ["24"] })));
    setTimeout(() => answerJson(model, { counts: ["24", ".."] }), WARM_MS);
  }

  /** Show one part. */
  go(name, isAsked = false) {
    const part = Object.hasOwn(this.parts, name) ? name : "hand";
    this.part = part;
    if (!isAsked && location.hash !== `#${part}`) history.replaceState(null, "", `#${part}`);
    for (const tab of document.querySelectorAll("nav button")) {
      if (tab.dataset.part === part) tab.setAttribute("aria-current", "page");
      else tab.removeAttribute("aria-current");
    }
    this.main.replaceChildren();
    this.parts[part].open(this.main);
  }

  /** Keys of a keyboard, where they are not typed into a field or meant for a button. */
  key(event) {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    if (event.target.closest?.("input, select, textarea, summary")) return;
    if (event.target.closest?.("button") && (event.key === "Enter" || event.key === " ")) return;
    if (this.parts[this.part].key?.(event)) event.preventDefault();
  }

  /** Say something once, below what is shown. */
  tell(text) {
    clearTimeout(this.telling);
    this.toldAt.textContent = text;
    this.telling = setTimeout(() => { this.toldAt.textContent = ""; }, TOLD_MS);
  }

  /** Say what stays true until something is done: that nothing is kept, that a newer page is there. */
  note() {
    const { trouble } = this.store;
    const size = this.store.bag().length;
    const tab = document.querySelector('nav [data-part="bag"]');
    tab.textContent = size ? `Bag ${size}` : "Bag";
    fill(this.notes,
      trouble === "none" && el("p", {}, "This browser keeps nothing for this page: save the bag as a "
        + "file before you leave it."),
      trouble === "full" && el("div", {}, el("p", {}, "The storage of this browser is full: the newest "
        + "in the bag is on this screen alone. Save the bag as a file."),
      button("Try again", () => this.store.again(), { "data-name": "try again" })),
      this.newer && el("div", {}, el("p", {}, "A newer catalog has come."),
        button("Show it", () => location.reload(), { "data-name": "show newer" })));
  }

  demoLine() {
    return this.tables.catalog.demo ? el("p", { class: "demo" }, this.tables.demo) : null;
  }

  wishText(wish) {
    return wishText(this, wish);
  }

  /** In the folder form: keep the page for times without a network, and say when a newer one came. */
  async keepNewest() {
    const worker = document.querySelector('meta[name="worker"]')?.content;
    if (!worker || !("serviceWorker" in navigator)) return;
    const had = navigator.serviceWorker.controller !== null;
    navigator.serviceWorker.addEventListener("controllerchange", () => {
      this.newer = had;
      this.note();
    });
    try {
      const registration = await navigator.serviceWorker.register(worker, { updateViaCache: "none" });
      await registration.update();
    } catch {
      // Without a network the page that is kept stays; opened from a file there is none to keep.
    }
  }
}

const app = new App(JSON.parse(document.querySelector("#tables").textContent));
/** For a script that asks: what `cogtally piece --json` says of counts in its words. */
globalThis.cogtallyField = { app, answer: (words) => ({ ...answerJson(app.model, words),
  verdict: { kind: verdictOf(app.model, seenWith(app.model.law, words)).kind } }) };
