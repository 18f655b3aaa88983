/** What stands against a firing, or is worth knowing before it: the gravest first, a shape and words for each. */

import { make, shape } from "../shared/page.js";

/** @typedef {{severity: string, says: string, remedy: string}} Finding */

const SHAPES = /** @type {Record<string, string>} */ ({ stop: "alarm", warn: "quiet-alarm", note: "idle" });
const WORDS = /** @type {Record<string, string>} */ ({ stop: "Stands against it", warn: "Look out", note: "Note" });

/** @param {Finding[]} found @returns {any} */
export function findingList(found) {
  if (!found.length) return make("p", "does", "Nothing was found that stands against it.");
  return make("ul", "findings", ...found.map((one) => make("li", `finding finding-${one.severity}`, shape(SHAPES[one.severity] ?? "idle"),
    make("div", "", make("p", "label", WORDS[one.severity] ?? one.severity), make("p", "finding-says", one.says), make("p", "", one.remedy)))));
}

/** Whether something stands against it altogether. @param {Finding[]} found */
export const stands = (found) => found.some((one) => one.severity === "stop");

/** A forecast's lines for `AheadPlot`. @param {any} made as the server tells it */
export function forecastCurve(made) {
  const column = (/** @type {any[][]} */ points, /** @type {number} */ at) => points.map((point) => point[at]);
  const { air, core, band } = made.curves;
  const stages = made.rows.map((/** @type {any} */ row) => ({ name: row.name, start_s: row.begins_s.typical, end_s: row.ends_s.typical, needs_person: row.person }))
    .filter((/** @type {any} */ stage) => stage.start_s !== null && stage.end_s !== null);
  return { t_s: column(air, 0), c: column(air, 1), core_c: column(core, 1), low_c: column(band, 1), high_c: column(band, 2), stages };
}
