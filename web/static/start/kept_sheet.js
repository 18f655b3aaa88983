/**
 * A half-filled job sheet, kept on this device until its firing was started: a phone that was locked, or a page that
 * was loaded anew, costs no typing. It never leaves the device from here.
 */

/** @typedef {Record<string, string | boolean>} Told what stands in the fields, by their ids; what is empty is left out */

const KEY = "stokehold.sheet";
/** An older sheet is another shell's: our choice. */
const OLDEST_MS = 7 * 24 * 3600 * 1000;

/** The sheet, and when it was last written in; null when there is none, or none that can be read. @returns {{told: Told, at_ms: number} | null} */
export function keptSheet(now_ms = Date.now()) {
  try {
    const { told, at_ms } = JSON.parse(localStorage.getItem(KEY) ?? "{}");
    const right = Object.values(told).every((each) => typeof each === "string" || typeof each === "boolean");
    return right && at_ms <= now_ms && now_ms - at_ms < OLDEST_MS ? { told, at_ms } : null;
  } catch {
    return null;
  }
}

/** @param {Told} told */
export function keepSheet(told) {
  if (!Object.keys(told).length) return forgetSheet();
  try {
    localStorage.setItem(KEY, JSON.stringify({ told, at_ms: Date.now() }));
  } catch { /* storage is forbidden here, or full: the sheet lasts as long as the page */ }
}

export function forgetSheet() {
  try {
    localStorage.removeItem(KEY);
  } catch { /* as above */ }
}
