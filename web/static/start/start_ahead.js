/** The third step: what is to come. A forecast, and when somebody has to be there; all of it an estimate, and said so. */

import { AheadPlot } from "./ahead_plot.js";
import { findingList, forecastCurve, stands } from "./findings.js";
import { clock, temperature } from "../shared/format.js";
import { make } from "../shared/page.js";
import { send } from "../shared/server.js";

/** @typedef {import("../shared/format.js").Unit} Unit */

// A start this much later than now is for later: somebody comes back for it.
const LATER_S = 120;

export class AheadStep {
  /** @param {import("./start.js").Chosen} chosen @param {Unit} unit @param {() => void} told the button's words may be others now */
  constructor(chosen, unit, told) {
    this.title = "What is to come?";
    this.next = "Next";
    this.chosen = chosen;
    this.unit = unit;
    this.told = told;
    this.asked = new AbortController();
    /** @type {any} */
    this.made = null;
    this.plot = new AheadPlot(unit);
    this.at = make("input", "text");
    Object.assign(this.at, { type: "datetime-local", id: "pour-at" });
    this.at.addEventListener("change", () => this.ask());
    this.whenBox = make("div", "when-box");
    this.says = make("div", "ahead-says");
    this.says.setAttribute("role", "status");
    this.node = make("div", "step-ahead", this.choice(), this.says);
  }

  choice() {
    const one = (/** @type {string} */ value, /** @type {string} */ words) => {
      const input = make("input", "");
      Object.assign(input, { type: "radio", name: "when", value, checked: value === "now" });
      input.addEventListener("change", () => this.turn(value));
      return make("label", "choice", input, make("span", "", words));
    };
    this.later = make("div", "later", label("pour-at", "Pour at"), this.at);
    this.later.hidden = true;
    return make("fieldset", "choices", make("legend", "hidden", "When"), one("now", "Start now"), one("pour", "Pour at a time"), this.later);
  }

  /** @param {string} value */
  turn(value) {
    this.later.hidden = value === "now";
    if (value === "pour" && !this.at.value) this.at.value = local(this.made?.ready_utc_s?.typical ?? Date.now() / 1000 + 43200);
    this.ask();
  }

  enter() {
    this.ask();
  }

  async leave() {
    return true;
  }

  /** @param {Unit} unit */
  use(unit) {
    this.unit = unit;
    this.plot.use(unit);
    if (this.made) this.draw();
  }

  async ask() {
    const { schedule, job } = this.chosen;
    this.asked.abort();
    this.asked = new AbortController();
    this.says.replaceChildren(make("p", "label", "Working it out …"));
    const pour = this.later.hidden ? {} : { pour_at_utc_s: new Date(this.at.value).getTime() / 1000 };
    try {
      const { ok, body } = await send("/api/forecast", { schedule: `${schedule.text}\n`, ...(job ? { job } : {}), ...pour }, this.asked.signal);
      if (!ok) throw new Error(body.says);
      this.made = body;
      this.draw();
    } catch (error) {
      const { name, message } = /** @type {Error} */ (error);
      if (name !== "AbortError") this.lacks(message);
    }
  }

  /** A firing does not need a forecast. @param {string} message */
  lacks(message) {
    this.made = null;
    this.next = "Go on without a forecast";
    this.says.replaceChildren(make("p", "answer", `There is no forecast: ${message}`));
    this.told();
  }

  draw() {
    const { made } = this;
    const wait_s = this.later.hidden ? 0 : made.start_utc_s - Date.now() / 1000;
    this.next = wait_s > LATER_S ? "Start now all the same" : stands(made.findings) ? "Go on all the same" : "Next";
    this.told();
    this.says.replaceChildren(...this.comeBack(wait_s), this.moments(), findingList(made.findings), this.curve(), this.rests());
  }

