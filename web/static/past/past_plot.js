/**
 * The curve of a past firing, to be read and looked at closely: stages as bands, events as marks. It is thinned
 * by the server for what is shown; a closer look fetches that stretch anew, down to every tick.
 */

import { day, duration, inUnit, temperature, timeOfDay } from "../shared/format.js";
import { library } from "../shared/library.js";
import { make } from "../shared/page.js";
import { bands, eventMarks, FONT, hours, look } from "./past_marks.js";
import { button } from "./past_list.js";

/** @typedef {import("../shared/format.js").Unit} Unit */

/** Its name in the data, its words, how it is drawn (plot.js has the same look). */
export const LINES = [
  { key: "plan", words: "plan, had nothing waited", css: "soft", width: 1.5, dash: [5, 5] },
  { key: "limit_c", words: "limit sensor", css: "soft", width: 1.25, dash: [2, 3] },
  { key: "load_c", words: "load", css: "load", width: 4, dash: [] },
  { key: "setpoint_c", words: "setpoint", css: "set", width: 1.25, dash: [] },
  { key: "air_c", words: "air", css: "ink", width: 3.25, dash: [] },
];
const NARROWEST_S = 60;

export class PastPlot {
  /** @param {any} firing as the server tells it @param {(path: string) => Promise<any>} get @param {Unit} unit */
  constructor(firing, get, unit) {
    this.firing = firing;
    this.get = get;
    this.unit = unit;
    this.hidden = new Set(["plan", "limit_c"]);
    this.whole = { from: 0, to: Math.max(firing.duration_s, NARROWEST_S) };
    this.shown = { ...this.whole };
    /** @type {any} */
    this.curve = null;
    /** @type {any} */
    this.plot = null;
    this.asked = 0;
    this.box = make("div", "past-plot");
    this.box.tabIndex = 0;
    this.box.setAttribute("role", "img");
    this.box.setAttribute("aria-label", `Curve of firing ${firing.firing}: up to ${temperature(firing.measures.peak_air_c, unit)} in ${duration(firing.duration_s)}. The stages, measures and events below say it in words.`);
    this.readout = make("p", "past-readout");
    this.out = button("Whole firing", "plain small", () => this.show(this.whole.from, this.whole.to));
    this.keys = make("div", "past-keys");
    this.keys.setAttribute("role", "group");
    this.keys.setAttribute("aria-label", "Lines");
    this.node = make("div", "", this.box, this.readout, this.keys);
    this.listen();
  }

