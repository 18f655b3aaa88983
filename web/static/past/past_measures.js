/** A firing's measures in words and numbers, and where its time went. */

import { count, degrees, difference, duration, share, temperature, tenth } from "../shared/format.js";
import { make } from "../shared/page.js";

/** @typedef {import("../shared/format.js").Unit} Unit */

/** Each measure that this firing has: its name and its number. @param {any} m @param {Unit} unit @returns {[string, string][]} */
export function measureLines(m, unit) {
  const known = (/** @type {any} */ value, /** @type {() => string} */ text) => (value === null ? "" : text());
  /** @type {[string, string][]} */
  const lines = [
    ["Peak of the load", known(m.peak_load_c, () => temperature(m.peak_load_c, unit))],
    ["Peak at the limit sensor", known(m.peak_limit_c, () => temperature(m.peak_limit_c, unit))],
    ["Worst overshoot at a hold", known(m.overshoot_k, () => difference(m.overshoot_k, unit))],
    ["Worst hold error, settled", known(m.hold_error_k, () => difference(m.hold_error_k, unit))],
    ["Load behind the air, at most", known(m.lag_k, () => difference(m.lag_k, unit))],
    [`At or above ${temperature(m.soak_c, unit)}`, known(m.soak_h, () => duration(m.soak_h * 3600))],
    [`Above ${temperature(m.hot_c, unit)}`, m.hot_h ? duration(m.hot_h * 3600) : ""],
    [`Heat work, as time at ${temperature(815, unit)}`, m.heat_work_h ? duration(m.heat_work_h * 3600) : ""],
    [`Steepest rise, ${degrees(80, unit)} to ${temperature(100, unit)}`, known(m.rise_through_c_per_h, () => rate(m.rise_through_c_per_h, unit))],
    ["Waited for a person", known(m.wait_h, () => duration(m.wait_h * 3600))],
    ["Shell at its release to pour", known(m.pour_c, () => temperature(m.pour_c, unit))],
    ["Heat on, in all", known(m.heat_h, () => duration(m.heat_h * 3600))],
    ["Duty, on average", known(m.duty, () => share(m.duty))],
    ["Relay switched on", m.switchings ? `${count(m.switchings)} times` : ""],
    ["Energy, from stated power", known(m.energy_kwh, () => `${tenth(m.energy_kwh)}\u00a0kWh`)],
    ["Cost, at the kiln’s tariff", known(m.cost, () => `${money.format(m.cost)}\u00a0${m.currency}`)],
  ];
  return lines.filter(([, value]) => value !== "");
}

const money = new Intl.NumberFormat(undefined, { minimumFractionDigits: 2, maximumFractionDigits: 2 });

/** @param {number} c_per_h @param {Unit} unit */
const rate = (c_per_h, unit) => `${count(unit === "F" ? c_per_h * 1.8 : c_per_h)}\u00a0°${unit}/h`;

/** For how long it was between which temperatures. @param {any} m @param {Unit} unit */
export function ranges(m, unit) {
  const most = Math.max(...m.ranges.map((/** @type {any} */ each) => each.h), 1e-9);
  const rows = m.ranges.filter((/** @type {any} */ each) => each.h > 0).map((/** @type {any} */ each) => {
    const words = each.from_c === null ? `below ${temperature(each.to_c, unit)}` : each.to_c === null ? `${temperature(each.from_c, unit)} and above` : `${degrees(each.from_c, unit)} to ${temperature(each.to_c, unit)}`;
    const bar = make("span", "range-bar", make("span", ""));
    bar.firstChild.style.width = `${(100 * each.h) / most}%`;
    return make("div", "", make("dt", "", words, bar), make("dd", "", duration(each.h * 3600)));
  });
  return rows.length ? [make("h3", "past-stop-name", "Where the time went"), make("dl", "past-measures", ...rows)] : [];
}
