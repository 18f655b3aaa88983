/**
 * The compared curves. The library draws the axes and the one in front; the quiet ones are drawn here, each from
 * its own points: a common table of all their times would grow with the square of their number.
 */

import { count, inUnit } from "../shared/format.js";
import { make } from "../shared/page.js";
import { FONT, hours, look } from "./past_marks.js";
import { elapsed } from "./past_plot.js";

/**
 * @typedef {import("../shared/format.js").Unit} Unit
 * @typedef {{shown: any[], zero: (firing: any) => number, front: any, unit: Unit, aligned: boolean, named: boolean}} Shown
 *   `named`: every curve wears its number, and not only the one in front.
 */

/** A finger is not more exact than this (CSS pixels, up and down). */
const NEAR = 40;

export class ComparePlot {
  /** @param {(firing: any) => void} bring what touching a curve does */
  constructor(bring) {
    /** @type {any} */
    this.plot = null;
    /** @type {Shown | null} */
    this.what = null;
    this.box = make("div", "past-plot");
    this.box.setAttribute("role", "img");
    this.box.setAttribute("aria-label", "Curves of the compared firings. Their numbers stand in the list below.");
    this.box.addEventListener("click", (/** @type {MouseEvent} */ event) => {
      const found = this.nearest(event);
      if (found) bring(found);
    });
    new ResizeObserver(() => this.build()).observe(this.box);
    window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.build());
  }

  /** @param {Shown} what */
  show(what) {
    this.what = what;
    this.build();
  }

  build() {
    const UPlot = /** @type {any} */ (window).uPlot;
    if (!UPlot || !this.what || this.box.clientWidth < 50) return;
    this.plot?.destroy();
    const { shown, zero, front, unit } = this.what;
    const first = shown.includes(front) ? front : null;
    const data = first ? [first.curve.t_s.map((/** @type {number} */ t) => t - zero(first)), first.curve.air_c.map((/** @type {number | null} */ c) => (c === null ? null : inUnit(c, unit)))] : [[], []];
    this.plot = shown.length ? new UPlot(this.options(), data, this.box) : null;
  }

  /** The least and the greatest of all curves: seconds from the moment of alignment, and degrees. */
  bounds() {
    const { shown, zero, unit } = /** @type {Shown} */ (this.what);
    const least = Math.min(...shown.map((each) => each.curve.t_s[0] - zero(each)));
    const last = Math.max(...shown.map((each) => each.curve.t_s.at(-1) - zero(each)));
    const hottest = shown.map((each) => each.curve.air_c.reduce((/** @type {number} */ most, /** @type {number | null} */ c) => Math.max(most, c ?? -Infinity), 0));
    return { x: [least, Math.max(last, least + 60)], y: [Math.min(0, inUnit(0, unit)), inUnit(Math.max(1, ...hottest), unit) * 1.06] };
  }

  options() {
    const what = /** @type {Shown} */ (this.what);
    const [ink, { x, y }] = [look(), this.bounds()];
    const axis = { stroke: ink.soft, font: FONT, ticks: { show: false } };
    return {
      width: this.box.clientWidth,
      height: this.box.clientHeight,
      legend: { show: false },
      cursor: { show: false },
      padding: [22, 34, 0, 0],
      scales: { x: { time: false, range: () => x }, y: { range: () => y } },
      axes: [
        { ...axis, size: 30, gap: 8, grid: { show: false }, splits: (/** @type {any} */ _u, /** @type {number} */ _i, /** @type {number} */ lo, /** @type {number} */ hi) => hours(lo, hi, this.box.clientWidth),
          values: (/** @type {any} */ _u, /** @type {number[]} */ at) => at.map(elapsed) },
        { ...axis, size: 66, gap: 8, grid: { stroke: ink.faint, width: 1 }, space: 56, values: (/** @type {any} */ _u, /** @type {number[]} */ at) => at.map((c) => `${c} °${what.unit}`) },
      ],
      series: [{}, { stroke: ink.ink, width: 3.25, points: { show: false } }],
      hooks: {
        drawAxes: [(/** @type {any} */ plot) => this.quiet(plot, ink)],
        draw: [(/** @type {any} */ plot) => this.labels(plot, ink)],
      },
    };
  }

  /** @param {any} plot @param {ReturnType<typeof look>} ink */
  quiet(plot, ink) {
    const { shown, zero, front, unit } = /** @type {Shown} */ (this.what);
    const [{ ctx }, dot] = [plot, window.devicePixelRatio];
    ctx.save();
    ctx.strokeStyle = ink.load;
    ctx.lineWidth = dot * (shown.length > 40 ? 1 : 1.75);
    ctx.globalAlpha = Math.max(0.3, Math.min(1, 12 / shown.length)); // where many went the same way it is darker
    ctx.lineJoin = "round";
    for (const each of shown) {
      if (each === front) continue;
      const { t_s, air_c } = each.curve;
      const start = zero(each);
      let down = false;
      ctx.beginPath();
      for (let i = 0; i < t_s.length; i += 1) {
        if (air_c[i] === null) { down = false; continue; }
        const [px, py] = [plot.valToPos(t_s[i] - start, "x", true), plot.valToPos(inUnit(air_c[i], unit), "y", true)];
        if (down) ctx.lineTo(px, py);
        else ctx.moveTo(px, py);
        down = true;
      }
      ctx.stroke();
    }
    ctx.restore();
  }

  /** The moment of alignment, and the curves' numbers at their ends. @param {any} plot @param {ReturnType<typeof look>} ink */
  labels(plot, ink) {
    const { shown, front, aligned, named } = /** @type {Shown} */ (this.what);
    const { ctx, bbox } = plot;
    const dot = window.devicePixelRatio;
    ctx.save();
    ctx.font = FONT.replace("14px", `${14 * dot}px`).replace("500", "650");
    if (aligned) {
      const x = Math.round(plot.valToPos(0, "x", true));
      ctx.setLineDash([2 * dot, 4 * dot]);
      ctx.strokeStyle = ink.soft;
      ctx.lineWidth = dot;
      ctx.beginPath();
      ctx.moveTo(x, bbox.top - 4 * dot);
      ctx.lineTo(x, bbox.top + bbox.height);
      ctx.stroke();
      ctx.setLineDash([]);
    }
    const ends = shown.filter((each) => named || each === front).map((each) => this.end(plot, each, dot)).filter((end) => end !== null).sort((a, b) => b.y - a.y);
    ctx.strokeStyle = ink.paper;
    ctx.lineWidth = 4 * dot;
    let above = Infinity; // names that would stand on each other are moved up
    for (const { x, y, each } of ends) {
      above = Math.min(y, above - 15 * dot);
      ctx.fillStyle = each === front ? ink.ink : ink.soft;
      if (!named) ctx.strokeText(count(each.firing), x, above); // it stands among the quiet ones
      ctx.fillText(count(each.firing), x, above);
    }
    ctx.restore();
  }

  /** Where a curve's number stands: right of its last reading. @param {any} plot @param {any} each @param {number} dot */
  end(plot, each, dot) {
    const { zero, unit } = /** @type {Shown} */ (this.what);
    const last = each.curve.air_c.findLastIndex((/** @type {number | null} */ c) => c !== null);
    if (last < 0) return null;
    return { each, x: plot.valToPos(each.curve.t_s[last] - zero(each), "x", true) + 6 * dot,
      y: plot.valToPos(inUnit(each.curve.air_c[last], unit), "y", true) + 5 * dot };
  }

  /** The firing whose curve was touched; none where none is near. @param {MouseEvent} event */
  nearest(event) {
    const { shown, zero, unit } = this.what ?? { shown: [], zero: () => 0, unit: /** @type {Unit} */ ("C") };
    const over = this.plot?.over.getBoundingClientRect();
    if (!over) return null;
    const [t, y] = [this.plot.posToVal(event.clientX - over.left, "x"), event.clientY - over.top];
    const far = shown.map((each) => ({ each, px: Math.abs(this.plot.valToPos(inUnit(at(each.curve, t + zero(each)), unit), "y") - y) }));
    return far.filter((one) => one.px <= NEAR).sort((a, b) => a.px - b.px)[0]?.each ?? null;
  }
}

/** A curve's temperature at a time, between its points; NaN outside. @param {any} curve @param {number} t */
export function at({ t_s, air_c }, t) {
  const i = t_s.findIndex((/** @type {number} */ each) => each >= t);
  if (i < 0 || (i === 0 && t_s[0] > t)) return NaN;
  if (i === 0) return air_c[0] ?? NaN;
  const part = (t - t_s[i - 1]) / (t_s[i] - t_s[i - 1] || 1);
  return air_c[i - 1] === null || air_c[i] === null ? NaN : air_c[i - 1] + part * (air_c[i] - air_c[i - 1]);
}
