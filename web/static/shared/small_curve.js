/** A small curve: where the air went, without numbers. All on a page have one scale of temperature. */

const SVG = "http://www.w3.org/2000/svg";
const WIDTH = 160;
const HEIGHT = 52;

/** @param {string} tag @param {Record<string, string | number>} attributes @returns {SVGElement} */
function svg(tag, attributes) {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, String(value));
  return node;
}

/** @param {{t_s: number[], c: number[], duration_s: number} | null} summary @param {number} hottestC the top of the scale */
export function smallCurve(summary, hottestC) {
  const root = svg("svg", { class: "small-curve", viewBox: `0 0 ${WIDTH} ${HEIGHT}`, preserveAspectRatio: "none", "aria-hidden": "true" });
  root.append(svg("path", { class: "small-ground", d: `M0 ${HEIGHT - 0.5}H${WIDTH}` }));
  if (!summary || summary.t_s.length < 2) return root;
  const x = (/** @type {number} */ t) => ((t / Math.max(summary.duration_s, 1)) * (WIDTH - 3) + 1.5).toFixed(1);
  const y = (/** @type {number} */ c) => (HEIGHT - 2 - (Math.max(0, c) / hottestC) * (HEIGHT - 5)).toFixed(1);
  const line = summary.t_s.map((t, i) => `${x(t)} ${y(summary.c[i])}`).join("L");
  const last = summary.t_s.at(-1) ?? 0;
  root.append(svg("path", { class: "small-area", d: `M${x(summary.t_s[0])} ${HEIGHT}L${line}L${x(last)} ${HEIGHT}Z` }),
    svg("path", { class: "small-line", d: `M${line}` }));
  return root;
}
