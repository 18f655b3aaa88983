/** The second step: what is fired. Nothing must be told; what is not told is taken from stated defaults. */

import { button } from "../past/past_list.js";
import { duration } from "../shared/format.js";
import { make } from "../shared/page.js";
import { send } from "../shared/server.js";
import { option } from "../schedules/schedule_field.js";
import { forgetSheet, keepSheet, keptSheet } from "./kept_sheet.js";

const HEADS = /** @type {Record<string, string>} */ ({ "": "The job", pattern: "Pattern", shell: "Shell", metal: "Metal" });

/** @typedef {{name: string, words: string, without: string, units: string[], choices: string[], yes_or_no: boolean, whole: boolean, rare: boolean}} Asked */
/** @typedef {{table: string, asked: Asked, input: any, unit: any, mistake: any}} Field */

export class JobStep {
  /** @param {import("./start.js").Chosen} chosen @param {{name: string, fields: Asked[]}[]} tables */
  constructor(chosen, tables) {
    this.title = "What is fired?";
    this.next = "Next";
    this.chosen = chosen;
    /** @type {Field[]} */
    this.fields = [];
    this.says = make("p", "answer");
    this.says.setAttribute("role", "alert");
    this.node = make("div", "job", make("p", "does", "Tell what you know. The more is told, the narrower the forecast. Nothing has to be told."),
      ...tables.map((table) => this.table(table)), this.says);
    this.node.addEventListener("input", () => { this.label(); keepSheet(this.filled()); });
    this.kept = make("div", "sheet-kept");
    this.kept.setAttribute("role", "status");
    this.node.prepend(this.kept);
    this.takeUp();
  }

  enter() {}

  /** What stands in the fields, by their ids. */
  filled() {
    /** @type {import("./kept_sheet.js").Told} */
    const told = {};
    for (const { asked, input, unit } of this.fields) {
      const value = asked.yes_or_no ? input.checked : input.value;
      if (value) Object.assign(told, { [input.id]: value }, unit.value ? { [`${input.id}-unit`]: unit.value } : {});
    }
    return told;
  }

  /** Fill in what this device has kept, and say so. */
  takeUp() {
    const kept = keptSheet();
    this.kept.hidden = !kept;
    if (!kept) return;
    this.fill(kept.told);
    const age_s = (Date.now() - kept.at_ms) / 1000;
    this.kept.replaceChildren(make("p", "", `Filled in before, and kept on this device: ${age_s < 60 ? "a moment" : duration(age_s)} ago.`),
      button("Empty the sheet", "small", () => this.empty()));
  }

  /** @param {import("./kept_sheet.js").Told} told */
  fill(told) {
    for (const { asked, input, unit } of this.fields) {
      const [value, of] = [told[input.id], told[`${input.id}-unit`]];
      if (asked.yes_or_no) input.checked = value === true;
      else input.value = typeof value === "string" ? value : "";
      if (unit.options) unit.value = [...unit.options].some((each) => each.value === of) ? of : unit.options[0].value;
      if (value) input.closest("details")?.setAttribute("open", "");
    }
  }

  empty() {
    forgetSheet();
    this.fill({});
    this.label();
    this.kept.replaceChildren(make("p", "", "The sheet is empty."));
    this.fields[0].input.focus();
  }

  use() {}

  label() {
    this.says.textContent = "";
  }

  /** @param {{name: string, fields: Asked[]}} table */
  table({ name, fields }) {
    const rows = (/** @type {boolean} */ rare) => fields.filter((asked) => asked.rare === rare).map((asked) => this.field(name, asked));
    const few = rows(true);
    const more = few.length ? [make("details", "more", make("summary", "", "More"), make("div", "fields", ...few))] : [];
    return make("section", "card", make("h2", "past-heading", HEADS[name] ?? name), make("div", "fields", ...rows(false)), ...more);
  }

  /** @param {string} table @param {Asked} asked */
  field(table, asked) {
    const id = `job-${table}-${asked.name}`;
    const input = make(asked.choices.length ? "select" : "input", "", ...asked.choices.length ? [option("", "not told"), ...asked.choices.map((each) => option(each, each))] : []);
    const kind = asked.yes_or_no ? { type: "checkbox" } : asked.units.length || asked.whole ? { inputMode: "decimal", autocomplete: "off", maxLength: 12 } : { maxLength: 100, autocomplete: "off" };
    Object.assign(input, asked.choices.length ? {} : kind, { id });
    const unit = asked.units.length > 1 ? make("select", "unit", ...asked.units.map((each) => option(each, /^[CF]$/.test(each) ? `°${each}` : each))) : make("span", "unit", asked.units[0] ?? "");
    if (asked.units.length > 1) unit.setAttribute("aria-label", `Unit of: ${asked.words}`);
    const mistake = make("p", "field-mistake");
    mistake.id = `${id}-mistake`;
    const hint = make("p", "field-without", asked.without ? `If not told: ${asked.without}` : "");
    hint.id = `${id}-hint`;
    input.setAttribute("aria-describedby", `${mistake.id} ${hint.id}`);
    const label = make("label", "", asked.words);
    label.htmlFor = id;
    this.fields.push({ table, asked, input, unit, mistake });
    return make("div", `field${asked.yes_or_no ? " field-tick" : ""}`, label, make("div", "with-unit", input, unit), mistake, hint);
  }

  /** The sheet as the job file's own text; empty when nothing is told. */
  text() {
    const lines = new Map();
    for (const { table, asked, input, unit } of this.fields) {
      const told = asked.yes_or_no ? (input.checked ? "true" : "") : input.value.trim();
      if (!told) continue;
      const value = asked.yes_or_no || (asked.whole && /^\d+$/.test(told)) ? told
        : quoted(asked.units.length && /^[\d.,]+$/.test(told) ? `${told.replace(",", ".")} ${unit.value ?? unit.textContent}` : told);
      lines.set(table, [...(lines.get(table) ?? []), `${asked.name} = ${value}`]);
    }
    return [...lines].map(([table, rows]) => `${table ? `[${table}]\n` : ""}${rows.join("\n")}\n`).join("\n");
  }

  /** Held against the job file's own rules; each mistake goes beside its field. */
  async leave() {
    const text = this.text();
    try {
      const { ok, body } = await send("/api/job", { text });
      if (!ok) throw new Error(body.says);
      const left = new Map(body.mistakes.map((/** @type {any} */ one) => [one.path.join("."), one.says]));
      for (const { table, asked, input, mistake } of this.fields) {
        const says = left.get([table, asked.name].filter(Boolean).join(".")) ?? "";
        mistake.textContent = says;
        input.setAttribute("aria-invalid", String(says !== ""));
        if (says) mistake.closest("details")?.setAttribute("open", "");
      }
      this.node.querySelector("[aria-invalid=true]")?.focus();
      this.says.textContent = body.ok ? "" : "Something is not right yet: see beside the fields.";
      if (body.ok) this.chosen.job = text;
      return body.ok;
    } catch (error) {
      this.says.textContent = /** @type {Error} */ (error).message;
      return false;
    }
  }
}

/** A TOML string; JSON's own form is one. @param {string} text */
const quoted = (text) => JSON.stringify(text).replaceAll("\u007f", "\\u007f");
