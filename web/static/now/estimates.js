/**
 * What is estimated and not measured: when the shell is ready for the pour, its core, water, plastic and strength,
 * each with its band. Fetched after the first frame and renewed as the server says; grey, with since when, once it
 * is old. Nothing here is drawn like a measurement: every number stands behind a dashed line and says "estimate".
 */

import { clock, count, duration, inUnit, share, temperature } from "../shared/format.js";
import { el, fill, make, put, shape, show } from "../shared/page.js";

/** @typedef {import("../shared/format.js").Unit} Unit */
/** @typedef {{low: number | null, typical: number | null, high: number | null}} Band */

const STYLE = "/static/estimates.css";
// Older than so many renewals it is not to be believed any more; in seconds, at least.
const OLD_RENEWALS = 3;
const OLD_LEAST_S = 45;
const AGAIN_S = 20;

export class Estimates {
  /** @param {(told: any | null) => void} onNew called with each newer estimate, null when there is none */
  constructor(onNew) {
    this.onNew = onNew;
    /** @type {any} */
    this.told = null;
    this.madeMs = 0;
    this.againMs = 0;
    this.fetching = false;
    document.head.append(Object.assign(document.createElement("link"), { rel: "stylesheet", href: STYLE }));
    window.setInterval(() => this.look(), 1000);
  }

  /** @param {any} frame @param {Unit} unit */
  draw(frame, unit) {
    const another = this.firing !== frame.firing;
    Object.assign(this, { frame, unit, firing: frame.firing });
    if (another) this.forget();
    this.look();
    this.show();
  }

  forget() {
    this.told = null;
    this.againMs = 0;
    this.onNew(null);
  }

  /** Fetch a newer one when it is time, somebody looks, and a firing goes on. */
  look() {
    this.age();
    if (this.frame?.firing == null || document.hidden || this.fetching || Date.now() < this.againMs) return;
    this.fetch();
  }

  async fetch() {
    this.fetching = true;
    const { firing } = this;
    try {
      const told = await (await fetch("/api/estimates")).json();
      this.againMs = Date.now() + 1000 * (told.again_in_s ?? AGAIN_S);
      if (firing === this.firing && told.firing === firing) this.take(told);
    } catch {
      this.againMs = Date.now() + 1000 * AGAIN_S;
    }
    this.fetching = false;
  }

  /** @param {any} told */
  take(told) {
    if (!told.ok) {
      put("estimates-says", `No estimate: ${told.says}.`);
      return;
    }
    this.told = told;
    this.madeMs = Date.now() - 1000 * told.age_s;
    this.onNew(told);
    this.show();
  }

  isOld() {
    const renewalS = this.told?.again_in_s ?? AGAIN_S;
    return Date.now() - this.madeMs > 1000 * Math.max(OLD_LEAST_S, OLD_RENEWALS * renewalS);
  }

  /** Say how old it is, every second. */
  age() {
    if (!this.told) return;
    const old = this.isOld();
    el("estimates").classList.toggle("stale", old);
    put("estimates-age", old ? `Old: nothing newer since ${clock(this.madeMs, true)}.` : `Worked out at ${clock(this.madeMs, true)}.`);
  }

  show() {
    show("estimates", this.frame?.firing != null && this.told !== null);
    if (!this.told || !this.frame) return;
    const rows = [pourRow(this.told, this.frame), ...shellRows(this.told, this.unit ?? "C"), energyRow(this.told)].filter((row) => row !== null);
    fill(el("estimates-rows"), JSON.stringify(rows), () => rows.map(row));
    const grave = this.told.findings.filter((/** @type {any} */ f) => f.severity !== "note");
    fill(el("estimates-against"), JSON.stringify(grave), () => grave.map(against));
    show("estimates-against", grave.length > 0);
    put("estimates-says", [this.told.says, `Rests on: ${this.told.job.says}.`].filter(Boolean).join(" "));
    this.age();
  }
}

