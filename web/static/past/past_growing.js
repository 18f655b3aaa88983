/** What is told of many firings grows while they are still being worked out: asked for again until nothing is pending. */

import { count } from "../shared/format.js";
import { drawAnew, make } from "../shared/page.js";

/** @typedef {import("../shared/format.js").Unit} Unit */

const AGAIN_MS = 2500;

/** Fetch, tell, and tell again what has become new. @param {import("./past_list.js").Page} page @param {string} path @param {(got: any, newer: boolean) => void} tell */
export async function growing(page, path, tell) {
  let got = await page.get(path);
  const again = async () => {
    const newer = await page.get(path).catch(() => got);
    const changed = JSON.stringify(newer) !== JSON.stringify(got);
    got = newer;
    if (changed) tell(got, true);
    if (got.pending) window.setTimeout(again, AGAIN_MS);
  };
  tell(got, false);
  if (got.pending) window.setTimeout(again, AGAIN_MS);
}

/** A whole page that grows, drawn anew each time. @param {import("./past_list.js").Page} page @param {string} path @param {(got: any, unit: Unit) => Element} whole */
export async function growingPage(page, path, whole) {
  /** @type {any} */
  let got = null;
  let { unit } = page;
  const draw = () => page.box.replaceChildren(whole(got, unit));
  await growing(page, path, (told, newer) => {
    got = told;
    if (newer) drawAnew(page.box, draw);
    else draw();
  });
  return (/** @type {Unit} */ chosen) => { unit = chosen; draw(); };
}

/** How many are still to come, in words; nothing when none is. @param {number} pending @param {string} grows what does so meanwhile */
export function stillToCome(pending, grows) {
  return pending ? [make("p", "label many-says", `Still working out ${count(pending)} ${pending === 1 ? "firing" : "firings"}; ${grows} meanwhile.`)] : [];
}
