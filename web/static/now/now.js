/** What the kiln is doing at this moment: the strip, the temperature, the stage, and what comes next. */

import { clock, count, degrees, duration, sentence, share, temperature } from "../shared/format.js";
import { announce, el, fill, make, put, shape, show } from "../shared/page.js";

/** @typedef {import("../shared/format.js").Unit} Unit */
/** @typedef {import("../shared/stream.js").Link} Link */

/** State: its word, its shape, and what it means in one line. @type {Record<string, [string, string, string]>} */
export const STATES = {
  idle: ["Idle", "idle", "Nothing is running."],
  running: ["Running", "running", ""],
  holding: ["Going on hold", "held", "The schedule’s clock stops."],
  held: ["On hold", "held", "The schedule’s clock stands; the temperature is kept."],
  restarting: ["Resuming", "running", ""],
  stopping: ["Stopping", "stopped", "Heat goes off."],
  stopped: ["Stopped", "stopped", "Heat is off."],
  aborting: ["Aborting", "aborted", "Heat goes off."],
  aborted: ["Aborted", "aborted", "Heat is off and stays off."],
  complete: ["Complete", "complete", "The schedule has ended."],
};
export const ENDED = ["stopped", "aborted", "complete"];
const DOES = { ramp: "moving to", cool: "cooling to", hold: "holding at", checkpoint: "waiting for a person" };
// A reading older than this, in seconds of a person's clock, is told as old. A tick is about one.
const OLD_S = 5;

/** @param {any} reading @param {number} speed */
const isOld = (reading, speed) => reading.c !== null && reading.age_s / speed > OLD_S;

/** An alarm that stands and holds the firing or the heat back. A mere warning, and what is shelved, have no colour. @param {any} alarm */
export const presses = (alarm) => !["returned to normal", "shelved"].includes(alarm.state) && alarm.reaction !== "warn";

/** @param {any} frame @param {Unit} unit */
export function drawNow(frame, unit) {
  drawStrip(frame, unit);
  drawTemperature(frame, unit);
  drawStage(frame, unit);
  drawAhead(frame);
  drawResult(frame);
  drawSimulated(frame);
  put("place", place(frame));
}

/** @param {any} frame @param {Unit} unit */
export function drawStrip(frame, unit) {
  const [word, own, meaning] = STATES[frame.state] ?? [sentence(frame.state), "unknown", ""];
  const alarm = frame.alarms.find(presses);
  const tone = alarm ? "alarm" : frame.person ? "person" : "quiet";
  const warning = frame.alarms.find((/** @type {any} */ a) => a.state === "unacknowledged" && !presses(a));
  const title = alarm ? `Alarm · ${word}` : frame.person ? "You are needed" : word;
  document.documentElement.dataset.tone = tone;
  document.documentElement.dataset.state = frame.state;
  const plain = frame.person ? frame.title : meaning || frame.title;
  setStrip(tone === "quiet" ? own : tone, title, alarm?.says ?? (warning ? `Warning: ${warning.says}` : plain));
  document.title = `${temperature(frame.air.c, unit)} · ${title}`;
  announce(alarm ? `${title}: ${alarm.says}` : frame.person ? `${title}: ${frame.person.says}` : title, tone !== "quiet");
}

/** @param {string} name @param {string} title @param {string} says */
function setStrip(name, title, says) {
  el("state-shape").setAttribute("href", `#shape-${name}`);
  put("state", title);
  put("state-says", says);
}

/** Say since when there is no word. Called again and again while it lasts. @param {Link} link */
export function drawLost(link) {
  document.documentElement.dataset.tone = "lost";
  const ago = duration((Date.now() - link.sinceMs) / 1000);
  const since = link.ever ? `since ${clock(link.sinceMs, true)} (${ago})` : `yet (${ago})`;
  const why = link.by === "controller"
    ? "The page’s server answers; the controller does not. The kiln may go on without this page: go and look."
    : "This device hears nothing from the kiln’s computer. The kiln goes on without this page.";
  setStrip("lost", `No word from the controller ${since}`, why);
  document.title = "No word from the controller";
  announce("No word from the controller. The numbers on this page are old.", true);
}

/** @param {any} frame @param {Unit} unit */
function drawTemperature(frame, unit) {
  put("air-label", `Chamber air, °${unit}`);
  put("air", degrees(frame.air.c, unit));
  el("air").classList.toggle("four", degrees(frame.air.c, unit).length > 3);
  el("air").classList.toggle("old", isOld(frame.air, frame.speed));
  drawFault("air-fault", frame.air, frame.speed);
  put("setpoint", temperature(frame.setpoint_c, unit).replace("no reading", "none"));
  for (const name of ["load", "limit"]) {
    show(`${name}-box`, frame[name] !== null);
    const asked = name === "load" && frame.load_setpoint_c != null ? `, to be ${temperature(frame.load_setpoint_c, unit)}` : "";
    if (frame[name]) put(name, sensed(frame[name], unit, frame.speed) + asked);
  }
  put("heat", frame.duty > 0 || frame.heat_on ? `${share(frame.duty)}, ${frame.heat_on ? "on" : "off now"}` : "off");
}

/** @param {string} id @param {any} reading @param {number} speed */
function drawFault(id, reading, speed) {
  const old = isOld(reading, speed) ? `This reading is ${duration(reading.age_s)} old.` : "";
  const says = reading.c === null ? `No reading: ${reading.fault}.` : old;
  put(id, says);
  show(id, says !== "");
}

