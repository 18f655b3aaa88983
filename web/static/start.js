/** Nothing is running: choose a schedule and start it, standing at the kiln. */

import { el, make, put, show } from "./page.js";
import { codeForm } from "./person.js";

let fetched = false;

export function startStart() {
  codeForm({ form: "start-form", code: "start-code", go: "start-go", answer: "start-answer" }, () => {
    const chosen = new FormData(el("start-form")).get("schedule");
    if (!chosen) put("start-answer", "Choose a schedule first.");
    return chosen ? ["start", { schedule: String(chosen) }] : null;
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
