/**
 * What calls for a person on this device: worked out from the newest frame, or from its absence. The keys are
 * those of web/alerts/facts.py, by which the page tells its server what has been seen.
 */

import { ENDED, presses } from "../now/now.js";

/** @typedef {{key: string, kind: "person" | "alarm" | "lost", lastsMs: number}} Call `lastsMs`: how long it must last before it sounds */

// A glance through the door, and a network that is away for a moment, sound no alarm.
const ALARM_LASTS_MS = 15000;
const LOST_LASTS_MS = 15000;
const CUT_SHORT = "The firing was cut short";

/** @param {any} frame */
const isOpen = (frame) => frame.state !== "idle" && !ENDED.includes(frame.state);

/** Whether silence after this frame has to be told. @param {any} frame */
export const matters = (frame) => isOpen(frame) || frame.alarms.some((/** @type {any} */ a) => a.reaction === "trip" && a.state === "unacknowledged");

/** @param {any} frame @returns {Call[]} */
export function calls(frame) {
  /** @type {Call[]} */
  const found = [];
  for (const alarm of frame.alarms) {
    const trip = alarm.reaction === "trip";
    const atWork = frame.person && alarm.id === "door"; // whoever is needed is there
    if (!presses(alarm) || alarm.state !== "unacknowledged" || (!trip && (!isOpen(frame) || atWork))) continue;
    found.push({ key: `${trip ? "trip" : "alarm"}/${alarm.id}`, kind: "alarm", lastsMs: trip ? 0 : ALARM_LASTS_MS });
  }
  if (frame.person) found.push({ key: `person/${frame.firing}/${frame.stage?.index ?? 0}`, kind: "person", lastsMs: 0 });
  else if (frame.state === "held" && frame.waiting?.startsWith(CUT_SHORT)) {
    found.push({ key: `cut-short/${frame.firing}`, kind: "person", lastsMs: 0 });
  }
  return found;
}

/** @type {Call} */
export const LOST = { key: "lost", kind: "lost", lastsMs: LOST_LASTS_MS };

/** What was noticed when, and what somebody on this device has seen: kept on the device. */
export class Seen {
  constructor() {
    /** @type {Map<string, number>} */
    this.noticed = new Map();
    this.keys = new Set(kept());
  }

  /** Return what calls and was not seen here. What no longer stands is forgotten. @param {Call[]} now @param {number} ms @returns {Call[]} */
  unseen(now, ms) {
    const standing = new Set(now.map((call) => call.key));
    for (const key of [...this.noticed.keys()]) if (!standing.has(key)) this.noticed.delete(key);
    for (const key of [...this.keys]) if (!standing.has(key)) this.keys.delete(key);
    for (const { key } of now) if (!this.noticed.has(key)) this.noticed.set(key, ms);
    return now.filter(({ key, lastsMs }) => !this.keys.has(key) && ms - (this.noticed.get(key) ?? ms) >= lastsMs);
  }

  /** @param {Call[]} calls */
  see(calls) {
    for (const { key } of calls) this.keys.add(key);
    keep([...this.keys]);
  }
}

const KEY = "stokehold.seen";

/** @returns {string[]} */
function kept() {
  try {
    const found = JSON.parse(localStorage.getItem(KEY) ?? "[]");
    return Array.isArray(found) ? found : [];
  } catch {
    return [];
  }
}

/** @param {string[]} keys */
function keep(keys) {
  try {
    localStorage.setItem(KEY, JSON.stringify(keys));
  } catch { /* storage is forbidden here: it lasts as long as the page */ }
}
