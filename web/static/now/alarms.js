/** Every alarm in words: what it is, what to do, since when, and that somebody has seen it. */

import { clock } from "../shared/format.js";
import { el, fill, make, shape, show, toast } from "../shared/page.js";
import { presses } from "./now.js";
import { askForCode } from "../shared/person.js";
import { ask } from "../shared/requests.js";

/** One push holds an alarm back for this long; it comes back by itself. */
const SHELVE_MIN = 30;

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
  const note = noted(alarm, byOurClock);
  if (note) node.append(make("p", "label", note));
  const buttons = make("div", "alarm-buttons");
  if (!["acknowledged", "shelved"].includes(alarm.state)) buttons.append(button("Acknowledge", () => acknowledge(alarm.id)));
  if (alarm.can_shelve) buttons.append(button(`Shelve ${SHELVE_MIN} min`, () => shelve(alarm.id, SHELVE_MIN)));
  if (alarm.state === "shelved") buttons.append(button("Show again", () => shelve(alarm.id, 0)));
  if (alarm.reaction === "trip" && alarm.state !== "returned to normal") buttons.append(button("Clear the trip", () => askForCode("clear")));
  if (buttons.childElementCount) node.append(buttons);
  return node;
}

/** What a person has done about it. @param {any} alarm @param {boolean} byOurClock */
function noted(alarm, byOurClock) {
  if (alarm.state === "shelved") return `Shelved for another ${Math.round(alarm.shelved_for_s / 60)} min: not told, and acted on as before.`;
  if (alarm.state !== "acknowledged") return "";
  const by = alarm.acknowledged_by ? ` by ${alarm.acknowledged_by}` : "";
  return `Acknowledged${by}${byOurClock && alarm.acknowledged_utc ? ` at ${clock(Date.parse(alarm.acknowledged_utc), true)}` : ""}.`;
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

/** @param {string} id @param {number} minutes 0: show it again */
async function shelve(id, minutes) {
  const answer = await ask("shelve", { alarm: id, minutes });
  toast(answer.says, answer.ok ? "done" : "refused");
}
