/** Puts the page's parts together: a frame comes in, every part draws itself. */

import { startActions, drawActions, disableWarming } from "../shared/actions.js";
import { drawAlarms } from "./alarms.js";
import { CallingLater } from "../shared/calling_later.js";
import { Checklist } from "./checklist.js";
import { Curve } from "./curve.js";
import { askWhatThisIs } from "../shared/device.js";
import { drawMore, startMore } from "./more.js";
import { drawLost, drawNow } from "./now.js";
import { el, show } from "../shared/page.js";
import { drawPerson, startCodeDialog, startPerson } from "../shared/person.js";
import { Stream } from "../shared/stream.js";
import { startUnit } from "../shared/unit.js";

const curve = new Curve();
/** @type {import("./estimates.js").Estimates | null} */
let estimates = null;
let asked = false;
/** @type {any} */
let frame = null;
let unit = startUnit((chosen) => {
  unit = chosen;
  draw();
});

function draw() {
  if (!frame) return;
  if (stream.link.kind === "live") {
    drawNow(frame, unit);
    drawPerson(frame, unit);
    checklist.draw(frame);
    drawMore(frame);
    drawAlarms(frame);
    drawActions(frame);
    estimates?.draw(frame, unit);
    show("start", frame.can.includes("start"));
  }
  curve.draw(frame, unit);
}

const calling = new CallingLater(document.querySelector(".now"));

/** @param {any} newest */
function onFrame(newest) {
  frame = newest;
  calling.hear(frame);
  curve.add(frame);
  draw();
  if (!asked) fetchEstimates();
}

/** What is estimated is fetched after what is measured stands on the screen. */
async function fetchEstimates() {
  asked = true;
  try {
    const { Estimates } = await import("./estimates.js");
    estimates = new Estimates((told) => curve.foresee(told));
    draw();
  } catch {
    asked = false;
  }
}

/** @param {import("../shared/stream.js").Link} link */
function onLink(link) {
  calling.heard(link);
  const root = document.documentElement;
  if (root.dataset.link === link.kind && link.kind === "live") return;
  const back = root.dataset.link !== "live" && link.kind === "live";
  root.dataset.link = link.kind;
  disableWarming(link.kind !== "live");
  if (link.kind === "lost") drawLost(link);
  if (link.kind === "lost") checklist.lose();
  if (back) curve.refetch();
  if (link.kind === "lost" && link.by === "network") askWhatThisIs(); // it may have been shut out
}

askWhatThisIs();
startActions();
startPerson();
startCodeDialog();
startMore();
const checklist = new Checklist();
el("abort").disabled = false;
const stream = new Stream(onFrame, onLink);
window.setInterval(() => { if (stream.link.kind === "lost") drawLost(stream.link); }, 1000);
