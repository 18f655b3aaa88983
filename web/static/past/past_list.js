/** The list of past firings, newest first, each with its small curve; and the choice of those to compare. */

import { count, day, duration, temperature, timeOfDay } from "../shared/format.js";
import { make, shape } from "../shared/page.js";
import { ratingMark } from "./past_common.js";
import { smallCurve } from "../shared/small_curve.js";

/** @typedef {import("../shared/format.js").Unit} Unit */
/** @typedef {{box: any, get: (path: string) => Promise<any>, unit: Unit, name: (title: string) => void}} Page */

/** Small curves that are still being made are asked for again after this. */
const AGAIN_MS = 700;

/** How a firing ended: its word and its shape. @param {any} firing @param {number | null} running */
export function result(firing, running) {
  if (!firing.result && firing.firing === running) return { word: "Running", name: "running" };
  const words = { complete: "Complete", stopped: "Stopped", aborted: "Aborted" };
  const known = words[/** @type {"complete"} */ (firing.result)];
  return known ? { word: known, name: firing.result } : { word: "Without an end", name: "unknown" };
}

/** @param {any} firing @param {number | null} running */
export function resultMark(firing, running) {
  const { word, name } = result(firing, running);
  return make("span", `past-result past-${name}`, shape(name), word);
}

/** When it began, by this device's clock and calendar. @param {any} firing */
export const began = (firing) => `${day(firing.started_utc_s * 1000)}, ${timeOfDay(firing.started_utc_s * 1000)}`;

/** @param {Page} page */
export async function drawList(page) {
  page.name("Past firings");
  const list = new List(page);
  await list.more();
  return (/** @type {Unit} */ unit) => list.use(unit);
}

class List {
  /** @param {Page} page */
  constructor(page) {
    this.page = page;
    this.unit = page.unit;
    /** @type {any[]} */
    this.firings = [];
    /** @type {number | null} */
    this.running = null;
    /** @type {Set<number>} */
    this.chosen = new Set();
    this.choosing = false;
    this.rows = make("ol", "past-rows");
    this.older = button("Older firings", "older", () => this.more());
    this.choose = button("Compare", "choose", () => this.toggle());
    this.all = button("Tick all", "choose-all", () => this.tickAll());
    this.all.setAttribute("aria-label", "Tick all of these");
    this.go = button("", "go choose-go", () => window.location.assign(`/firings?compare=${inStretches([...this.chosen])}`));
    this.says = make("p", "past-says");
    this.head = make("div", "past-head", make("h1", "title", "Past firings"), make("div", "past-head-buttons", this.go, this.all, this.choose));
    const link = (/** @type {string} */ words, /** @type {string} */ href) => Object.assign(make("a", "quiet-link", words), { href });
    this.links = make("nav", "past-links", link("What castings had in common", "/firings/common"), link("The kiln itself", "/kiln"));
    this.links.setAttribute("aria-label", "Over many firings");
    page.box.replaceChildren(this.head, this.links, this.says, this.rows, this.older);
  }

  async more() {
    const before = this.firings.at(-1)?.firing;
    const got = await this.page.get(before ? `/api/firings?before=${before}` : "/api/firings");
    this.firings.push(...got.firings);
    this.running = got.running;
    this.older.hidden = !got.more;
    this.says.textContent = got.says || (this.firings.length ? "" : "Nothing was fired yet.");
    this.draw();
    if (got.firings.some((/** @type {any} */ each) => !each.summary)) window.setTimeout(() => this.again(before), AGAIN_MS);
  }

  /** Ask again for a part of the list whose small curves were not there. @param {number | undefined} before */
  async again(before) {
    const got = await this.page.get(before ? `/api/firings?before=${before}` : "/api/firings").catch(() => ({ firings: [] }));
    const fresh = new Map(got.firings.map((/** @type {any} */ each) => [each.firing, each]));
    this.firings = this.firings.map((each) => fresh.get(each.firing) ?? each);
    this.draw();
    if (got.firings.some((/** @type {any} */ each) => !each.summary)) window.setTimeout(() => this.again(before), AGAIN_MS);
  }

  /** @param {Unit} unit */
  use(unit) {
    this.unit = unit;
    this.draw();
  }

  toggle() {
    this.choosing = !this.choosing;
    if (!this.choosing) this.chosen.clear();
    this.draw();
  }

  tickAll() {
    for (const each of this.firings) this.chosen.add(each.firing);
    this.draw();
  }

  draw() {
    const hottest = Math.max(100, ...this.firings.map((each) => each.summary?.peak_c ?? 0));
    const focused = document.activeElement?.id;
    this.rows.replaceChildren(...this.firings.map((each) => this.row(each, hottest)));
    if (focused) document.getElementById(focused)?.focus();
    this.page.box.classList.toggle("choosing", this.choosing);
    this.choose.hidden = this.firings.length < 2;
    this.choose.textContent = this.choosing ? "Cancel" : "Compare";
    this.all.hidden = !this.choosing;
    this.all.disabled = this.firings.every((each) => this.chosen.has(each.firing));
    this.go.hidden = !this.choosing;
    this.go.disabled = this.chosen.size < 2;
    this.go.textContent = this.chosen.size < 2 ? "Tick two or more" : `Compare ${count(this.chosen.size)}`;
  }

  /** @param {any} firing @param {number} hottest */
  row(firing, hottest) {
    const { summary } = firing;
    const facts = make("span", "past-facts",
      fact("past-lasted", summary ? duration(summary.duration_s) : "…"),
      fact("past-peak", summary ? `peak ${temperature(summary.peak_c, this.unit)}` : "…"),
      firing.rating ? ratingMark(firing.rating) : fact("past-notes", ""),
      fact("past-notes", firing.notes ? `${count(firing.notes)} ${firing.notes === 1 ? "note" : "notes"}` : ""));
    const words = make("span", "past-words",
      make("span", "label", `${count(firing.firing)} · ${began(firing)}`), make("span", "name", firing.job || firing.title), facts);
    const picture = make("span", "past-picture", smallCurve(summary, hottest), resultMark(firing, this.running));
    const link = make("a", "past-row", picture, words);
    link.href = `/firings/${firing.firing}`;
    link.id = `firing-${firing.firing}`;
    return this.choosing ? make("li", "", this.tick(firing), link) : make("li", "", link);
  }

  /** @param {any} firing */
  tick(firing) {
    const input = make("input", "");
    Object.assign(input, { type: "checkbox", id: `tick-${firing.firing}`, checked: this.chosen.has(firing.firing) });
    input.addEventListener("change", () => {
      if (input.checked) this.chosen.add(firing.firing);
      else this.chosen.delete(firing.firing);
      this.draw();
    });
    return make("label", "past-tick", input, make("span", "hidden", `Compare firing ${count(firing.firing)}`));
  }
}

/** Numbers for an address: those that follow each other as one stretch, "3,5,20-80". @param {number[]} numbers */
function inStretches(numbers) {
  /** @type {number[][]} */
  const stretches = [];
  for (const number of numbers.sort((a, b) => a - b)) {
    const last = stretches.at(-1);
    if (last && number === last[1] + 1) last[1] = number;
    else stretches.push([number, number]);
  }
  return stretches.map(([first, last]) => (first === last ? first : `${first}-${last}`)).join(",");
}

/** @param {string} className @param {string} text */
const fact = (className, text) => make("span", className, text);

/** @param {string} text @param {string} className @param {() => void} act */
export function button(text, className, act) {
  const node = make("button", className, text);
  node.type = "button";
  node.addEventListener("click", act);
  return node;
}