/** @param {any} reading @param {Unit} unit @param {number} speed */
function sensed(reading, unit, speed) {
  if (reading.c === null) return `no reading: ${reading.fault}`;
  return isOld(reading, speed) ? `${temperature(reading.c, unit)}, ${duration(reading.age_s)} old` : temperature(reading.c, unit);
}

/** @param {any} frame @param {Unit} unit */
function drawStage(frame, unit) {
  const stage = frame.stage;
  show("stage", stage !== null && !ENDED.includes(frame.state));
  if (!stage) return;
  put("stage-count", `Stage ${count(stage.index + 1)} of ${count(stage.count)}`);
  put("stage-name", sentence(stage.name));
  show("stage-left-box", stage.left_s !== null);
  if (stage.left_s !== null) put("stage-left", duration(stage.left_s));
  const does = DOES[/** @type {keyof typeof DOES} */ (stage.kind)] ?? stage.kind;
  put("stage-does", sentence(stage.target_c === null ? does : stage.kind === "checkpoint"
    ? `${does}; the kiln is kept at ${temperature(stage.target_c, unit)}` : `${does} ${temperature(stage.target_c, unit)}`));
  show("waiting", frame.waiting !== null);
  put("waiting", frame.waiting ?? "");
  drawMarks(stage);
}

/** One bar a stage: done, in hand (filled as far as it has come), to come. @param {any} stage */
function drawMarks(stage) {
  const marks = el("stage-marks");
  fill(marks, `${stage.count}/${stage.index}`, () => Array.from({ length: stage.count }, (_, i) => {
    const mark = make("li", i < stage.index ? "done" : i === stage.index ? "in-hand" : "");
    if (i === stage.index) mark.append(make("span", ""));
    return mark;
  }));
  const known = stage.left_s !== null && stage.elapsed_s + stage.left_s > 0;
  const part = known ? stage.elapsed_s / (stage.elapsed_s + stage.left_s) : 1;
  marks.querySelector("span")?.style.setProperty("width", `${Math.round(100 * part)}%`);
}

/** @param {any} frame */
function drawAhead(frame) {
  const same = (/** @type {any} */ a, /** @type {any} */ b) => a && b && a.name === b.name && a.in_s === b.in_s;
  const { next, stop, end } = frame;
  const pour = frame.pour?.in_s === 0 ? null : frame.pour;
  const rows = [];
  if (next && !same(next, stop) && !same(next, pour)) rows.push(["Next", next, ""]);
  if (stop && !same(stop, pour)) rows.push(["You are needed", stop, "needs"]);
  if (pour) rows.push([same(stop, pour) ? "You pour" : "Pour", pour, same(stop, pour) ? "needs" : ""]);
  if (end) rows.push(["End", { ...end, name: "schedule ends" }, ""]);
  show("ahead", rows.length > 0);
  const texts = rows.map(([label, what, mark]) => [label, mark, sentence(what.name), ...when(what.in_s, frame)]);
  fill(el("ahead-rows"), JSON.stringify(texts), () => texts.map(aheadRow));
}

/**
 * How long and at what time. While the schedule waits for a person, no clock can say when: only how long after.
 * @param {number | null} s @param {any} frame
 */
function when(s, frame) {
  if (s === null) return ["nobody can say", ""];
  const { held, first_s, word } = waits(frame);
  if (!held) return [`in ${duration(s)}`, clock(Date.now() + (s * 1000) / frame.speed, frame.speed > 1)];
  return s - first_s < 1 ? [`when ${word}d`, ""] : [duration(s - first_s), `after ${word}`];
}

/** Whether everything to come waits for a person, and the seconds that the plan reckons for the wait itself. @param {any} frame */
function waits(frame) {
  if (frame.person) return { held: true, first_s: frame.next?.in_s ?? frame.end?.in_s ?? 0, word: "release" };
  return { held: ["holding", "held"].includes(frame.state), first_s: 0, word: "resume" };
}

/** @param {string[]} texts */
function aheadRow([label, mark, name, relative, at]) {
  const left = make("span", "what", make("span", "label", label), make("span", "name", name));
  if (mark) left.firstChild?.prepend(shape("person"));
  return make("li", mark, left, make("span", "when", make("b", "num", relative), make("span", "label num", at)));
}

/** @param {any} frame */
function drawResult(frame) {
  const ended = ENDED.includes(frame.state);
  show("result", ended);
  if (!ended) return;
  const how = { complete: "is complete", aborted: "was aborted", stopped: "was stopped" }[/** @type {"complete"} */ (frame.state)];
  put("result-says", `The firing ${how} after ${duration(frame.elapsed_s)}.`);
  put("result-more", frame.title);
  show("reset", frame.can.includes("reset"));
}

/** @param {any} frame */
function place(frame) {
  return frame.firing === null ? frame.kiln : `${frame.kiln} · firing ${count(frame.firing)}`;
}

/** Nobody may take a simulated kiln for a real one. @param {any} frame */
export function drawSimulated(frame) {
  show("simulated", frame.simulated);
  put("simulated", frame.speed > 1 ? `Simulated kiln, ${count(frame.speed)} times faster` : "Simulated kiln");
}
