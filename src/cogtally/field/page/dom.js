// Knows how the parts of the page are put on the screen: elements made of plain text, never of markup,
// so that whatever a catalog or a person wrote stays text. What is shown is left to each part.

/** An element with attributes (a function is a listener) and children (texts, elements, nothing). */
export function el(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === "function") made.addEventListener(name, value);
    else if (value === true) made.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) {
      made.setAttribute(name, String(value));
    }
  }
  made.append(...children.flat(9).filter((child) => child !== null && child !== undefined
    && child !== false));
  return made;
}

/** A text of the catalog or of a person, kept apart so that its direction turns nothing beside it. */
export function said(text) {
  return el("bdi", {}, String(text));
}

export function button(text, press, attributes = {}) {
  return el("button", { type: "button", click: press, ...attributes }, text);
}

/** A labelled field; `attributes` are those of the input. */
export function field(label, attributes, hint = "") {
  const input = el("input", { autocomplete: "off", ...attributes });
  return { input, row: el("label", { class: "field" }, el("span", {}, label), input,
    hint && el("small", {}, hint)) };
}

/** A choice of [value, text] pairs. */
export function choice(label, options, chosen, change) {
  const select = el("select", { change: () => change(select.value) },
    options.map(([value, text]) => el("option", { value, selected: value === chosen }, text)));
  return el("label", { class: "field" }, el("span", {}, label), select);
}

/** Put children into a place instead of what it had; the focus stays on what has the same name. */
export function fill(place, ...children) {
  const name = document.activeElement?.getAttribute("data-name");
  const inside = place.contains(document.activeElement);
  place.replaceChildren(...children.flat(9).filter(Boolean));
  if (inside && name) {
    place.querySelector(`[data-name="${CSS.escape(name)}"]`)?.focus({ preventScroll: true });
  }
}

/** A time as a person reads it, in the telephone's own way. */
export function timeText(iso) {
  const when = new Date(iso);
  return Number.isNaN(when.getTime()) ? String(iso)
    : when.toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
}