/** "16:10 to 17:20" or "6 h to 7 h", by whether the kiln runs with our clock. @param {Band} s @param {any} frame */
function between(s, frame) {
  if (s.low === null) return "nobody can say";
  if (s.high === null) return "or never";
  if (frame.speed > 1) return `${duration(s.low)} to ${duration(s.high)}`;
  return `${clock(Date.now() + 1000 * s.low)} to ${clock(Date.now() + 1000 * s.high)}`;
}

/** @param {any} told @param {any} frame @returns {string[] | null} name, number, band */
function pourRow(told, frame) {
  if (told.ready_s === null) return null;
  const spentS = Math.max(0, frame.mono_s - told.mono_s);
  const left = Object.fromEntries(Object.entries(told.ready_s).map(([k, s]) => [k, s === null ? null : Math.max(0, /** @type {number} */ (s) - spentS)]));
  const { typical } = left;
  if (typical === null) return ["Ready to pour", "never, as it goes", between(/** @type {Band} */ (left), frame)];
  if (typical < 60) return ["Ready to pour", "now", ""];
  return ["Ready to pour", `in ${duration(60 * Math.round(typical / 60))}`, between(/** @type {Band} */ (left), frame)];
}

/** What was used is the relay's time on at the kiln's power; what is to come is worked out. @param {any} told @returns {string[]} */
function energyRow(told) {
  const { low, high } = told.energy_kwh;
  const more = low === null || high === null ? "" : `and ${count(low)} to ${count(high)} kWh to come`;
  return ["Energy", `${count(told.used_kwh)}\u00a0kWh so far`, more];
}

/** @param {any} told @param {Unit} unit */
function shellRows(told, unit) {
  if (told.no_shell) return [];
  const { core_c: core, lag_k: lag, water_kg: water, plastic_kg: plastic, char_kg: char, strength_part: strength, heat_work_s: work } = told.shell;
  const behind = lag.typical > 1 ? `, ${differ(lag.typical, unit)} behind its face` : "";
  const rows = [
    ["Shell’s core", temperature(core.typical, unit), `${count(inUnit(core.low, unit))} to ${count(inUnit(core.high, unit))}${behind}`],
    ["Water left", ...left(water, "gone: it is dry")],
  ];
  if (!told.no_plastic) rows.push(["Plastic left", ...left(plastic, char.typical < 5e-4 ? "gone" : `gone; char ${grams(char.typical)}`)]);
  rows.push(["Strength", strength.high < 0.01 ? "green: not fired yet" : `${share(strength.typical)} of a full firing’s`,
    strength.high < 0.01 ? "" : `${share(strength.low)} to ${share(strength.high)}; as ${duration(work.typical)} at ${temperature(815, unit)}`]);
  return rows;
}

/** @param {number} k @param {Unit} unit */
const differ = (k, unit) => `${count(unit === "F" ? k * 1.8 : k)}\u00a0${unit === "F" ? "°F" : "K"}`;

/** An amount that goes, in plain words, and its band. @param {any} kg @param {string} gone */
function left(kg, gone) {
  if (kg.high < 1e-3) return [gone, ""];
  if (kg.typical < 1e-3) return ["hardly any", `at most ${grams(kg.high)}`];
  return [grams(kg.typical), `${grams(kg.low)} to ${grams(kg.high)}`];
}

/** No finer than it is known: two figures. @param {number} kg */
const grams = (kg) => (kg >= 1 ? `${Number(kg.toPrecision(2))}\u00a0kg` : `${Number((1000 * kg).toPrecision(2))}\u00a0g`);

/** @param {string[]} texts */
function row([name, number, band]) {
  return make("div", "estimate", make("dt", "", name), make("dd", "", make("b", "num", number), " ", make("span", "label num", band)));
}

/** @param {any} finding */
function against(finding) {
  const line = make("li", "", shape("quiet-alarm"), make("span", "", make("b", "", finding.says), ` ${finding.remedy}`));
  return line;
}
