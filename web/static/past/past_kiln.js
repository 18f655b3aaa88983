/** The kiln itself, growing old: the power that one temperature needed, firing by firing, and its relay's cycles. */

import { count, day, share, temperature, tenth } from "../shared/format.js";
import { make } from "../shared/page.js";
import { growingPage, stillToCome } from "./past_growing.js";
import { scatter } from "./past_scatter.js";

/** @typedef {import("../shared/format.js").Unit} Unit */

/** @param {import("./past_list.js").Page} page */
export async function drawKiln(page) {
  page.name("The kiln itself");
  return growingPage(page, "/api/kiln", whole);
}

/** @param {any} got @param {Unit} unit */
function whole(got, unit) {
  const node = make("div", "past-many", make("div", "past-head", make("h1", "title", got.kiln || "The kiln itself")));
  if (!got.kiln) return node.appendChild(make("p", "many-says", "Nothing was fired here yet.")), node;
  node.append(...stillToCome(got.pending, "the numbers grow"));
  node.append(power(got, unit), relay(got));
  return node;
}

/** @param {any} got @param {Unit} unit */
function power(got, unit) {
  const at = got.at_c === null ? "" : temperature(got.at_c, unit);
  const heading = make("h2", "past-heading", at ? `Power needed near ${at}` : "Power needed at a temperature");
  if (!got.points.length) return make("section", "past-section", heading, make("p", "", "No firing has held a temperature steadily for long enough yet."));
  const watts = got.points.every((/** @type {any} */ point) => point.power_w !== null);
  const value = (/** @type {any} */ point) => (watts ? point.power_w / 1000 : point.duty * 100);
  const text = (/** @type {number} */ n) => (watts ? `${tenth(n)} kW` : `${count(n)} %`);
  const dots = got.points.map((/** @type {any} */ point) => ({ x: point.firing, y: value(point), shape: /** @type {const} */ ("dot"),
    words: `Firing ${count(point.firing)}, ${day(point.utc_s * 1000)}: ${watts ? `${tenth(value(point))} kW` : share(point.duty)} at ${temperature(point.air_c, unit)}` }));
  const drawn = scatter(dots, { x: "Firing", y: "Power", label: `Power needed near ${at}, firing by firing; the list below has the numbers.`, xText: (n) => (Number.isInteger(n) ? count(n) : ""), yText: text, line: true });
  const numbers = make("details", "", make("summary", "", "The numbers"), make("ul", "", ...dots.map((/** @type {any} */ dot) => make("li", "", dot.words))));
  return make("section", "past-section", heading, make("p", "many-lead", changed(got)), drawn,
    make("p", "label", "Part of the time with the heat on, times the elements’ power in the kiln’s file, over the steady part of the hold. The load, the vent and the room change it too."), numbers);
}

/** @param {any} got */
function changed(got) {
  if (got.change === null) return `${count(got.points.length)} ${got.points.length === 1 ? "firing" : "firings"} so far: too few to say whether it changes.`;
  if (Math.abs(got.change) < 0.02) return "The newest ten firings needed as much as the oldest ten.";
  return `The newest ten firings needed ${share(Math.abs(got.change))} ${got.change > 0 ? "more" : "less"} than the oldest ten.`;
}

/** @param {any} got */
function relay(got) {
  const part = got.relay_life ? got.switchings / got.relay_life : null;
  const says = part === null ? "The kiln’s file does not say how many its relay is good for (relay_life)."
    : `${share(part)} of the ${count(got.relay_life)} that the kiln’s file gives it.`;
  const node = make("section", "past-section", make("h2", "past-heading", "The heater’s relay"),
    make("p", "past-big", `${count(got.switchings)} times on`),
    make("p", "many-lead", `In ${count(got.firings)} ${got.firings === 1 ? "firing" : "firings"} of this record. ${says}`));
  if (part !== null) {
    const bar = make("div", "life", make("span", ""));
    bar.firstChild.style.width = `${Math.min(100, part * 100)}%`;
    bar.setAttribute("aria-hidden", "true");
    node.append(bar);
  }
  if (part !== null && part >= 0.8) node.append(make("p", "answer", part >= 1 ? "It has done its life: have it replaced." : "It comes near the end of its life."));
  node.append(make("p", "label", "A relay that was replaced has begun anew; this count goes on."));
  return node;
}