  listen() {
    new ResizeObserver(() => this.resize()).observe(this.box);
    window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.build());
    this.box.addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => this.key(event));
    let from = -1; // a finger's drag: the drawing library itself knows a mouse only
    const at = (/** @type {PointerEvent} */ event) => event.clientX - this.plot.over.getBoundingClientRect().left;
    const finger = (/** @type {string} */ kind, /** @type {(event: PointerEvent) => void} */ act) =>
      this.box.addEventListener(kind, (/** @type {PointerEvent} */ event) => { if (this.plot && event.pointerType !== "mouse") act(event); });
    finger("pointerdown", (event) => { from = at(event); this.plot.setCursor({ left: from, top: 10 }); });
    finger("pointermove", (event) => {
      if (from < 0) return;
      this.plot.setCursor({ left: at(event), top: 10 });
      const [left, right] = [Math.min(from, at(event)), Math.max(from, at(event))];
      this.plot.setSelect({ left, width: right - left, top: 0, height: this.plot.over.clientHeight }, false);
    });
    finger("pointerup", (event) => { const start = from; from = -1; this.select(start, at(event)); });
    finger("pointercancel", () => { from = -1; this.plot.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false); });
  }

  /** @param {number} a @param {number} b in pixels from the plot's left edge */
  select(a, b) {
    this.plot.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false);
    if (Math.abs(a - b) < 12) return;
    this.show(this.plot.posToVal(Math.min(a, b), "x"), this.plot.posToVal(Math.max(a, b), "x"));
  }

  /** Arrows read the curve; plus, minus and nought look closer, wider, at all of it. @param {KeyboardEvent} event */
  key(event) {
    const { from, to } = this.shown;
    const left = this.plot?.cursor.left ?? 0;
    const middle = left >= 0 ? this.plot?.posToVal(left, "x") : (from + to) / 2;
    const span = to - from;
    /** @type {Record<string, () => void>} */
    const does = {
      ArrowLeft: () => this.plot.setCursor({ left: Math.max(0, left - 4), top: 10 }),
      ArrowRight: () => this.plot.setCursor({ left: Math.min(this.plot.over.clientWidth - 1, Math.max(0, left) + 4), top: 10 }),
      "+": () => this.show(middle - span / 4, middle + span / 4),
      "-": () => this.show(middle - span, middle + span),
      0: () => this.show(this.whole.from, this.whole.to),
    };
    if (!this.plot || !does[event.key]) return;
    event.preventDefault();
    does[event.key]();
  }

  /** Show a stretch; its full data come a moment later. @param {number} from @param {number} to seconds */
  async show(from, to) {
    const wide = Math.max(NARROWEST_S, to - from);
    const first = Math.max(this.whole.from, Math.min(from, this.whole.to - wide));
    this.shown = { from: first, to: Math.min(this.whole.to, first + wide) };
    const all = this.shown.from <= this.whole.from && this.shown.to >= this.whole.to;
    this.out.hidden = all;
    this.plot?.setScale("x", { min: this.shown.from, max: this.shown.to });
    const asked = ++this.asked;
    const stretch = all ? "" : `?from=${this.shown.from.toFixed(1)}&to=${this.shown.to.toFixed(1)}`;
    const curve = await this.get(`/api/firings/${this.firing.firing}/curve${stretch}`);
    if (asked !== this.asked) return; // somebody has looked elsewhere meanwhile
    this.curve = curve;
    this.box.dataset.points = String(curve.t_s.length);
    if (!(await library())) return this.say("The part that draws the curve is missing here.");
    if (this.plot) this.plot.setData(this.data(), false);
    else this.build();
    this.plot?.setScale("x", { min: this.shown.from, max: this.shown.to });
    this.say("");
  }

  /** Measured columns and the plan on one axis of time. */
  data() {
    const { curve, firing, unit } = this;
    const to = (/** @type {(number | null)[]} */ values) => values.map((c) => (c === null ? null : inUnit(c, unit)));
    const measured = [curve.t_s, ...LINES.slice(1).map((line) => to(curve[line.key]))];
    if (!firing.plan.t_s.length) return [measured[0], measured[0].map(() => null), ...measured.slice(1)];
    return /** @type {any} */ (window).uPlot.join([[firing.plan.t_s, to(firing.plan.c)], measured]);
  }

  build() {
    this.plot?.destroy();
    this.plot = null;
    if (!this.curve || !(/** @type {any} */ (window).uPlot) || this.box.clientWidth < 50) return;
    const UPlot = /** @type {any} */ (window).uPlot;
    this.plot = new UPlot(this.options(look()), this.data(), this.box);
    this.plot.setScale("x", { min: this.shown.from, max: this.shown.to });
    this.drawKeys();
  }

  /** @param {ReturnType<typeof look>} ink */
  options(ink) {
    const axis = { stroke: ink.soft, font: FONT, ticks: { show: false } };
    const top = (inUnit(Math.max(...LINES.slice(2).flatMap((line) => this.curve[line.key].map(Number))), this.unit));
    return {
      width: this.box.clientWidth,
      height: this.box.clientHeight,
      legend: { show: false },
      cursor: { y: false, points: { show: false }, drag: { x: true, y: false, setScale: false, dist: 12 },
        bind: { dblclick: () => () => { this.show(this.whole.from, this.whole.to); return null; } } },
      padding: [26, 12, 0, 0],
      scales: { x: { time: false, auto: false, range: (/** @type {any} */ _u, /** @type {number} */ lo, /** @type {number} */ hi) => [lo ?? 0, hi ?? 1] },
        y: { range: (/** @type {any} */ _u, /** @type {number} */ lo, /** @type {number} */ hi) => [this.out.hidden ? Math.min(0, lo ?? 0) : lo ?? 0, (this.out.hidden ? Math.max(top, hi ?? 0) : hi ?? top) * 1.05] } },
      axes: [
        { ...axis, size: 30, gap: 8, grid: { show: false }, splits: (/** @type {any} */ _u, /** @type {number} */ _i, /** @type {number} */ lo, /** @type {number} */ hi) => hours(lo, hi, this.box.clientWidth),
          values: (/** @type {any} */ _u, /** @type {number[]} */ at) => at.map(elapsed) },
        { ...axis, size: 66, gap: 8, grid: { stroke: ink.faint, width: 1 }, space: 56, values: (/** @type {any} */ _u, /** @type {number[]} */ at) => at.map((c) => `${c} °${this.unit}`) },
      ],
      series: [{}, ...LINES.map((line) => ({ points: { show: false }, spanGaps: false, show: !this.hidden.has(line.key),
        stroke: ink[/** @type {"ink"} */ (line.css)], width: line.width, dash: line.dash }))],
      hooks: { drawClear: [(/** @type {any} */ plot) => bands(plot, this.firing.stages, ink)],
        draw: [(/** @type {any} */ plot) => eventMarks(plot, this.firing.events, ink)],
        setCursor: [() => this.read()],
        setSelect: [(/** @type {any} */ plot) => { if (plot.select.width > 0) this.select(plot.select.left, plot.select.left + plot.select.width); }] },
    };
  }

  /** Say what stands under the cursor. */
  read() {
    const at = this.plot?.cursor.left;
    if (!this.plot || at === undefined || at < 0) return this.say("");
    const t = this.plot.posToVal(at, "x");
    const { curve, firing, unit } = this;
    let i = curve.t_s.findIndex((/** @type {number} */ s) => s >= t);
    if (i < 0) i = curve.t_s.length - 1;
    if (i > 0 && t - curve.t_s[i - 1] < curve.t_s[i] - t) i -= 1;
    const stage = firing.stages.findLast((/** @type {any} */ each) => each.begins_s <= t);
    const read = LINES.slice(1).filter((line) => !this.hidden.has(line.key) && curve[line.key][i] !== null)
      .map((line) => `${line.words} ${temperature(curve[line.key][i], unit)}`).reverse();
    this.say([`${moment(firing, t)}${stage ? `, ${stage.name}` : ""}:`, read.join(", ") || "no reading"].join(" "));
  }

  /** @param {string} text what is read, or empty */
  say(text) {
    this.readout.replaceChildren(make("span", "", text || "Touch the curve to read it; draw across it to look closer."), this.out);
  }

  /** The key of the lines: each can be shown and hidden. */
  drawKeys() {
    const there = LINES.filter((line) => line.key === "plan" ? this.firing.plan.t_s.length : this.curve[line.key].some((/** @type {any} */ c) => c !== null));
    this.keys.replaceChildren(...[...there].reverse().map((line) => {
      const toggle = button("", "past-key", () => this.toggle(line.key));
      const sample = make("span", `sample sample-${line.key}`);
      toggle.setAttribute("aria-pressed", String(!this.hidden.has(line.key)));
      toggle.append(sample, line.words);
      return toggle;
    }));
  }

  /** @param {string} key */
  toggle(key) {
    if (!this.hidden.delete(key)) this.hidden.add(key);
    const place = LINES.findIndex((line) => line.key === key);
    this.plot.setSeries(place + 1, { show: !this.hidden.has(key) });
    const pressed = [...this.keys.children].find((node) => node.textContent === LINES[place].words);
    pressed?.setAttribute("aria-pressed", String(!this.hidden.has(key)));
  }

  /** @param {Unit} unit */
  use(unit) {
    this.unit = unit;
    this.build();
  }

  resize() {
    if (this.plot && this.box.clientWidth > 50) this.plot.setSize({ width: this.box.clientWidth, height: this.box.clientHeight });
    else this.build();
  }
}

/** Hours and minutes since the beginning. @param {number} s */
export function elapsed(s) {
  const minutes = Math.round(Math.abs(s) / 60);
  const sign = s < 0 ? "−" : "";
  return minutes % 60 === 0 ? `${sign}${minutes / 60} h` : minutes < 60 ? `${sign}${minutes} min` : `${sign}${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}`;
}

/** A moment of a firing: since its beginning and, where the kiln ran with our clock, the time of day. @param {any} firing @param {number} t_s @param {number} [utc_s] */
export function moment(firing, t_s, utc_s) {
  const minutes = Math.round(Math.max(0, t_s) / 60);
  const since = `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}\u00a0h`;
  if (firing.speed !== 1) return since;
  const ms = 1000 * (utc_s ?? firing.started_utc_s + t_s);
  const otherDay = day(ms) !== day(firing.started_utc_s * 1000);
  return `${since} (${otherDay ? `${day(ms).split(",")[0]} ` : ""}${timeOfDay(ms)})`;
}
