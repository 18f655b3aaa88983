/** A schedule as a table: what stands at its top, its stages one below the other, and what follows an outage. */

import { make } from "../shared/page.js";
import { button } from "../past/past_list.js";
import { field } from "./schedule_field.js";

/** @typedef {import("./schedule_field.js").Field} Field */
/** @typedef {Record<string, string | boolean>} Fields */
/** @typedef {{fields: Fields, spare: Fields, was: number | null, open: boolean}} Row `spare`: what another kind of this stage had */

export class Table {
  /** @param {any} keys every key there is, as the server tells it @param {() => void} changed something was typed */
  constructor(keys, changed) {
    this.keys = keys;
    this.changed = changed;
    /** @type {Fields} */
    this.top = {};
    /** @type {Fields} */
    this.recovery = {};
    /** @type {Row[]} */
    this.rows = [];
    /** @type {Field[]} */
    this.fields = [];
    this.node = make("div", "table");
  }

  /** @param {{top: Fields, recovery: Fields, stages: Fields[]}} sheet */
  take(sheet) {
    this.top = { ...sheet.top };
    this.recovery = { ...sheet.recovery };
    this.rows = sheet.stages.map((fields, was) => ({ fields: { ...fields }, spare: {}, was, open: false }));
    this.build();
  }

  /** What the server puts into the file. */
  sheet() {
    return { top: this.top, recovery: this.recovery, stages: this.rows.map(({ fields, was }) => ({ fields, was })) };
  }

  build() {
    this.fields = [];
    const top = make("section", "card", make("h2", "past-heading", "The whole"), this.group(this.keys.top, this.top, []));
    const stages = this.rows.map((row, place) => this.stage(row, place));
    const add = make("p", "add-stage", make("span", "label", "Add a stage:"), ...Object.keys(this.keys.stage).map((kind) => button(kind, "small", () => this.add(kind))));
    const outage = make("details", "card", make("summary", "", "After an outage"), this.group(this.keys.recovery, this.recovery, ["recovery"]));
    outage.open = Object.keys(this.recovery).length > 0;
    this.node.replaceChildren(top, ...stages, add, outage);
  }

  /** @param {Row} row @param {number} place */
  stage(row, place) {
    const kind = String(row.fields.kind ?? "");
    const keys = this.keys.stage[kind] ?? this.keys.stage.ramp;
    const acts = make("div", "stage-acts",
      button("↑", "small", () => this.move(place, -1)), button("↓", "small", () => this.move(place, 1)),
      button("Copy", "small", () => this.copy(place)), button("Remove", "small", () => this.remove(place)));
    const [up, down] = acts.children;
    up.setAttribute("aria-label", `Move stage ${place + 1} up`);
    down.setAttribute("aria-label", `Move stage ${place + 1} down`);
    up.disabled = place === 0;
    down.disabled = place === this.rows.length - 1;
    const name = make("span", "name");
    const does = make("span", "stage-does");
    const tell = () => {
      name.textContent = String(row.fields.name ?? "without a name");
      does.textContent = inWords(row.fields);
    };
    tell();
    const head = make("summary", "stage-line", make("b", "stage-number", `${place + 1}`), make("span", "stage-words", name, does));
    const card = make("details", "card stage-card", head, acts, this.group(keys, row.fields, ["stage", place], (value) => this.turn(row, String(value))));
    card.open = row.open;
    card.addEventListener("toggle", () => { row.open = card.open; });
    card.addEventListener("input", tell);
    return card;
  }

  /** Fields that must be there or are; the others behind a fold; keys that nobody knows at the end. @param {any[]} keys @param {Fields} values @param {(string | number)[]} path @param {(kind: string | boolean) => void} [turned] */
  group(keys, values, path, turned) {
    const known = keys.map((key) => key.name);
    const strange = Object.keys(values).filter((name) => !known.includes(name))
      .map((name) => ({ name, must: true, meaning: "not a key of this: empty it to take it out", example: "", choices: [], yes_or_no: false }));
    const one = (/** @type {any} */ key) => {
      const made = field(key, values[key.name], [...path, key.name], (value) => {
        if (value === "") delete values[key.name];
        else values[key.name] = value;
        if (key.name === "kind" && turned) turned(value);
        else this.changed();
      });
      this.fields.push(made);
      return made.node;
    };
    const front = (/** @type {any} */ key) => key.must || key.name in values;
    const more = keys.filter((key) => !front(key)).map(one);
    const fold = make("details", "more", make("summary", "", "More"), make("div", "fields", ...more));
    return make("div", "", make("div", "fields", ...[...keys.filter(front), ...strange].map(one)), ...(more.length ? [fold] : []));
  }

  /** Another kind of stage has other keys; those it has not are kept aside. @param {Row} row @param {string} kind */
  turn(row, kind) {
    const known = this.keys.stage[kind].map((/** @type {any} */ key) => key.name);
    const all = { ...row.spare, ...row.fields, kind };
    const split = (/** @type {boolean} */ mine) => Object.fromEntries(Object.entries(all).filter(([name]) => known.includes(name) === mine));
    row.fields = split(true);
    row.spare = split(false);
    this.rebuilt();
  }

  /** @param {string} kind */
  add(kind) {
    this.rows.push({ fields: { kind, name: this.ownName(kind) }, spare: {}, was: null, open: true });
    this.rebuilt();
    this.node.querySelectorAll(".stage-card")[this.rows.length - 1].scrollIntoView({ block: "center" });
  }

  /** @param {number} place */
  copy(place) {
    const { fields } = this.rows[place];
    this.rows.splice(place + 1, 0, { fields: { ...fields, name: this.ownName(String(fields.name ?? "stage")) }, spare: {}, was: null, open: true });
    this.rebuilt();
  }

  /** @param {number} place */
  remove(place) {
    this.rows.splice(place, 1);
    this.rebuilt();
  }

  /** @param {number} place @param {number} by */
  move(place, by) {
    const [row] = this.rows.splice(place, 1);
    this.rows.splice(place + by, 0, row);
    this.rebuilt();
    const button = this.node.querySelectorAll(".stage-card")[place + by].querySelectorAll(".stage-acts button")[by < 0 ? 0 : 1];
    button.focus();
  }

  rebuilt() {
    this.build();
    this.changed();
  }

  /** A name that no stage has. @param {string} wanted */
  ownName(wanted) {
    const taken = this.rows.map((row) => row.fields.name);
    let name = wanted;
    for (let n = 2; taken.includes(name); n += 1) name = `${wanted} ${n}`;
    return name;
  }

  /** Put each mistake beside its field; return those that have none. @param {{path: (string | number)[], says: string, line: number}[]} mistakes */
  tell(mistakes) {
    const left = new Map(mistakes.map((one) => [one.path.join("."), one]));
    for (const each of this.fields) {
      const key = each.path.join(".");
      const found = left.get(key);
      each.tell(found ? found.says.slice(found.says.indexOf(": ") + 2) : "");
      for (let fold = found && each.node.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
      left.delete(key);
    }
    return [...left.values()];
  }
}

/** What a stage's line says, in the file's own words. @param {Fields} fields */
function inWords({ kind, to, at, rate, heat, for: lasts }) {
  return [kind, to && `to ${to}`, at && `at ${at}`, lasts && (lasts === "until released" ? lasts : `for ${lasts}`), rate, heat && `heat ${heat}`].filter(Boolean).join(", ");
}
