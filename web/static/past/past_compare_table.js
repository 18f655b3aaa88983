/**
 * The compared firings' measures. Of a few: one row a measure, one column a firing. Of many: the one in front
 * beside the lowest, the median and the highest of all.
 */

import { count, duration, temperature } from "../shared/format.js";
import { make } from "../shared/page.js";
import { measureLines } from "./past_measures.js";

/** @typedef {import("../shared/format.js").Unit} Unit */
/** @typedef {{name: string, front: boolean, lines: Map<string, string>}} Column */

/** @param {any[]} firings @param {any} front @param {boolean} aFew @param {Unit} unit */
export function compareTable(firings, front, aFew, unit) {
  const of = (/** @type {any} */ each) => ({ name: count(each.firing), front: each === front, lines: lines(each.measures, unit) });
  const columns = aFew ? firings.map(of) : front ? [of(front), ...spread(firings, unit)] : [];
  const names = [...new Set(columns.flatMap((each) => [...each.lines.keys()]))];
  const heads = columns.map((each) => Object.assign(make("th", each.front ? "in-front" : "", each.name), { scope: "col" }));
  const rows = names.map((name) => make("tr", "", Object.assign(make("th", "", name), { scope: "row" }),
    ...columns.map((each) => make("td", "", each.lines.get(name) ?? "–"))));
  return make("table", "past-together", make("thead", "", make("tr", "", make("td", "", "Firing"), ...heads)), make("tbody", "", ...rows));
}

/** @param {any} measures @param {Unit} unit */
const lines = (measures, unit) => new Map([["Peak of the air", temperature(measures.peak_air_c, unit)],
  ["Lasted", duration(measures.duration_h * 3600)], ...measureLines(measures, unit)]);

/** The lowest, the median and the highest of each measure, of the firings that have it. @param {any[]} firings @param {Unit} unit @returns {Column[]} */
function spread(firings, unit) {
  const names = [...new Set(firings.flatMap((each) => Object.keys(each.measures)))];
  const known = new Map(names.map((name) => [name, firings.map((each) => each.measures[name]).filter((value) => value !== null).sort((a, b) => a - b)]));
  // Sums of money in two currencies, and times above two temperatures, are no two of one thing.
  const mixed = (/** @type {string} */ name) => new Set(known.get(name)).size > 1;
  for (const [of, by] of [["cost", "currency"], ["soak_h", "soak_c"]]) if (mixed(by)) known.set(of, []);
  const column = (/** @type {string} */ name, /** @type {(values: any[]) => any} */ pick) =>
    ({ name, front: false, lines: lines(Object.fromEntries([...known].map(([key, values]) => [key, values.length ? pick(values) : null])), unit) });
  return [column("lowest", (values) => values[0]), column("median", median), column("highest", (values) => values[values.length - 1])];
}

/** @param {any[]} values in their order */
function median(values) {
  const [low, high] = [values[(values.length - 1) >> 1], values[values.length >> 1]];
  return typeof low === "number" ? (low + high) / 2 : low;
}
