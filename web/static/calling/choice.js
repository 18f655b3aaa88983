/** What this device's user chose: kept on the device, or as long as the page where storage is forbidden. */

/** @type {Record<string, boolean>} */
const here = {};

/** What this device's user chose; kept on the device. @param {string} what @returns {boolean} */
export function chosen(what) {
  if (what in here) return here[what];
  try {
    here[what] = localStorage.getItem(`stokehold.${what}`) === "on";
  } catch {
    here[what] = false;
  }
  return here[what];
}

/** @param {string} what @param {boolean} on */
export function choose(what, on) {
  here[what] = on;
  try {
    localStorage.setItem(`stokehold.${what}`, on ? "on" : "off");
  } catch { /* storage is forbidden here: it lasts as long as the page */ }
}
