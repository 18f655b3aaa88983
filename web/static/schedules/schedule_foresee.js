/** A schedule’s forecast on this kiln, worked out anew after each change, for as long as somebody wants to see it. */

import { planAt } from "../start/ahead_plot.js";
import { findingList, forecastCurve } from "../start/findings.js";
import { duration } from "../shared/format.js";
import { make } from "../shared/page.js";
import { send } from "../shared/server.js";

// A forecast takes a second or more: one waits until a person stops typing.
const PAUSE_MS = 1200;

export class Foresee {
  /** @param {import("../start/ahead_plot.js").AheadPlot} plot */
  constructor(plot) {
    this.plot = plot;
    this.timer = 0;
    this.asked = new AbortController();
    /** @type {any} */
    this.found = null;
    this.wanted = make("input", "");
    Object.assign(this.wanted, { type: "checkbox", id: "foresee" });
    this.wanted.addEventListener("change", () => {
      this.plot.draw(this.found.plan, this.plot.words);
      this.follow(this.found);
    });
    const words = make("span", "", make("b", "", "Forecast it on this kiln"), make("small", "", "of a shell of which nothing was told; an estimate, with its band"));
    this.says = make("div", "foresee-says");
    this.says.setAttribute("role", "status");
    this.node = make("section", "foresee", make("label", "tick", this.wanted, words), this.says);
  }

  /** @param {any} found the schedule as it is now */
  follow(found) {
    this.found = found;
    this.asked.abort();
    window.clearTimeout(this.timer);
    this.says.replaceChildren();
    if (!found.plan || !this.wanted.checked) return;
    this.says.replaceChildren(make("p", "label", "Working it out …"));
    this.timer = window.setTimeout(() => this.ask(found), PAUSE_MS);
  }

  /** @param {any} found */
  async ask(found) {
    this.asked = new AbortController();
    try {
      const { ok, body } = await send("/api/forecast", { schedule: `${found.text}\n` }, this.asked.signal);
      if (!ok) throw new Error(body.says);
      this.draw(found.plan, body);
    } catch (error) {
      const { name, message } = /** @type {Error} */ (error);
      if (name !== "AbortError") this.says.replaceChildren(make("p", "answer", `There is no forecast: ${message}`));
    }
  }

  /** @param {any} plan @param {any} made */
  draw(plan, made) {
    const curve = forecastCurve(made);
    this.plot.draw({ ...curve, plan_c: planAt(plan, curve.t_s) }, this.plot.words);
    const { low, typical, high } = made.ready_s ?? made.end_s;
    const lasts = (/** @type {number | null} */ s) => (s === null ? "never" : duration(s));
    const what = made.ready_s ? "Ready to pour" : "Over";
    this.says.replaceChildren(make("p", "foresee-ready", `${what} after about ${lasts(typical)} (${lasts(low)} to ${lasts(high)}). Plan thin, forecast dashed in its band, the shell’s core dotted.`), findingList(made.findings));
  }
}