  /** Nothing starts by itself. @param {number} wait_s */
  comeBack(wait_s) {
    const { made } = this;
    const says = made.says ? [make("p", "", made.says)] : [];
    if (wait_s <= LATER_S) return says;
    return [make("div", "come-back", make("p", "title", `Come back at ${clock(made.start_utc_s * 1000)}`),
      make("p", "", "Nothing starts by itself: somebody must stand at the kiln, look at it, and start it. This page keeps no appointment."), ...says)];
  }

  /** When what is wanted, in order. */
  moments() {
    const { made } = this;
    const rows = made.rows.filter((/** @type {any} */ row) => row.person)
      .map((/** @type {any} */ row) => [row.begins_utc_s, "You are needed", row.name, band(made.start_utc_s, row.begins_s), row.if_nobody_comes]);
    if (made.furnace) rows.push([made.furnace.lights_utc_s.typical, "Light the melting furnace", furnace(made.furnace, this.unit), clockBand(made.furnace.lights_utc_s), ""]);
    if (made.ready_utc_s) rows.unshift([made.ready_utc_s.typical, "Ready to pour", "", clockBand(made.ready_utc_s), ""]);
    rows.push([made.start_utc_s, "It starts", "", "", ""], [made.end_utc_s?.typical ?? Infinity, "It ends", "", clockBand(made.end_utc_s), ""]);
    rows.sort((/** @type {any[]} */ a, /** @type {any[]} */ b) => (a[0] ?? Infinity) - (b[0] ?? Infinity));
    return make("ol", "moments", ...rows.map(moment));
  }

  curve() {
    this.plot.draw(forecastCurve(this.made), "Forecast curve; the times above say it in words.");
    return make("figure", "", this.plot.node, make("figcaption", "label", "Estimated: the air dashed in its band, the shell’s core dotted. A dot at the foot: you are needed."));
  }

  /** What the estimate rests on. */
  rests() {
    const { made } = this;
    const { low, typical, high } = made.energy_kwh;
    return make("p", "label rests", `Estimates, meant to hold nine times in ten. Energy about ${typical.toFixed(0)} kWh (${low.toFixed(0)} to ${high.toFixed(0)}). Kiln: ${made.kiln.says}; ${made.kiln.model}. Job: ${made.job.says}.`);
  }
}

/** @param {string} id @param {string} words */
function label(id, words) {
  const node = make("label", "", words);
  node.htmlFor = id;
  return node;
}

/** @param {any[]} row */
function moment([utc_s, what, name, between, more]) {
  const known = utc_s !== null && Number.isFinite(utc_s);
  return make("li", "", make("span", "what", make("span", "name", what), ...[name, more].filter(Boolean).map((text) => make("span", "label", text))),
    make("span", "when", make("b", "", known ? clock(utc_s * 1000) : "never"), make("span", "label", between)));
}

/** @param {any} furnace @param {Unit} unit */
const furnace = ({ metal, metal_kg, pour_c }, unit) => `${metal_kg.typical.toFixed(1)} kg of ${metal} (${metal_kg.low.toFixed(1)} to ${metal_kg.high.toFixed(1)}), to pour at ${temperature(pour_c, unit)}`;

/** @param {{low: number | null, high: number | null} | null} of */
const clockBand = (of) => (of && of.low !== null && of.high !== null && of.high - of.low > 60 ? `${clock(of.low * 1000)} to ${clock(of.high * 1000)}` : "");

/** @param {number} start_utc_s @param {{low: number | null, high: number | null}} of seconds from the start */
const band = (start_utc_s, of) => clockBand({ low: of.low === null ? null : start_utc_s + of.low, high: of.high === null ? null : start_utc_s + of.high });

/** For the field of a date and a time, by this device's clock. @param {number} utc_s */
function local(utc_s) {
  const at = new Date(Math.ceil(utc_s / 900) * 900_000);
  return new Date(at.getTime() - at.getTimezoneOffset() * 60_000).toISOString().slice(0, 16);
}
