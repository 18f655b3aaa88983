/**
 * Numbers, durations and times as a person reads them: in the unit that this device's user chose, with
 * the digits, clock and weekday of the device's own language. Pure functions; nothing here touches the page.
 */

/** @typedef {"C" | "F"} Unit */

const whole = new Intl.NumberFormat(undefined, { maximumFractionDigits: 0, useGrouping: false });
const percent = new Intl.NumberFormat(undefined, { style: "percent", maximumFractionDigits: 0 });
const minuteClock = new Intl.DateTimeFormat(undefined, { hour: "numeric", minute: "2-digit" });
const secondClock = new Intl.DateTimeFormat(undefined, { hour: "numeric", minute: "2-digit", second: "2-digit" });
const dayFormat = new Intl.DateTimeFormat(undefined, { weekday: "short", day: "numeric", month: "short", year: "numeric" });
const tenths = new Intl.NumberFormat(undefined, { minimumFractionDigits: 1, maximumFractionDigits: 1 });
const weekday = new Intl.DateTimeFormat(undefined, { weekday: "short" });

/** @param {number} c degrees Celsius @param {Unit} unit @returns {number} */
export const inUnit = (c, unit) => (unit === "F" ? c * 1.8 + 32 : c);

/** The bare number, for where the unit stands beside it. @param {number | null | undefined} c @param {Unit} unit */
export function degrees(c, unit) {
  return c === null || c === undefined ? "–" : whole.format(Math.round(inUnit(c, unit)));
}

/** With its unit. @param {number | null | undefined} c @param {Unit} unit */
export function temperature(c, unit) {
  return c === null || c === undefined ? "no reading" : `${degrees(c, unit)}\u00a0°${unit}`;
}

/** @param {number} fraction from 0 to 1 */
export const share = (fraction) => percent.format(fraction);

/** @param {number} n */
export const count = (n) => whole.format(n);

/** "1 h 12 min", "12 min", "45 s". @param {number} s seconds */
export function duration(s) {
  const seconds = Math.max(0, Math.round(s));
  if (seconds < 60) return `${whole.format(seconds)}\u00a0s`;
  const minutes = Math.round(seconds / 60);
  if (minutes < 60) return `${whole.format(minutes)}\u00a0min`;
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return `${whole.format(hours)}\u00a0h` + (minutes % 60 ? `\u00a0${whole.format(minutes % 60)}\u00a0min` : "");
  return `${whole.format(Math.floor(hours / 24))}\u00a0d\u00a0${whole.format(hours % 24)}\u00a0h`;
}

/** The device's clock; with the weekday when it is not today. @param {number} ms @param {boolean} [seconds] */
export function clock(ms, seconds = false) {
  const at = new Date(ms);
  const text = (seconds ? secondClock : minuteClock).format(at);
  return at.toDateString() === new Date().toDateString() ? text : `${weekday.format(at)} ${text}`;
}

/** A date with its year and weekday. @param {number} ms */
export const day = (ms) => dayFormat.format(new Date(ms));

/** The time of day alone. @param {number} ms */
export const timeOfDay = (ms) => minuteClock.format(new Date(ms));

/** With one decimal. @param {number} value */
export const tenth = (value) => tenths.format(value);

/** A difference of temperatures, with its unit. @param {number | null} k kelvin @param {Unit} unit */
export const difference = (k, unit) => (k === null ? "–" : `${tenths.format(unit === "F" ? k * 1.8 : k)}\u00a0${unit === "F" ? "°F" : "K"}`);

/** @param {string} text @returns {string} */
export const sentence = (text) => text.charAt(0).toUpperCase() + text.slice(1);
