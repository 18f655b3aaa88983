/** A curve that is still to come: the planned line, or the forecast with its band; stages behind it, stops marked. */

import { duration, inUnit, temperature } from "../shared/format.js";
import { library } from "../shared/library.js";
import { make } from "../shared/page.js";
import { bands, FONT, hours, look } from "../past/past_marks.js";
import { elapsed } from "../past/past_plot.js";

/** @typedef {import("../shared/format.js").Unit} Unit */
/** @typedef {{name: string, start_s: number, end_s: number, needs_person: boolean}} StageAhead */
/**
 * @typedef {{t_s: number[], c: (number | null)[], core_c?: (number | null)[], low_c?: (number | null)[], high_c?: (number | null)[], plan_c?: (number | null)[], stages: StageAhead[]}} Curve
 * `c`: the plan; or the forecast of the air, with low and high as its band, the shell’s core, and the plan beside it.
 */

export class AheadPlot {
  /** @param {Unit} unit */
  constructor(unit) {
    this.unit = unit;
    /** @type {Curve | null} */
    this.curve = null;
    /** @type {any} */
    this.plot = null;
    this.words = "";
    this.node = make("div", "ahead-plot");
    this.node.setAttribute("role", "img");
    new ResizeObserver(() => this.resize()).observe(this.node);
    window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.build());
  }

  /** @param {Curve | null} curve null: it cannot be drawn now, and what is drawn is old @param {string} words */
  async draw(curve, words) {
    this.node.classList.toggle("stale", curve === null);
    if (curve === null) return;
    this.curve = curve;
    this.words = words;
    this.node.setAttribute("aria-label", words);
    this.node.dataset.points = String(curve.t_s.length);
    if (await library()) this.build();
  }

  build() {
    this.plot?.destroy();
    this.plot = null;
    if (!this.curve || !(/** @type {any} */ (window).uPlot) || this.node.clientWidth < 50) return;
    const UPlot = /** @type {any} */ (window).uPlot;
    const ink = look();
    this.plot = new UPlot(this.options(ink), this.data(), this.node);
  }

  data() {
    const { curve, unit } = this;
    if (!curve) return [[]];
    const to = (/** @type {(number | null)[] | undefined} */ values) => curve.t_s.map((_, i) => (values?.[i] === null || values?.[i] === undefined ? null : inUnit(Number(values[i]), unit)));
    return [curve.t_s, to(curve.low_c), to(curve.high_c), to(curve.plan_c), to(curve.core_c), to(curve.c)];
  }

  /** @param {ReturnType<typeof look>} ink */
  options(ink) {
    const stages = (this.curve?.stages ?? []).map((stage, index) => ({ name: stage.name, index, begins_s: stage.start_s, lasts_s: stage.end_s - stage.start_s }));
    const planned = !this.curve?.low_c;
    const axis = { stroke: ink.soft, font: FONT, ticks: { show: false } };
    const line = { points: { show: false }, spanGaps: true };
    return {
      width: this.node.clientWidth,
      height: this.node.clientHeight,
      legend: { show: false },
      cursor: { show: false },
      padding: [26, 12, 0, 0],
      scales: { x: { time: false }, y: { range: (/** @type {any} */ _u, /** @type {number} */ _lo, /** @type {number} */ hi) => [0, (hi || 100) * 1.06] } },
      axes: [
        { ...axis, size: 30, gap: 8, grid: { show: false }, splits: (/** @type {any} */ _u, /** @type {number} */ _i, /** @type {number} */ lo, /** @type {number} */ hi) => hours(lo, hi, this.node.clientWidth),
          values: (/** @type {any} */ _u, /** @type {number[]} */ at) => at.map(elapsed) },
        { ...axis, size: 66, gap: 8, grid: { stroke: ink.faint, width: 1 }, space: 46, values: (/** @type {any} */ _u, /** @type {number[]} */ at) => at.map((c) => `${c} °${this.unit}`) },
      ],
      bands: [{ series: [2, 1], fill: ink.faint }],
      series: [{}, { ...line, width: 0 }, { ...line, width: 0 }, { ...line, stroke: ink.ink, width: 1.5 },
        { ...line, stroke: ink.load, width: 3, dash: [2, 4] },
        { ...line, stroke: ink.ink, width: planned ? 2.5 : 2, dash: planned ? [] : [7, 4] }],
      hooks: { drawClear: [(/** @type {any} */ plot) => bands(plot, stages, ink)],
        draw: [(/** @type {any} */ plot) => stops(plot, this.curve?.stages ?? [], ink)] },
    };
  }

  /** @param {Unit} unit */
  use(unit) {
    this.unit = unit;
    this.build();
  }

  resize() {
    if (this.plot && this.node.clientWidth > 50) this.plot.setSize({ width: this.node.clientWidth, height: this.node.clientHeight });
    else this.build();
  }
}

/** An upright line and a dot at the foot for each stage that waits for a person. @param {any} plot @param {StageAhead[]} stages @param {ReturnType<typeof look>} ink */
function stops(plot, stages, ink) {
  const { ctx, bbox } = plot;
  const dot = window.devicePixelRatio;
  ctx.save();
  for (const stage of stages.filter((each) => each.needs_person)) {
    const x = Math.round(plot.valToPos(stage.start_s, "x", true));
    ctx.strokeStyle = ink.soft;
    ctx.lineWidth = dot;
    ctx.setLineDash([2 * dot, 4 * dot]);
    ctx.beginPath();
    ctx.moveTo(x, bbox.top);
    ctx.lineTo(x, bbox.top + bbox.height);
    ctx.stroke();
    ctx.beginPath();
    ctx.arc(x, bbox.top + bbox.height - 8 * dot, 5 * dot, 0, 2 * Math.PI);
    ctx.fillStyle = ink.ink;
    ctx.fill();
  }
  ctx.restore();
}

/** A planned curve in words. @param {any} plan as the server tells it @param {Unit} unit */
export function planInWords(plan, unit) {
  const stops = plan.stages.filter((/** @type {any} */ stage) => stage.needs_person).length;
  const needed = stops === 0 ? "nobody is needed on the way" : stops === 1 ? "you are needed once" : `you are needed ${stops} times`;
  return `${plan.estimated ? "about " : ""}${duration(plan.total_s)}, up to ${temperature(Math.max(...plan.c), unit)}, ${needed}`;
}

/** A planned line at other moments; nothing behind its end. @param {{t_s: number[], c: number[]}} plan @param {number[]} t_s */
export function planAt(plan, t_s) {
  let at = 1;
  return t_s.map((t) => {
    while (at < plan.t_s.length - 1 && plan.t_s[at] < t) at += 1;
    const [left, right] = [plan.t_s[at - 1], plan.t_s[at]];
    if (right === undefined || t > right) return null;
    return plan.c[at - 1] + ((plan.c[at] - plan.c[at - 1]) * (t - left)) / (right - left);
  });
}
