/**
 * What the kiln does now, beside whatever else a page shows: the strip above, and the buttons below for as long
 * as a firing runs, or while nobody can say whether one does. Shared by every page but the first, which has more.
 */

import { disableWarming, drawActions, startActions } from "./actions.js";
import { CallingLater } from "./calling_later.js";
import { askWhatThisIs } from "./device.js";
import { temperature } from "./format.js";
import { drawLost, drawSimulated, drawStrip, ENDED } from "../now/now.js";
import { el, put, show } from "./page.js";
import { startCodeDialog } from "./person.js";
import { Stream } from "./stream.js";

/** @typedef {import("./format.js").Unit} Unit */

export class Beside {
  /** @param {Unit} unit */
  constructor(unit) {
    this.unit = unit;
    this.title = document.title;
    /** @type {any} */
    this.frame = null;
    this.calling = new CallingLater(null);
    askWhatThisIs();
    startActions();
    startCodeDialog();
    el("abort").disabled = false;
    this.stream = new Stream((frame) => this.onFrame(frame), (link) => this.onLink(link));
    window.setInterval(() => { if (this.stream.link.kind === "lost") drawLost(this.stream.link); }, 1000);
  }

  /** @param {string} title of the page, for as long as nothing presses */
  name(title) {
    this.title = title;
    document.title = title;
  }

  /** @param {any} frame */
  onFrame(frame) {
    this.frame = frame;
    this.calling.hear(frame);
    this.draw();
  }

  /** @param {Unit} unit */
  use(unit) {
    this.unit = unit;
    if (this.frame) this.draw();
  }

  draw() {
    const { frame, unit } = this;
    if (this.stream.link.kind !== "live") return;
    const over = frame.state === "idle" || ENDED.includes(frame.state);
    drawStrip(frame, unit);
    drawSimulated(frame);
    put("air", temperature(frame.air.c, unit));
    show("air", !over);
    drawActions(frame);
    this.reach(!over || document.documentElement.dataset.tone === "alarm");
    if (document.documentElement.dataset.tone === "quiet") document.title = this.title;
  }

  /** Show the buttons, or take them away when there is surely nothing to abort. @param {boolean} needed */
  reach(needed) {
    document.body.classList.toggle("nothing-runs", !needed);
  }

  /** @param {import("./stream.js").Link} link */
  onLink(link) {
    this.calling.heard(link);
    const root = document.documentElement;
    if (root.dataset.link === link.kind && link.kind === "live") return;
    root.dataset.link = link.kind;
    disableWarming(link.kind !== "live");
    if (link.kind !== "lost") return;
    drawLost(link);
    show("air", false);
    this.reach(true);
    if (link.by === "network") askWhatThisIs(); // it may have been shut out
  }
}
