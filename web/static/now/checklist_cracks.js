/** Cracks: how many, where, patched or not, and what they look like. "None" is said too: it means that somebody looked. */

import { clock, count } from "../shared/format.js";
import { fill, make, shape, toast } from "../shared/page.js";
import { photoButton, sendPhoto, thumbnail } from "../shared/photo.js";

/** Where on the shell: the word that is kept, and how it reads after a number. @type {[string, string, string][]} */
const PLACES = [
  ["rim", "Rim", "at the rim"], ["cup", "Cup", "at the cup"], ["side", "Side", "in the side"],
  ["base", "Base", "in the base"], ["sprue", "Sprue", "at the sprue"], ["elsewhere", "Elsewhere", "elsewhere"],
];
const MOST = 99;

/** "2 cracks at the rim". @param {any} crack */
export function crackWords(crack) {
  if (crack.how_many === 0) return "Looked: no cracks";
  const place = PLACES.find(([id]) => id === crack.where)?.[2] ?? "";
  return `${count(crack.how_many)} ${crack.how_many === 1 ? "crack" : "cracks"} ${place}`;
}

/** @param {string} text @param {string} className @param {() => void} act */
function button(text, className, act) {
  const node = Object.assign(make("button", className, text), { type: "button" });
  node.addEventListener("click", act);
  return node;
}

export class Cracks {
  /** @param {(what: Record<string, unknown>) => Promise<boolean>} tell */
  constructor(tell) {
    this.tell = tell;
    /** @type {{firing: number, stage: number} | null} */
    this.at = null;
    /** @type {File | null} */
    this.file = null;
    this.list = make("ul", "cracks");
    this.none = button("No cracks found", "", () => this.tell({ kind: "crack", how_many: 0 }));
    this.add = button("Add cracks", "", () => this.open(true));
    this.buttons = make("div", "two", this.none, this.add);
    this.form = this.makeForm();
    this.node = make("div", "", this.list, this.buttons, this.form);
    this.open(false);
  }

  makeForm() {
    this.number = make("output", "stepper-number", "1");
    this.number.setAttribute("aria-label", "How many cracks");
    const step = (/** @type {string} */ sign, /** @type {string} */ words, /** @type {number} */ by) => {
      const node = button(sign, "step", () => { this.number.value = String(Math.min(MOST, Math.max(1, Number(this.number.value) + by))); });
      node.setAttribute("aria-label", words);
      return node;
    };
    const stepper = make("div", "stepper", step("−", "One crack less", -1), this.number, step("+", "One crack more", 1));
    const places = PLACES.map(([id, words]) => {
      const input = Object.assign(make("input", ""), { type: "radio", name: "crack-where", value: id });
      return make("label", "chip", input, make("span", "", words));
    });
    this.patched = Object.assign(make("input", ""), { type: "checkbox" });
    this.photo = photoButton("Photograph it", (file) => { this.file = file; });
    this.go = Object.assign(make("button", "go", "Keep"), { type: "submit" });
    const form = make("form", "crack-form",
      make("p", "label", "How many"), stepper,
      make("fieldset", "chips", make("legend", "label", "Where"), ...places),
      make("label", "tick", this.patched, make("span", "", "Patched already")), this.photo.node,
      make("div", "two", button("Go back", "", () => this.open(false)), this.go));
    form.addEventListener("submit", (/** @type {SubmitEvent} */ event) => { event.preventDefault(); this.keep(); });
    return form;
  }

  /** Another checkpoint: nothing of the last one stays. @param {{firing: number, stage: number}} at */
  begin(at) {
    this.at = at;
    this.open(false);
    this.take([]);
  }

  /** @param {boolean} opened */
  open(opened) {
    this.form.hidden = !opened;
    this.buttons.hidden = opened;
    if (!opened) this.clear();
  }

  clear() {
    this.form.reset();
    this.number.value = "1";
    this.photo.clear();
    this.file = null;
  }

  async keep() {
    const where = new FormData(this.form).get("crack-where");
    if (!where) { toast("Say where: rim, cup, side, base, sprue or elsewhere.", "refused"); return; }
    this.go.disabled = true;
    const photo = await this.sent();
    const kept = photo !== undefined && await this.tell({ kind: "crack", how_many: Number(this.number.value), where, patched: this.patched.checked, photo });
    this.go.disabled = false;
    if (kept) this.open(false);
  }

  /** The number of the photograph, null without one, undefined when it did not get through. @returns {Promise<number | null | undefined>} */
  async sent() {
    if (!this.file || !this.at) return null;
    this.go.textContent = "Sending …";
    const answer = await sendPhoto(this.at.firing, this.file, { of: "crack", stage: this.at.stage });
    this.go.textContent = "Keep";
    if (answer.ok) return answer.id;
    toast(answer.says, "refused");
    return undefined;
  }

  /** @param {any[]} cracks */
  take(cracks) {
    this.none.hidden = cracks.length > 0;
    this.add.textContent = cracks.length ? "Add more cracks" : "Add cracks";
    fill(this.list, JSON.stringify([this.at, cracks]), () => (cracks.length ? cracks.map((crack) => this.row(crack))
      : [make("li", "label", "Nobody has said anything yet.")]));
  }

  /** @param {any} crack */
  row(crack) {
    const words = make("div", "crack-words", make("b", "", crackWords(crack)), make("span", "label", `${clock(crack.utc_s * 1000)} · from the ${crack.by}`));
    const act = make("div", "crack-buttons");
    if (crack.how_many) {
      const toggle = button("", crack.patched ? "patched" : "", () => this.tell({ kind: "patched", crack: crack.id, patched: !crack.patched }));
      toggle.append(...(crack.patched ? [shape("complete"), "Patched"] : ["Mark as patched"]));
      act.append(toggle);
    }
    const away = button("Take back", "away", () => this.tell({ kind: "undone", observation: crack.id }));
    away.setAttribute("aria-label", `Take back: ${crackWords(crack)}`);
    act.append(away);
    return make("li", "crack", ...(crack.photo ? [thumbnail(crack.photo, crackWords(crack))] : []), words, act);
  }
}
