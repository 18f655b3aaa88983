/** Past firings: one page that looks at its own address, and draws the list, one firing, or several compared. */

import { Beside } from "../shared/beside.js";
import { drawCommon } from "./past_common.js";
import { drawCompared } from "./past_compare.js";
import { drawFiring } from "./past_firing.js";
import { drawKiln } from "./past_kiln.js";
import { drawList } from "./past_list.js";
import { sentence } from "../shared/format.js";
import { el, make } from "../shared/page.js";
import { startUnit } from "../shared/unit.js";

const box = el("past");
/** @type {(unit: import("../shared/format.js").Unit) => void} */
let redraw = () => {};
const unit = startUnit((chosen) => {
  beside.use(chosen);
  redraw(chosen);
});
const beside = new Beside(unit);

/** Fetch JSON from our own server; what it says when it refuses is the error. @param {string} path */
async function get(path) {
  /** @type {Response} */
  let response;
  try {
    response = await fetch(path);
  } catch {
    throw new Error("The page’s server does not answer. Try again in a moment.");
  }
  const got = await response.json();
  if (!response.ok) throw new Error(String(got.says));
  return got;
}

async function open() {
  const number = window.location.pathname.match(/^\/firings\/(\d+)$/)?.[1];
  const compared = new URLSearchParams(window.location.search).get("compare");
  const page = { box, get, unit, name: (/** @type {string} */ title) => beside.name(title) };
  const { pathname } = window.location;
  const own = pathname === "/firings/common" ? drawCommon : pathname === "/kiln" ? drawKiln : null;
  if (number || compared || own) {
    el("back").textContent = "Past firings";
    el("back").href = "/firings";
  }
  try {
    redraw = await (own ? own(page) : number ? drawFiring(page, Number(number)) : compared ? drawCompared(page, compared) : drawList(page));
  } catch (error) {
    box.replaceChildren(make("h1", "past-fault", sentence(/** @type {Error} */ (error).message)));
  }
}

open();
