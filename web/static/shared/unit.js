/** C or F: the viewer's choice, kept on this device and shared by all pages. */

/** @typedef {import("./format.js").Unit} Unit */

const KEY = "stokehold.unit";

/** @returns {Unit} */
function kept() {
  try {
    return localStorage.getItem(KEY) === "F" ? "F" : "C";
  } catch {
    return "C"; // storage is forbidden here: the choice lasts as long as the page
  }
}

/** @param {Unit} unit */
function keep(unit) {
  try {
    localStorage.setItem(KEY, unit);
  } catch { /* as above */ }
}

/** Connect the page's two buttons; return the unit as it is now. @param {(unit: Unit) => void} changed @returns {Unit} */
export function startUnit(changed) {
  const unit = kept();
  for (const input of document.querySelectorAll("input[name=unit]")) {
    const radio = /** @type {HTMLInputElement} */ (input);
    radio.checked = radio.value === unit;
    radio.addEventListener("change", () => {
      keep(/** @type {Unit} */ (radio.value));
      changed(/** @type {Unit} */ (radio.value));
    });
  }
  return unit;
}
