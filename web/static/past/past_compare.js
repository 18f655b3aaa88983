/**
 * Any number of firings laid over each other, aligned on their start, a stage, or the pour. One is in ink, the
 * others are grey: it is brought to the front in the list below, by touching its curve, or step by step. Of a few,
 * every curve wears its number; of many, the one in front does.
 */

import { count } from "../shared/format.js";
import { library } from "../shared/library.js";
import { make } from "../shared/page.js";
import { CompareList } from "./past_compare_list.js";
import { ComparePlot } from "./past_compare_plot.js";
import { compareTable } from "./past_compare_table.js";
import { growing, stillToCome } from "./past_growing.js";
import { began, button, resultMark } from "./past_list.js";

/** @typedef {import("../shared/format.js").Unit} Unit */

const START = "its start";
const POUR = "the pour";
/** More numbers than this in one sentence are only counted. */
const NAMED = 12;

/** @param {import("./past_list.js").Page} page @param {string} asked numbers and stretches of them, with commas between */
export async function drawCompared(page, asked) {
  const compared = new Compared(page);
  const there = library();
  await growing(page, `/api/compare?firings=${encodeURIComponent(asked)}`, (got) => compared.take(got));
  page.box.replaceChildren(compared.node);
  await compared.begin(there);
  return (/** @type {Unit} */ unit) => compared.use(unit);
}

class Compared {
  /** @param {import("./past_list.js").Page} page */
  constructor(page) {
    this.page = page;
    this.unit = page.unit;
    /** @type {any[]} */
    this.firings = [];
    /** @type {any[]} */
    this.stages = [];
    this.aFew = true;
    /** @type {any} */
    this.front = null;
    this.align = START;
    this.title = make("h1", "title");
    this.select = Object.assign(make("select", ""), { id: "align" });
    this.select.addEventListener("change", () => { this.align = this.select.value; this.draw(); });
    this.plot = new ComparePlot((firing) => this.bring(firing));
    this.grows = make("div", "");
    this.says = make("p", "label past-says");
    this.who = make("div", "past-in-front");
    this.list = new CompareList((firing) => this.bring(firing));
    this.table = make("div", "past-scroll");
    this.table.tabIndex = 0;
    this.table.setAttribute("role", "region");
    this.table.setAttribute("aria-label", "Measures of the compared firings");
    const head = make("div", "past-head", this.title, make("label", "past-align", "Aligned on ", this.select));
    this.node = make("div", "past-one", make("section", "past-curve", head, this.grows, this.plot.box, this.says), this.who, this.list.node, this.table);
  }

  /** What the server tells, or tells anew. @param {any} got */
  take(got) {
    this.firings = got.firings;
    this.stages = got.stages;
    this.aFew = got.a_few;
    this.front = this.firings.find((each) => each.firing === this.front?.firing) ?? this.firings.at(this.aFew ? 0 : -1) ?? null;
    const all = this.firings.length + got.pending;
    const numbers = this.firings.slice(0, NAMED + 1).map((each) => count(each.firing)).join(", ");
    this.page.name(this.aFew ? `Firings ${numbers} compared` : `${count(all)} firings compared`);
    this.title.textContent = `${count(all)} firings compared`;
    this.grows.replaceChildren(...stillToCome(got.pending, "more curves come"));
    this.node.classList.toggle("past-many-over", !this.aFew);
    this.choices();
    this.list.take(this.firings, this.aFew);
    this.bring(this.front);
  }

  /** @param {Promise<boolean>} there */
  async begin(there) {
    if (!(await there)) this.says.textContent = "The part that draws the curves is missing here.";
    else this.draw();
  }

  choices() {
    const pours = this.firings.some((each) => each.pour_s !== null) ? [POUR] : [];
    const option = (/** @type {string} */ value, /** @type {string} */ words) => Object.assign(make("option", "", words), { value });
    this.select.replaceChildren(option(START, "The start"), ...pours.map((each) => option(each, "The pour")),
      ...this.stages.map((/** @type {string} */ name) => option(`stage ${name}`, `Stage: ${name}`)));
    if (![...this.select.options].some((each) => each.value === this.align)) this.align = START;
    this.select.value = this.align;
  }

  /** The moment (s) at which a firing's time is nought; null when it never came. @param {any} firing @returns {number | null} */
  zero(firing) {
    if (this.align === START) return 0;
    return this.align === POUR ? firing.pour_s : firing.begins_s[this.align.slice(6)] ?? null;
  }

  /** @param {any} firing */
  bring(firing) {
    this.front = firing;
    this.draw();
    if (firing && !this.aFew && !firing.whole) this.sharpen(firing);
  }

  /** Of many, each has few points: the one in front comes with all that a screen can show. @param {any} firing */
  async sharpen(firing) {
    const curve = await this.page.get(`/api/firings/${firing.firing}/curve`).catch(() => null);
    if (!curve) return;
    Object.assign(firing, { curve, whole: true });
    if (this.front === firing) this.draw();
  }

  draw() {
    const shown = this.firings.filter((each) => this.zero(each) !== null && each.curve.t_s.length);
    const missing = this.firings.filter((each) => !shown.includes(each));
    const named = missing.length > NAMED ? `${count(missing.length)} firings` : `firing ${missing.map((each) => count(each.firing)).join(", ")}`;
    this.says.textContent = missing.length ? `Not shown, because it did not come so far: ${named}.` : "";
    this.plot.show({ shown, zero: (each) => this.zero(each) ?? 0, front: this.front, unit: this.unit, aligned: this.align !== START, named: this.aFew });
    this.list.mark(this.front);
    this.table.replaceChildren(compareTable(this.firings, this.front, this.aFew, this.unit));
    this.drawWho();
  }

  /** Of many, the one in front is said under the curves, with its neighbours one step away. */
  drawWho() {
    this.who.hidden = this.aFew || !this.front;
    if (this.who.hidden) return;
    const place = this.firings.indexOf(this.front);
    const step = (/** @type {string} */ words, /** @type {number} */ by) => {
      const made = button(words, "small", () => this.step(by));
      made.disabled = !this.firings[place + by];
      return made;
    };
    const focused = [...this.who.querySelectorAll("button")].findIndex((each) => each === document.activeElement);
    const open = Object.assign(make("a", "quiet-link", "Open"), { href: `/firings/${this.front.firing}` });
    open.setAttribute("aria-label", `Open firing ${count(this.front.firing)}`);
    this.who.replaceChildren(
      make("div", "past-words", make("span", "label", `In front: ${count(this.front.firing)} · ${began(this.front)}`), make("span", "name", this.front.title), resultMark(this.front, null)),
      make("div", "past-steps", step("Before", -1), step("After", 1), open));
    if (focused >= 0) this.who.querySelectorAll("button")[focused]?.focus();
  }

  /** @param {number} by */
  step(by) {
    const next = this.firings[this.firings.indexOf(this.front) + by];
    if (next) this.bring(next);
  }

  /** @param {Unit} unit */
  use(unit) {
    this.unit = unit;
    this.draw();
  }
}
