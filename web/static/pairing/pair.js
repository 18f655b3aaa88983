/** Pairs this device: with the secret in the picture's link, or with the digits that a person types. */

import { el, put, show } from "../shared/page.js";

const PATIENCE_MS = 10000;
// The link's secret stands behind the #: no server and no log sees it there, and from here on no history does.
const link = decodeURIComponent(window.location.hash.slice(1));
if (link) window.history.replaceState(null, "", window.location.pathname + window.location.search);

/** Go where this device wanted to, now that it may. */
function goOn() {
  const { pathname, search } = window.location;
  window.location.replace(pathname === "/pair" ? "/" : pathname + search);
}

/**
 * A link from another site's page comes without the cookie: then this device is paired, and only needs to go on. One
 * that is paired and brings a new link may see what the kiln does, and abort; a stranger's page has neither.
 */
async function lookWhetherPaired() {
  try {
    const device = await (await fetch("/api/device")).json();
    if (device.role === "anyone") return;
    if (!link) return goOn();
    const [{ Beside }, { startUnit }] = await Promise.all([import("../shared/beside.js"), import("../shared/unit.js")]);
    document.body.classList.remove("stranger");
    new Beside(startUnit(() => {}));
  } catch { /* it does not answer; the form says so when it is used */ }
}

/** @param {Record<string, string>} body @returns {Promise<{ok: boolean, says: string}>} */
async function pair(body) {
  try {
    const response = await fetch("/api/pair", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(body),
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
    return await response.json();
  } catch {
    return { ok: false, says: "The kiln’s computer does not answer. Try again in a moment." };
  }
}

let byLink = link !== "";

function draw() {
  show("typed", !byLink);
  if (byLink) put("lead", "Whoever is paired sees the kiln, and may hold and abort a firing. The picture on the kiln’s screen lets this device in, once.");
}

el("pair-form").addEventListener("submit", async (/** @type {SubmitEvent} */ event) => {
  event.preventDefault();
  const digits = el("pair-code").value.replace(/[\s-]/g, "");
  if (!byLink && !/^\d{8}$/.test(digits)) {
    put("pair-answer", "Type the eight digits that the kiln’s own screen shows.");
    return el("pair-code").focus();
  }
  el("pair-go").disabled = true;
  const answer = await pair(byLink ? { link } : { code: digits });
  el("pair-go").disabled = false;
  if (answer.ok) return goOn();
  put("pair-answer", answer.says);
  byLink = false; // a link counts once: what is left are the digits
  draw();
});

draw();
lookWhetherPaired();
