/**
 * The live curve: what was measured as solid lines, the setpoint thin, the plan to come thin and dashed; what is
 * estimated (the shell's core, and the air to come as a band) dotted and grey.
 * The past comes from the record, thinned there; the present is added frame by frame. When many frames
 * have been added, the past is fetched again, so that thinning stays the record's business. Both are joined
 * by the controller's monotonic time; on the screen time begins with the firing.
 */

import { ENDED } from "./now.js";
import { inUnit, temperature, duration } from "../shared/format.js";
import { library } from "../shared/library.js";
import { colours, options } from "./plot.js";
import { el, put, show } from "../shared/page.js";

const LIVE_POINTS = 900;

/** @typedef {{t: number[], set: (number | null)[], air: (number | null)[], load: (number | null)[]}} Points */
/** @returns {Points} */
const none = () => ({ t: [], set: [], air: [], load: [] });

export class Curve {
  constructor() {
    /** @type {number | null} */
    this.firing = null;
    this.past = none();
    this.live = none();
    this.startS = 0; // the controller's monotonic time when the firing began
    /** @type {number[]} */
    this.stops = [];
    this.fetching = false;
    /** @type {any} */
    this.plot = null;
    this.dirty = false;
    this.ended = false;
    /** What is estimated, by the controller's monotonic time. @type {{t: number[], core: number[], low: (number | null)[], high: (number | null)[]} | null} */
    this.ahead = null;
    new ResizeObserver(() => this.resize()).observe(el("plot"));
    window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.rebuild());
  }

  /** @param {any} frame */
  add(frame) {
    const ended = ENDED.includes(frame.state);
    const justEnded = ended && !this.ended;
    this.ended = ended;
    if (justEnded) this.refetch();
    if (frame.firing !== this.firing && !ended) this.begin(frame);
    if (frame.firing === null) return;
    if (frame.mono_s <= (this.live.t.at(-1) ?? -Infinity)) return;
    this.live.t.push(frame.mono_s);
    this.live.set.push(frame.setpoint_c);
    this.live.air.push(frame.air.c);
    this.live.load.push(frame.load?.c ?? null);
    if (frame.person && !this.waited) this.stops.push(frame.mono_s - frame.person.waited_s);
    this.waited = frame.person !== null;
    if (this.live.t.length > LIVE_POINTS) this.refetch();
  }

  /** @param {any} frame */
  begin(frame) {
    const startS = frame.mono_s - frame.elapsed_s;
    Object.assign(this, { firing: frame.firing, startS, past: none(), live: none(), stops: [], waited: false });
    this.refetch();
  }

  async refetch() {
    if ((this.firing === null && !this.ended) || this.fetching) return;
    this.fetching = true;
    const { firing } = this;
    try {
      const got = await (await fetch("/api/curve")).json();
      const ours = got.firing === this.firing || (this.firing === null && this.ended);
      if (firing === this.firing && ours && got.mono_0_s !== null) this.take(got);
    } catch { /* the curve then begins with what comes live */ }
    this.fetching = false;
  }

  /** @param {any} got */
  take(got) {
    this.startS = got.mono_0_s;
    this.past = { t: got.t_s.map((/** @type {number} */ t) => t + this.startS), set: got.setpoint_c, air: got.air_c, load: got.load_c };
    const end = this.past.t.at(-1) ?? -Infinity;
    const keep = this.live.t.findIndex((t) => t > end);
    const cut = keep < 0 ? this.live.t.length : keep;
    for (const values of Object.values(this.live)) values.splice(0, cut);
  }

  /** Draw at the next animation frame, however often it is asked. @param {any} frame @param {import("../shared/format.js").Unit} unit */
  draw(frame, unit) {
    this.frame = frame;
    this.unit = unit;
    const shown = frame.firing !== null || (this.ended && this.past.t.length + this.live.t.length > 0);
    show("curve", shown);
    if (this.dirty || !shown) return;
    this.dirty = true;
    window.requestAnimationFrame(() => {
      this.dirty = false;
      this.drawNow();
    });
  }

  async drawNow() {
    if (!(await library())) {
      put("curve-says", "The part that draws it is missing here.");
      return;
    }
    if (!this.plot) this.build();
    this.plot?.setData(this.data());
    show("key-load", this.frame.load !== null);
    for (const key of ["key-core", "key-band"]) show(key, this.ahead !== null);
    this.describe();
  }

  /** Take a newer estimate; null: there is none. @param {any} told */
  foresee(told) {
    const { core_past: past = [], core = [], band = [] } = told?.curves ?? {};
    const at = (/** @type {number[]} */ [t]) => told.mono_s + t;
    this.ahead = told && {
      t: [...past, ...core].map(at),
      core: [...past, ...core].map(([, c]) => c),
      low: [...past.map(() => null), ...band.map((/** @type {number[]} */ [, c]) => c)],
      high: [...past.map(() => null), ...band.map((/** @type {number[]} */ [, , c]) => c)],
    };
    if (this.frame) this.draw(this.frame, this.unit ?? "C");
  }

  /** Measured points, the plan's and the estimates', joined: null is a gap, undefined is another line's time. */
  data() {
    const { frame, past, live, unit } = this;
    /** @type {[number, number][]} */
    const plan = frame.plan.map((/** @type {[number, number]} */ [s, c], /** @type {number} */ i) => [frame.mono_s + s + i * 1e-3, c]);
    const to = (/** @type {(number | null)[]} */ values) =>
      values.map((c) => (c === null ? null : inUnit(c, unit ?? "C")));
    const since = (/** @type {number[]} */ at) => at.map((t) => t - this.startS);
    const { ahead } = this;
    const UPlot = /** @type {any} */ (window).uPlot;
    return UPlot.join([
      [since(ahead?.t ?? []), to(ahead?.low ?? []), to(ahead?.high ?? [])],
      [since(plan.map(([t]) => t)), to(plan.map(([, c]) => c))],
      [since([...past.t, ...live.t]), ...["load", "set", "air"].map((/** @type {"air"} */ of) => [...to(past[of]), ...to(live[of])])],
      [since(ahead?.t ?? []), to(ahead?.core ?? [])],
    ]);
  }

  /** Seconds from the firing's start to the newest frame. */
  nowS() {
    return this.frame.mono_s - this.startS;
  }

  build() {
    const box = el("plot");
    if (box.clientWidth < 50) return;
    const UPlot = /** @type {any} */ (window).uPlot;
    this.plot = new UPlot(options(this, box.clientWidth, box.clientHeight, colours()), this.data(), box);
  }

  resize() {
    const box = el("plot");
    if (this.plot && box.clientWidth > 50) this.plot.setSize({ width: box.clientWidth, height: box.clientHeight });
  }

  rebuild() {
    this.plot?.destroy();
    this.plot = null;
    if (this.frame) this.draw(this.frame, this.unit ?? "C");
  }

  /** The curve in words, for who cannot see it. */
  describe() {
    const { frame } = this;
    const unit = this.unit ?? "C";
    const end = frame.plan.at(-1);
    put("curve-words", `After ${duration(frame.elapsed_s)} the air is at ${temperature(frame.air.c, unit)}, the setpoint at ` +
      `${temperature(frame.setpoint_c, unit)}.${end ? ` The plan goes on for ${duration(end[0])}.` : ""}`);
    put("curve-says", `${duration(frame.elapsed_s)} so far`);
  }
}
