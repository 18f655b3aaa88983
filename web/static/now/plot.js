/** How the curve is drawn: lines, axes and marks for the drawing library. Light on ink. */

import { clock } from "../shared/format.js";

const STEPS_S = [60, 300, 600, 1800, 3600, 7200, 10800, 14400, 21600, 43200, 86400];
// The lines in the order in which they are drawn: the band, the plan, load, setpoint, air, the shell's core.
const AIR = 6;
const FONT = '500 14px -apple-system, "Segoe UI", Roboto, "Helvetica Neue", Arial, sans-serif';

/** The page's own colours, as they are now. */
export function colours() {
  const style = getComputedStyle(document.documentElement);
  const of = (/** @type {string} */ name) => style.getPropertyValue(name).trim();
  return { ink: of("--ink"), soft: of("--ink-soft"), faint: of("--rule"), load: of("--load"), set: of("--set"), paper: of("--paper") };
}

/** @param {import("./curve.js").Curve} curve @param {number} width @param {number} height @param {ReturnType<typeof colours>} ink */
export function options(curve, width, height, ink) {
  const line = { points: { show: false }, spanGaps: false };
  const axis = { stroke: ink.soft, font: FONT, ticks: { show: false } };
  return {
    width,
    height,
    legend: { show: false },
    cursor: { show: false },
    padding: [22, 12, 0, 0],
    scales: { x: { time: false, range: (/** @type {any} */ _u, /** @type {number} */ lo, /** @type {number} */ hi) => [Math.min(0, lo), Math.max(hi, 600)] },
      y: { range: (/** @type {any} */ _u, /** @type {number} */ _lo, /** @type {number} */ hi) => [0, hi * 1.06] } },
    axes: [
      { ...axis, size: 30, gap: 8, grid: { show: false }, splits: (/** @type {any} */ _u, /** @type {number} */ _i, /** @type {number} */ lo, /** @type {number} */ hi) => hours(curve, lo, hi, width),
        values: (/** @type {any} */ _u, /** @type {number[]} */ at) => at.map((t) => label(curve, t)) },
      { ...axis, size: axisWidth, gap: 8, grid: { stroke: ink.faint, width: 1 }, space: 56,
        values: (/** @type {any} */ u, /** @type {number[]} */ at) => at.map((c) => `${c} °${curve.unit}`) },
    ],
    series: [
      {},
      { ...line, width: 0 },
      { ...line, width: 0 },
      { ...line, stroke: ink.soft, width: 1.5, dash: [5, 5] },
      { ...line, stroke: ink.load, width: 4 },
      { ...line, stroke: ink.set, width: 1.25 },
      { ...line, stroke: ink.ink, width: 3.25 },
      { ...line, stroke: ink.soft, width: 2.5, dash: [2, 4] },
    ],
    bands: [{ series: [2, 1], fill: ink.faint }],
    hooks: { draw: [(/** @type {any} */ plot) => marks(plot, curve, ink)] },
  };
}

/** Room for the longest of the labels. @param {any} _u @param {string[] | null} labels */
const axisWidth = (_u, labels) => 12 + 8 * Math.max(6, ...(labels ?? []).map((text) => text.length));

/** On a kiln that runs with our clock, the clock's time; on a faster one, hours from the start. @param {import("./curve.js").Curve} curve @param {number} t */
function label(curve, t) {
  if (curve.frame.speed === 1) return clock(startMs(curve) + t * 1000);
  return t % 3600 === 0 ? `${t / 3600} h` : `${Math.round(t / 60)} min`;
}

/** @param {import("./curve.js").Curve} curve */
const startMs = (curve) => Date.now() - curve.nowS() * 1000;

/** Round times for the axis. @param {import("./curve.js").Curve} curve @param {number} lo @param {number} hi @param {number} width */
function hours(curve, lo, hi, width) {
  const most = Math.max(2, Math.floor(width / 90));
  const step = STEPS_S.find((s) => (hi - lo) / s <= most) ?? 86400;
  const zoneS = new Date().getTimezoneOffset() * -60;
  const shift = curve.frame.speed === 1 ? (startMs(curve) / 1000 + zoneS) % step : 0;
  const splits = [];
  for (let t = Math.ceil((lo + shift) / step) * step - shift; t <= hi; t += step) splits.push(t);
  return splits;
}

/** Where a person is or was needed, the pour, and now. @param {any} plot @param {import("./curve.js").Curve} curve @param {ReturnType<typeof colours>} ink */
function marks(plot, curve, ink) {
  const { frame } = curve;
  const { ctx, bbox } = plot;
  const dot = window.devicePixelRatio;
  ctx.save();
  ctx.lineWidth = dot;
  const at = (/** @type {number} */ t) => Math.round(plot.valToPos(t, "x", true));
  const upright = (/** @type {number} */ t, /** @type {number[]} */ dash, /** @type {string} */ stroke) => {
    ctx.beginPath();
    ctx.setLineDash(dash.map((d) => d * dot));
    ctx.strokeStyle = stroke;
    ctx.moveTo(at(t), bbox.top - 4 * dot);
    ctx.lineTo(at(t), bbox.top + bbox.height);
    ctx.stroke();
  };
  for (const t of curve.stops) upright(t - curve.startS, [2, 4], ink.soft);
  let labelled = -Infinity;
  for (const [what, words] of [[frame.stop, "you"], [frame.pour, "pour"]]) {
    if (!what || what.in_s === null || what.in_s <= 0) continue;
    const t = curve.nowS() + what.in_s;
    upright(t, [2, 4], ink.soft);
    if (at(t) - labelled < 44 * dot) continue;
    labelled = at(t);
    ctx.fillStyle = ink.soft;
    ctx.font = FONT.replace("14px", `${14 * dot}px`);
    ctx.textAlign = "center";
    ctx.fillText(words, at(t), bbox.top - 8 * dot);
  }
  if (frame.air.c !== null && curve.live.t.length) now(plot, curve, ink, at, upright);
  ctx.restore();
}

/** @param {any} plot @param {import("./curve.js").Curve} curve @param {ReturnType<typeof colours>} ink @param {(t: number) => number} at @param {(t: number, dash: number[], stroke: string) => void} upright */
function now(plot, curve, ink, at, upright) {
  const { ctx } = plot;
  const dot = window.devicePixelRatio;
  const air = plot.data[AIR].findLast((/** @type {number | null | undefined} */ c) => c != null);
  upright(curve.nowS(), [], ink.faint);
  ctx.beginPath();
  ctx.setLineDash([]);
  ctx.arc(at(curve.nowS()), plot.valToPos(air, "y", true), 5 * dot, 0, 2 * Math.PI);
  ctx.fillStyle = ink.ink;
  ctx.strokeStyle = ink.paper;
  ctx.lineWidth = 2 * dot;
  ctx.fill();
  ctx.stroke();
}
