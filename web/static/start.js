/** Nothing is running: choose a schedule, look at what must be looked at, and start it, standing at the kiln. */

import { el, make, put, show } from "./page.js";
import { codeForm } from "./person.js";
import { PreFire } from "./prefire.js";

let fetched = false;
/** @type {PreFire} */
let list;

const chosen = () => String(new FormData(el("start-form")).get("schedule") ?? "");

export function startStart() {
  list = new PreFire(el("prefire"));
  el("profiles").addEventListener("change", async () => put("start-answer", await list.load({ schedule: chosen() })));
  codeForm({ form: "start-form", code: "start-code", go: "start-go", answer: "start-answer" }, () => {
    const left = list.left();
    put("start-answer", left);
    return left ? null : ["start", { schedule: chosen(), ...list.told() }];
  });
}

/** @param {any} frame */
export function drawStart(frame) {
  const possible = frame.can.includes("start");
  show("start", possible);
  if (possible && !fetched) fetchProfiles();
  if (!possible) fetched = false;
}

async function fetchProfiles() {
  fetched = true;
  try {
    const profiles = await (await fetch("/api/profiles")).json();
    el("profiles").replaceChildren(make("legend", "label", "Schedule"), ...profiles.map(row));
    show("prefire", false);
    list.ready = false;
    put("start-answer", "");
  } catch {
    fetched = false;
    put("start-answer", "The list of schedules did not arrive; trying again.");
  }
}

/** @param {{name: string, title: string, fault: string}} profile */
function row(profile) {
  const input = make("input", "");
  Object.assign(input, { type: "radio", name: "schedule", value: profile.name, disabled: profile.fault !== "" });
  return make("label", "profile", input, make("span", "", make("b", "", profile.title),
    make("small", "", profile.fault || profile.name)));
}
