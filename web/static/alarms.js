/** Every alarm in words: what it is, what to do, since when, and that somebody has seen it. */

import { clock } from "./format.js";
import { el, fill, make, shape, show, toast } from "./page.js";
import { presses } from "./now.js";
import { askForCode } from "./person.js";
import { ask } from "./requests.js";

/** What the guard does about it. @type {Record<string, string>} */
const REACTIONS = {
  warn: "A warning: the firing goes on.",
  hold: "The schedule’s clock stands meanwhile.",
  cut: "Heat is off as long as this lasts.",
  trip: "Heat is off until a person clears it at the kiln.",
};

/** Those that press stand above everything but the temperature; warnings, and what is over, below. @param {any} frame */
export function drawAlarms(frame) {
  drawList("alarms", frame.alarms.filter(presses), frame);
  drawList("quiet-alarms", frame.alarms.filter((/** @type {any} */ alarm) => !presses(alarm)), frame);
}

/** @param {string} id @param {any[]} alarms @param {any} frame */
function drawList(id, alarms, frame) {
  show(id, alarms.length > 0);
  const alone = frame.alarms.length === 1;
  const byOurClock = frame.speed === 1;
  fill(el(id), JSON.stringify([alarms, alone]), () => alarms.map((alarm) => card(alarm, alone, byOurClock)));
}

/** @param {any} alarm @param {boolean} alone @param {boolean} byOurClock whether the kiln's time is this device's */
function card(alarm, alone, byOurClock) {
  const pressing = presses(alarm);
  const head = make("p", "alarm-says", shape(pressing ? "alarm" : "quiet-alarm"), make("span", "", alarm.says));
  const node = make("article", pressing ? "alarm pressing-alarm" : "alarm", head, make("p", "alarm-do", alarm.do));
  const facts = [
    alarm.state === "returned to normal" ? "Over now." : REACTIONS[alarm.reaction],
    byOurClock ? `Since ${clock(Date.parse(alarm.since_utc), true)}.` : "",
    alarm.first_out && !alone ? "It came first." : "",
  ];
  node.append(make("p", "label", facts.filter(Boolean).join(" ")));
  if (alarm.state === "acknowledged") node.append(make("p", "label", "Acknowledged."));
  const buttons = make("div", "alarm-buttons");
  if (alarm.state !== "acknowledged") buttons.append(button("Acknowledge", () => acknowledge(alarm.id)));
  if (alarm.reaction === "trip" && alarm.state !== "returned to normal") buttons.append(button("Clear the trip", () => askForCode("clear")));
  if (buttons.childElementCount) node.append(buttons);
  return node;
}

/** @param {string} text @param {() => void} act */
function button(text, act) {
  const node = make("button", "plain", text);
  node.type = "button";
  node.addEventListener("click", act);
  return node;
}

/** @param {string} id */
async function acknowledge(id) {
  const answer = await ask("acknowledge", { alarm: id });
  toast(answer.says, answer.ok ? "done" : "refused");
}
