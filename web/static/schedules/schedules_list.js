/** The library of schedules, each drawn as its small curve: the user's own, then the built-in ones. */

import { planInWords } from "../start/ahead_plot.js";
import { make } from "../shared/page.js";
import { smallCurve } from "../shared/small_curve.js";

/** @typedef {import("../shared/format.js").Unit} Unit */

/** The hottest temperature of all, for one scale. @param {any[]} schedules */
export const hottest = (schedules) => Math.max(100, ...schedules.flatMap((each) => each.plan?.c ?? []));

/** What a schedule's row shows. @param {any} schedule @param {number} top @param {Unit} unit */
export function scheduleRow(schedule, top, unit) {
  const { plan } = schedule;
  const picture = smallCurve(plan && { ...plan, duration_s: plan.total_s }, top);
  const words = make("span", "past-words",
    make("span", "label", schedule.own ? `${schedule.name} · yours` : schedule.name),
    make("span", "name", schedule.title),
    make("span", "schedule-facts", plan ? planInWords(plan, unit) : schedule.fault));
  return [make("span", "past-picture", picture), words];
}

/** Built-in ones stand below one's own. @param {any[]} schedules */
export const ownFirst = (schedules) => [...schedules.filter((each) => each.own), ...schedules.filter((each) => !each.own)];

/** @param {import("../start/steps.js").Page} page @param {any} got */
export function drawList(page, got) {
  page.name("Schedules");
  const add = make("a", "past-file", "New");
  add.href = "/schedules?new";
  const rows = make("ol", "past-rows");
  const head = make("div", "past-head", make("h1", "title", "Schedules"), make("div", "past-head-buttons", add));
  const where = make("p", "schedule-where label", `Yours are files in ${got.folder}.`);
  page.box.replaceChildren(head, rows, where);
  const use = (/** @type {Unit} */ unit) => rows.replaceChildren(...ownFirst(got.schedules).map((each) => {
    const link = make("a", "past-row", ...scheduleRow(each, hottest(got.schedules), unit));
    link.href = `/schedules/${encodeURIComponent(each.name)}`;
    return make("li", "", link);
  }));
  use(page.unit);
  return use;
}
