// Elements, times and words. Everything shown is made here from text, never from markup.

/** Make an element: properties by name, `data` and `aria` as objects, `on` as listeners, children as nodes or text. */
export function h(tag, props = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(props)) {
    if (value === undefined || value === null || value === false) continue;
    if (name === "on") for (const [event, listener] of Object.entries(value)) node.addEventListener(event, listener);
    else if (name === "data") Object.assign(node.dataset, value);
    else if (name in node && name !== "list" && typeof value !== "string") node[name] = value;
    else node.setAttribute(name === "className" ? "class" : name, value === true ? "" : value);
  }
  node.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
  return node;
}

const DAY = { day: "numeric", month: "short", year: "numeric" };
const CLOCK = { hour: "2-digit", minute: "2-digit", hour12: false };

export const day = (at) => new Date(at).toLocaleDateString("en-GB", DAY);
export const clock = (at) => new Date(at).toLocaleTimeString("en-GB", CLOCK);

/** Write an instant as people need it: the clock today, with its day otherwise. */
export function when(at) {
  const today = new Date().toDateString() === new Date(at).toDateString();
  return today ? clock(at) : `${day(at)}, ${clock(at)}`;
}

export const many = (n, one, more = `${one}s`) => `${n} ${n === 1 ? one : more}`;

/** Write how long something took: 18 minutes, 2 hours 5 minutes. */
export function span(ms) {
  const minutes = Math.round(ms / 60000);
  if (minutes < 1) return "less than a minute";
  if (minutes < 60) return many(minutes, "minute");
  const rest = minutes % 60;
  return many(Math.floor(minutes / 60), "hour") + (rest ? ` ${many(rest, "minute")}` : "");
}

const LEVELS = { pass: "whole", "pass with limits": "limited", fail: "down", void: "unproven", waits: "unrecorded" };

/** A word with its mark before it, as the pages have it; the marks are drawn once in the page. */
export function level(word, said = word) {
  const name = LEVELS[word] || "unrecorded";
  const mark = document.getElementById(`mark-${name}`).content.cloneNode(true);
  return h("span", { className: `level ${name}` }, mark, h("span", {}, said));
}

/** A button as wide as a thumb needs it. */
export function button(words, act, className = "btn second", more = {}) {
  return h("button", { type: "button", className, on: { click: act }, ...more }, words);
}

export const link = (to, words, className = "") => h("a", { href: to, className: className || null }, words);
