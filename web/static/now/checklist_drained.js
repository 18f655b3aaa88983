/** The plastic that came out, weighed: in grams or kilograms, as the scales show it. */

import { clock } from "../shared/format.js";
import { make, toast } from "../shared/page.js";

const grams = new Intl.NumberFormat(undefined, { maximumFractionDigits: 0, useGrouping: false });
const kilograms = new Intl.NumberFormat(undefined, { maximumFractionDigits: 3 });

/** "310 g", "1.25 kg". @param {number} kg */
export const mass = (kg) => (kg < 1 ? `${grams.format(kg * 1000)}\u00a0g` : `${kilograms.format(kg)}\u00a0kg`);

/** What a person typed, in either way of writing a decimal; null when it is no mass. @param {string} text @param {string} unit @returns {number | null} */
export function massKg(text, unit) {
  const number = /^\s*\d+([.,]\d+)?\s*$/.test(text) ? Number(text.trim().replace(",", ".")) : NaN;
  return Number.isFinite(number) ? (unit === "kg" ? number : number / 1000) : null;
}

export class Drained {
  /** @param {(what: Record<string, unknown>) => Promise<boolean>} tell */
  constructor(tell) {
    this.tell = tell;
    this.input = Object.assign(make("input", ""), { id: "drained", inputMode: "decimal", autocomplete: "off", enterKeyHint: "done" });
    const units = ["g", "kg"].map((unit) => {
      const radio = Object.assign(make("input", ""), { type: "radio", name: "drained-unit", value: unit, checked: unit === "g" });
      return make("label", "", radio, make("span", "", unit));
    });
    const choice = make("fieldset", "units", make("legend", "hidden", "Unit of mass"), ...units);
    const go = Object.assign(make("button", "go", "Keep"), { type: "submit" });
    this.kept = make("p", "drained-kept");
    this.form = make("form", "drained-form", make("div", "drained-row", this.input, choice, go));
    this.form.addEventListener("submit", (/** @type {SubmitEvent} */ event) => { event.preventDefault(); this.keep(); });
    const label = Object.assign(make("label", "", "Plastic that came out, weighed"), { htmlFor: "drained" });
    this.node = make("section", "checklist-part", make("h2", "title", "Drained"), label, this.form, this.kept);
    this.begin();
  }

  begin() {
    this.node.hidden = true;
    this.input.value = "";
    this.kept.textContent = "";
  }

  /** @param {any} list */
  take(list) {
    this.node.hidden = !list.drains;
    this.kept.textContent = list.drained ? `${mass(list.drained.kg)}, kept at ${clock(list.drained.utc_s * 1000)}.` : "";
  }

  async keep() {
    const unit = String(new FormData(this.form).get("drained-unit"));
    const kg = massKg(this.input.value, unit);
    if (kg === null || kg > 50) {
      toast(kg === null ? `Type the ${unit === "g" ? "grams" : "kilograms"} as a number.` : "More than 50 kg: is it grams?", "refused");
      this.input.focus();
      return;
    }
    if (await this.tell({ kind: "drained", kg })) this.input.value = "";
  }
}
