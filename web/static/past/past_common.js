/** What rated castings had in common: medians side by side, with their counts; and cracks against the rise. */

import { count, duration, inUnit, temperature, tenth } from "../shared/format.js";
import { mass } from "../now/checklist_drained.js";
import { make, shape } from "../shared/page.js";
import { growingPage, stillToCome } from "./past_growing.js";
import { scatter } from "./past_scatter.js";

/** @typedef {import("../shared/format.js").Unit} Unit */

/** What a casting is called, and its shape. @type {Record<string, [string, string]>} */
export const RATINGS = { good: ["Good", "complete"], usable: ["Usable", "idle"], scrap: ["Scrap", "aborted"] };

/** A rating as a shape and a word. @param {string} rating */
export function ratingMark(rating) {
  const [word, name] = RATINGS[rating] ?? [rating, "unknown"];
  return make("span", `rating-mark rated-${rating}`, shape(name), word);
}

/** @param {any} value @param {string} unit @param {Unit} chosen */
function shown(value, unit, chosen) {
  if (unit === "C") return temperature(value, chosen);
  if (unit === "C/h") return `${count(chosen === "F" ? value * 1.8 : value)}\u00a0°${chosen}/h`;
  if (unit === "h") return duration(value * 3600);
  if (unit === "kg") return mass(value);
  return Number.isInteger(value) ? count(value) : tenth(value);
}

/** The words of a measure, its temperatures in the viewer's unit. @param {string} words @param {Unit} unit */
const inWords = (words, unit) => words.replace(/(\d+)(?: to (\d+))? °C/, (_, a, b) => `${count(inUnit(Number(a), unit))}${b ? ` to ${count(inUnit(Number(b), unit))}` : ""} °${unit}`);

/** @param {import("./past_list.js").Page} page */
export async function drawCommon(page) {
  page.name("What castings had in common");
  return growingPage(page, "/api/common", whole);
}

/** @param {any} got @param {Unit} unit */
function whole(got, unit) {
  const node = make("div", "past-many", make("div", "past-head", make("h1", "title", "What castings had in common")), make("p", "many-says", got.says));
  node.append(...stillToCome(got.pending, "the numbers grow"));
  if (got.rows.length) node.append(table(got, unit));
  if (got.reasons.length) node.append(make("section", "past-section", make("h2", "past-heading", "Reasons that were given"),
    make("ul", "reasons", ...got.reasons.map((/** @type {[string, number]} */ [why, n]) => make("li", "", `${why} · ${count(n)}`)))));
  if (got.cracks.length) node.append(cracks(got.cracks, unit));
  return node;
}

/** @param {any} got @param {Unit} unit */
function table(got, unit) {
  const ratings = Object.keys(RATINGS).filter((rating) => got.counts[rating]);
  const head = make("tr", "", Object.assign(make("th", "", "Median (lowest to highest)"), { scope: "col" }),
    ...ratings.map((rating) => Object.assign(make("th", "", ratingMark(rating), make("span", "label", count(got.counts[rating]))), { scope: "col" })));
  const rows = got.rows.map((/** @type {any} */ row) => make("tr", "", Object.assign(make("th", "", inWords(row.words, unit)), { scope: "row" }),
    ...ratings.map((rating) => cell(row.by[rating], row.unit, unit, got.counts[rating]))));
  const scroll = make("div", "past-scroll", make("table", "many-table", make("thead", "", head), make("tbody", "", ...rows)));
  scroll.tabIndex = 0;
  scroll.setAttribute("role", "region");
  scroll.setAttribute("aria-label", "Measures of rated castings, side by side");
  return scroll;
}

/** @param {any} middle @param {string} of @param {Unit} unit @param {number} rated */
function cell(middle, of, unit, rated) {
  if (!middle) return make("td", "", "–");
  const [low, high] = [shown(middle.low, of, unit), shown(middle.high, of, unit)];
  const spread = middle.n === 1 ? "one alone" : low === high ? "all the same" : `${low} to ${high}`;
  const known = middle.n < rated ? `, known of ${count(middle.n)}` : "";
  return make("td", "", make("span", "", shown(middle.median, of, unit)), make("span", "label", spread + known));
}

/** @param {any[]} firings @param {Unit} unit */
function cracks(firings, unit) {
  const rate = (/** @type {number} */ c) => (unit === "F" ? c * 1.8 : c);
  const shapes = /** @type {const} */ ({ good: "dot", usable: "ring", scrap: "cross" });
  const dots = firings.map((each) => ({
    x: rate(each.rise_c_per_h), y: each.cracks, shape: shapes[/** @type {"good"} */ (each.rating)] ?? "ring",
    words: `Firing ${count(each.firing)}: ${count(each.cracks)} cracks at ${shown(each.rise_c_per_h, "C/h", unit)}${each.rating ? `, ${each.rating}` : ""}`,
  }));
  const drawn = scatter(dots, {
    x: `Steepest rise, ${count(inUnit(80, unit))} to ${count(inUnit(100, unit))} °${unit}, °${unit} per hour`, y: "Cracks", label: "Cracks found against the steepest rise through the cracking range; the table below has the numbers.",
    xText: count, yText: (n) => (Number.isInteger(n) ? count(n) : ""), xFromNought: true,
  });
  const key = make("p", "scatter-key", make("span", "key-dot"), "good", make("span", "key-ring"), "usable, or not rated", make("span", "key-cross", "×"), "scrap");
  const numbers = make("details", "", make("summary", "", "The numbers"), make("ul", "", ...dots.map((dot) => make("li", "", dot.words))));
  return make("section", "past-section", make("h2", "past-heading", `Cracks against the rise, ${count(firings.length)} ${firings.length === 1 ? "firing" : "firings"}`), drawn, key, numbers);
}
