/** One page that looks at its own address: a start in steps, the library of schedules, or one schedule. */

import { Beside } from "../shared/beside.js";
import { sentence } from "../shared/format.js";
import { el, make } from "../shared/page.js";
import { get } from "../shared/server.js";
import { startUnit } from "../shared/unit.js";

/** @typedef {import("../shared/format.js").Unit} Unit */
/**
 * What a page gets: the box that it fills, the unit, a way to name itself, and what the kiln does now.
 * @typedef {{box: any, unit: Unit, name: (title: string) => void, back: (words: string, address: string) => void, beside: Beside}} Page
 */

const box = el("steps");
/** @type {(unit: Unit) => void} */
let redraw = () => {};
const unit = startUnit((chosen) => {
  beside.use(chosen);
  redraw(chosen);
});
const beside = new Beside(unit);

/** Where the way back leads. @param {string} words @param {string} address */
function back(words, address) {
  el("back").textContent = words;
  el("back").href = address;
}

async function open() {
  const page = { box, unit, name: (/** @type {string} */ title) => beside.name(title), back, beside };
  const at = window.location.pathname;
  const name = at.match(/^\/schedules\/([^/]+)$/)?.[1];
  if (at === "/start") return (await import("./start.js")).drawStart(page);
  const fresh = new URLSearchParams(window.location.search).has("new");
  if (name === undefined && !fresh) return (await import("../schedules/schedules_list.js")).drawList(page, await get("/api/schedules"));
  back("Schedules", "/schedules");
  return (await import("../schedules/schedule_editor.js")).drawEditor(page, name);
}

open().then((use) => { redraw = use; }, (error) => box.replaceChildren(make("h1", "past-fault", sentence(error.message))));
