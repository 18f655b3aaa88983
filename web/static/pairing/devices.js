/** The paired devices: which they are, when each was last seen, and shutting one out. For operators. */

import { Beside } from "../shared/beside.js";
import { el, make, put, show } from "../shared/page.js";
import { startUnit } from "../shared/unit.js";

/** @typedef {{number: number, name: string, role: string, paired_utc_s: number, seen_utc_s: number | null, this_one: boolean}} Device */

const DOES = { watcher: "sees, looks ahead, holds, aborts", operator: "may ask for everything, with the code at the kiln" };
/** @type {Device | null} */
let chosen = null;

/** @param {number | null} utcS */
function when(utcS) {
  return utcS === null ? "not yet" : new Date(utcS * 1000).toLocaleString(undefined, { dateStyle: "medium", timeStyle: "short" });
}

/** @param {Device} device */
function row(device) {
  const button = make("button", "", "Shut out …");
  button.type = "button";
  button.setAttribute("aria-label", `Shut out ${device.name}`);
  button.addEventListener("click", () => {
    chosen = device;
    put("revoke-title", `Shut out ${device.name}${device.this_one ? " (this device)" : ""}?`);
    el("revoke-dialog").showModal();
  });
  const does = DOES[/** @type {keyof typeof DOES} */ (device.role)];
  return make("li", "device", make("div", "what",
    make("b", "name", device.name + (device.this_one ? " (this device)" : "")),
    make("span", "label", `${device.role}: ${does}`),
    make("span", "label", `paired ${when(device.paired_utc_s)}`),
    make("span", "label", `last seen ${when(device.seen_utc_s)}`)), button);
}

async function list() {
  try {
    const response = await fetch("/api/devices");
    const found = await response.json();
    if (!response.ok) return put("devices-says", String(found.says));
    el("devices").replaceChildren(...found.map(row));
    show("devices", found.length > 0);
    if (!found.length) put("devices-says", "No device is paired.");
  } catch {
    put("devices-says", "The list did not arrive. Open this page again in a moment.");
  }
}

async function revoke() {
  el("revoke-dialog").close();
  if (!chosen) return;
  try {
    const response = await fetch(`/api/devices/${chosen.number}/revoke`, { method: "POST", headers: { "Content-Type": "application/json" }, body: "{}" });
    const answer = await response.json();
    if (answer.ok && chosen.this_one) return window.location.replace("/");
    await list();
    put("devices-says", String(answer.says));
  } catch {
    put("devices-says", "It did not get through to the kiln’s computer. Try again.");
  }
}

const beside = new Beside(startUnit((unit) => beside.use(unit)));
el("revoke-back").addEventListener("click", () => el("revoke-dialog").close());
el("revoke-now").addEventListener("click", revoke);
list();
