/** A small scatter: dots with shapes of their own, two axes in words. Its numbers stand beside it as a table. */

const SVG = "http://www.w3.org/2000/svg";
/** Its own pixels: narrow on a phone, so that the numbers stay as large as text. */
const WIDTH = window.innerWidth < 600 ? 380 : 640;
const HEIGHT = window.innerWidth < 600 ? 260 : 300;
const LEFT = 62;
const BOTTOM = 52;
const TOP = 14;
const RIGHT = 18;
const STEPS = [1, 2, 5, 10];

/** @param {string} tag @param {Record<string, string | number>} attributes @param {string} [text] @returns {SVGElement} */
function svg(tag, attributes, text) {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, String(value));
  if (text !== undefined) node.textContent = text;
  return node;
}

/** Round numbers from low to high, at most so many. @param {number} low @param {number} high @param {number} most */
function ticks(low, high, most) {
  const rough = Math.max((high - low) / most, 1e-9);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = power * (STEPS.find((each) => each * power >= rough) ?? 10);
  const found = [];
  for (let at = Math.ceil(low / step - 1e-9) * step; at <= high + step * 1e-9; at += step) found.push(at + 0);
  return found;
}

/** The range of an axis, with some air. @param {number[]} values @param {boolean} fromNought */
function range(values, fromNought) {
  const low = fromNought ? 0 : Math.min(...values);
  const high = Math.max(...values, low);
  const air = (high - low) * 0.06 || Math.max(Math.abs(high) * 0.1, 1);
  return [fromNought ? 0 : low - air, high + air];
}

/**
 * @typedef {{x: number, y: number, shape: "dot" | "ring" | "cross", words: string, href?: string}} Dot
 * @param {Dot[]} dots
 * @param {{x: string, y: string, label: string, xText: (n: number) => string, yText: (n: number) => string, xFromNought?: boolean, yFromNought?: boolean, line?: boolean}} axes
 */
export function scatter(dots, axes) {
  const root = svg("svg", { class: "scatter", viewBox: `0 0 ${WIDTH} ${HEIGHT}`, role: "img", "aria-label": axes.label });
  const [x0, x1] = range(dots.map((dot) => dot.x), axes.xFromNought ?? false);
  const [y0, y1] = range(dots.map((dot) => dot.y), axes.yFromNought ?? true);
  const x = (/** @type {number} */ value) => LEFT + ((value - x0) / (x1 - x0)) * (WIDTH - LEFT - RIGHT);
  const y = (/** @type {number} */ value) => HEIGHT - BOTTOM - ((value - y0) / (y1 - y0)) * (HEIGHT - BOTTOM - TOP);
  for (const at of ticks(y0, y1, 5)) {
    root.append(svg("path", { class: "scatter-grid", d: `M${LEFT} ${y(at).toFixed(1)}H${WIDTH - RIGHT}` }),
      svg("text", { class: "scatter-text", x: LEFT - 8, y: (y(at) + 5).toFixed(1), "text-anchor": "end" }, axes.yText(at)));
  }
  for (const at of ticks(x0, x1, WIDTH < 500 ? 4 : 6)) root.append(svg("text", { class: "scatter-text", x: x(at).toFixed(1), y: HEIGHT - BOTTOM + 20, "text-anchor": "middle" }, axes.xText(at)));
  if (axes.line) root.append(svg("path", { class: "scatter-line", d: `M${dots.map((dot) => `${x(dot.x).toFixed(1)} ${y(dot.y).toFixed(1)}`).join("L")}` }));
  for (const dot of dots) root.append(mark(dot, x(dot.x), y(dot.y)));
  root.append(svg("text", { class: "scatter-name", x: LEFT, y: HEIGHT - 7 }, axes.x));
  return root;
}

/** @param {Dot} dot @param {number} x @param {number} y */
function mark(dot, x, y) {
  const node = dot.shape === "cross"
    ? svg("path", { class: "scatter-cross", d: `M${x - 6} ${y - 6}L${x + 6} ${y + 6}M${x + 6} ${y - 6}L${x - 6} ${y + 6}` })
    : svg("circle", { class: `scatter-${dot.shape}`, cx: x.toFixed(1), cy: y.toFixed(1), r: 5.5 });
  node.append(svg("title", {}, dot.words));
  return node;
}
