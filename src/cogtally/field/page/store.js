// Knows what the telephone keeps: the bag, the piece in the hand, and the count that is being tapped.
// Each thing in the bag has a place of its own in the browser's storage, so that two windows never
// write over one another. Where the storage is full, shut or not there, all stays in memory, and
// `trouble` says so until it could be kept. What the things mean is left to the parts.

const BAG = "cogtally-field-bag ", LAST = "cogtally-field-last ", MINE = "cogtally-field-window";
/** What a window has in its hand, and what it is writing of a thing for the bag. */
const DRAFT = "cogtally-field-draft ", FORM = "cogtally-field-form ";

/** A storage of the browser, or null where it may not be used. */
function storage(name) {
  try {
    const found = globalThis[name];
    found.setItem(`${MINE}-try`, "1");
    found.removeItem(`${MINE}-try`);
    return found;
  } catch (error) {
    // A full storage is there all the same: what it has can be read.
    try {
      return globalThis[name].length > 0 && /quota/i.test(error.name) ? globalThis[name] : null;
    } catch {
      return null;
    }
  }
}

function newId() {
  return `${Date.now().toString(36)}-${Math.random().toString(36).slice(2, 10)}`;
}

export class Store {
  /** `changed` is called where something was kept, lost its place, or came from another window. */
  constructor(changed) {
    this.changed = changed;
    this.local = storage("localStorage");
    this.session = storage("sessionStorage");
    /** Things not kept yet, by their key: in memory alone. */
    this.unkept = new Map();
    this.trouble = this.local ? "" : "none";
    this.window = this.read(this.session, MINE) ?? newId();
    this.write(this.session, MINE, this.window);
    globalThis.addEventListener?.("storage", ({ key }) => {
      if (key === null || key.startsWith(BAG)) this.changed();
      // A window that was doubled has this one's name too: take another, and keep the hand anew.
      if (key === DRAFT + this.window) {
        this.window = newId();
        this.write(this.session, MINE, this.window);
        this.twin?.();
      }
    });
    globalThis.addEventListener?.("beforeunload", (event) => {
      if (this.unkept.size) event.preventDefault();
    });
  }

  read(from, key) {
    try {
      return from?.getItem(key) ?? null;
    } catch {
      return null;
    }
  }

  write(into, key, text) {
    try {
      if (!into) return false;
      if (text === null) into.removeItem(key);
      else into.setItem(key, text);
      return true;
    } catch {
      return false;
    }
  }

  keys(start) {
    const found = [];
    try {
      for (let i = 0; i < (this.local?.length ?? 0); i++) {
        const key = this.local.key(i);
        if (key?.startsWith(start)) found.push(key);
      }
    } catch {
      // What cannot be read is not there; `trouble` tells of it where something is to be kept.
    }
    return found;
  }

  /** Keep a thing under a key; where that cannot be, it stays in memory and is told of. */
  put(key, thing) {
    const text = JSON.stringify(thing);
    if (this.write(this.local, key, text)) this.unkept.delete(key);
    else this.unkept.set(key, text);
    this.told();
  }

  told() {
    const lost = [...this.unkept.keys()].some((key) => key.startsWith(BAG));
    this.trouble = !this.local ? "none" : lost ? "full" : "";
  }

  take(key) {
    const text = this.unkept.get(key) ?? this.read(this.local, key);
    try {
      return text === null ? null : JSON.parse(text);
    } catch {
      return null;
    }
  }

  /** Try again to keep what is in memory alone. */
  again() {
    for (const [key, text] of this.unkept) {
      if (this.write(this.local, key, text)) this.unkept.delete(key);
    }
    this.told();
    this.changed();
  }

  /* The bag: what was found, the newest first. */

  bag() {
    const keys = new Set([...this.keys(BAG), ...[...this.unkept.keys()]
      .filter((key) => key.startsWith(BAG))]);
    return [...keys].map((key) => this.take(key)).filter((thing) => thing?.id && thing.counts)
      .sort((a, b) => (a.at < b.at ? 1 : -1));
  }

  putInBag(thing) {
    const whole = { id: newId(), at: new Date().toISOString(), ...thing };
    this.put(BAG + whole.id, whole);
    // Asked once there is something to lose: that the browser does not clear it by itself.
    globalThis.navigator?.storage?.persist?.().catch(() => {});
    this.changed();
    return whole;
  }

  takeOut(id) {
    this.remove(BAG + id);
    this.changed();
  }

  /* What this window has in hand or half written, and what other windows left. */

  draft(start = DRAFT) {
    const key = start + this.window;
    return this.take(key) ?? JSON.parse(this.read(this.session, key) ?? "null");
  }

  keepDraft(draft, start = DRAFT) {
    const key = start + this.window, isEmpty = draft === null;
    const text = isEmpty ? null : JSON.stringify(draft);
    this.write(this.session, key, text);
    if (!this.write(this.local, key, text) && !isEmpty) this.unkept.set(key, text);
    else this.unkept.delete(key);
  }

  leftElsewhere(start = DRAFT) {
    return this.keys(start).filter((key) => key !== start + this.window)
      .map((key) => ({ key, draft: this.take(key) })).filter(({ draft }) => draft);
  }

  form() {
    return this.draft(FORM);
  }

  keepForm(form) {
    this.keepDraft(form, FORM);
  }

  formsElsewhere() {
    return this.leftElsewhere(FORM);
  }

  /** Forget what is kept under a key. */
  remove(key) {
    this.unkept.delete(key);
    this.write(this.local, key, null);
    this.told();
  }

  /* What was typed last, to be offered again: a currency, a place. */

  last(name) {
    return this.take(LAST + name) ?? "";
  }

  keepLast(name, text) {
    this.write(this.local, LAST + name, JSON.stringify(text));
  }
}
