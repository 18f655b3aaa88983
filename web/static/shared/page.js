/** Small things that every part of the page uses to change the page. A text that is already there is left alone. */

/** @param {string} id @returns {any} */
export function el(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`the page has no ${id}`);
  return found;
}

/** @param {string} id @param {string} text */
export function put(id, text) {
  const node = el(id);
  if (node.textContent !== text) node.textContent = text;
}

/** @param {string} id @param {boolean} shown */
export function show(id, shown) {
  const node = el(id);
  if (node.hidden === shown) node.hidden = !shown;
}

/** Make an element with text and children. @param {string} tag @param {string} className @param {(Node | string)[]} inside @returns {any} */
export function make(tag, className, ...inside) {
  const node = document.createElement(tag);
  if (className) node.className = className;
  node.append(...inside);
  return node;
}

/** A shape from the page's own set. @param {string} name @returns {SVGElement} */
export function shape(name) {
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  const use = document.createElementNS("http://www.w3.org/2000/svg", "use");
  svg.setAttribute("class", "shape");
  svg.setAttribute("aria-hidden", "true");
  use.setAttribute("href", `#shape-${name}`);
  svg.append(use);
  return svg;
}

/** Put `rows` into `parent` only when `key` differs from last time. @param {any} parent @param {string} key @param {() => Node[]} rows */
export function fill(parent, key, rows) {
  if (parent.dataset.key === key) return;
  parent.dataset.key = key;
  parent.replaceChildren(...rows());
}

/** Say it to a screen reader. @param {string} text @param {boolean} [urgent] */
export function announce(text, urgent = false) {
  put(urgent ? "alert" : "announce", text);
}

let toastEnds = 0;

/** Show one line above the buttons. @param {string} text @param {"done" | "refused"} tone @param {number} [ms] how long; 0 until replaced */
export function toast(text, tone, ms = 8000) {
  const node = el("answer");
  window.clearTimeout(toastEnds);
  node.dataset.tone = tone;
  node.replaceChildren(shape(tone === "done" ? "complete" : "alarm"), make("span", "", text));
  node.hidden = false;
  if (ms) toastEnds = window.setTimeout(() => { node.hidden = true; }, ms);
}

const REACHED = "a, button, input, select, textarea, summary, [tabindex]";

/** Draw a part anew, and leave the focus where it was in it. @param {any} box @param {() => void} draw */
export function drawAnew(box, draw) {
  const at = [...box.querySelectorAll(REACHED)].indexOf(document.activeElement);
  draw();
  if (at >= 0) box.querySelectorAll(REACHED)[at]?.focus({ preventScroll: true });
}
