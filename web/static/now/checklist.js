/**
 * At a checkpoint the page is the checklist: what is ticked, the cracks that were found, the plastic that was
 * drained. Each is kept at once, so that a reload or another phone shows the same; while it is shown it is read
 * again every few seconds. It decides nothing: the release below it is the controller's.
 */

import { Cracks } from "./checklist_cracks.js";
import { Drained } from "./checklist_drained.js";
import { count } from "../shared/format.js";
import { el, fill, make, put, show, toast } from "../shared/page.js";
import { observe } from "../shared/photo.js";

/** How soon another phone's ticks are seen here. */
const AGAIN_MS = 4000;

export class Checklist {
  constructor() {
    /** @type {{firing: number, stage: number} | null} */
    this.at = null;
    /** Lines whose tick is on its way: what is read meanwhile is older. @type {Set<number>} */
    this.sending = new Set();
    this.asked = 0;
    this.lines = make("ul", "ticks");
    this.ticked = make("p", "label");
    this.says = make("p", "checklist-says");
    this.cracks = new Cracks((what) => this.tell(what));
    this.drained = new Drained((what) => this.tell(what));
    const part = (/** @type {string} */ name, /** @type {any[]} */ ...inside) => make("section", "checklist-part", make("h2", "title", name), ...inside);
    this.doing = part("To do", this.ticked, this.lines);
    this.all = make("fieldset", "checklist-all", this.says, this.doing, part("Cracks", this.cracks.node), this.drained.node);
    el("checklist").append(this.all);
    window.setInterval(() => { if (this.at && !this.all.disabled && !document.hidden) this.read(); }, AGAIN_MS);
  }

  /** @param {any} frame */
  draw(frame) {
    const there = frame.person !== null && frame.stage?.kind === "checkpoint" && frame.firing !== null;
    show("checklist", there);
    this.all.disabled = false;
    if (!there) { this.at = null; show("person-unticked", false); return; }
    if (this.at?.firing === frame.firing && this.at?.stage === frame.stage.index) return;
    this.at = { firing: frame.firing, stage: frame.stage.index };
    this.doing.hidden = true;
    this.cracks.begin(this.at);
    this.drained.begin();
    this.read();
  }

  /** With no word from the controller nothing here can be changed, or believed to be the newest. */
  lose() {
    this.all.disabled = true;
  }

  async read() {
    const { at } = this;
    if (!at) return;
    const asked = ++this.asked;
    let list;
    try {
      const response = await fetch(`/api/firings/${at.firing}/checklist?stage=${at.stage}`);
      list = await response.json();
      if (!response.ok) throw new Error(String(list.says));
    } catch (error) {
      if (at === this.at && asked === this.asked) this.fail(/** @type {Error} */ (error).message);
      return;
    }
    if (at === this.at && asked === this.asked) this.take(list);
  }

  /** @param {string} why */
  fail(why) {
    this.says.textContent = `The list did not arrive (${why}). The message above says what to do.`;
  }

  /** @param {any} list */
  take(list) {
    this.says.textContent = "";
    this.list = list;
    this.doing.hidden = list.ticks.length === 0;
    if (!this.sending.size) this.drawTicks();
    this.cracks.take(list.cracks);
    this.drained.take(list);
  }

  drawTicks() {
    const { ticks } = this.list;
    const done = ticks.filter((/** @type {any} */ each) => each.done).length;
    this.ticked.textContent = `${count(done)} of ${count(ticks.length)} ticked`;
    const left = ticks.length - done;
    put("person-unticked", left === 1 ? "One line is not ticked." : `${count(left)} lines are not ticked.`);
    show("person-unticked", left > 0);
    const focused = document.activeElement?.id;
    fill(this.lines, JSON.stringify([this.at, ticks.map((/** @type {any} */ each) => [each.says, each.done])]), () => ticks.map((/** @type {any} */ each, /** @type {number} */ item) => this.line(each, item)));
    if (focused?.startsWith("tick-")) document.getElementById(focused)?.focus();
  }

  /** @param {any} tick @param {number} item */
  line(tick, item) {
    const box = Object.assign(make("input", ""), { type: "checkbox", id: `tick-${item}`, checked: tick.done });
    box.addEventListener("change", () => this.tick(item, box));
    return make("li", "", make("label", "tick", box, make("span", "", tick.says)));
  }

  /** @param {number} item @param {HTMLInputElement} box */
  async tick(item, box) {
    this.sending.add(item);
    this.list.ticks[item].done = box.checked;
    this.drawTicks();
    const kept = await this.tell({ kind: "tick", item, done: box.checked }, () => this.sending.delete(item));
    if (kept) return;
    this.list.ticks[item].done = !box.checked;
    this.drawTicks();
  }

  /** Keep one thing, then read what stands. @param {Record<string, unknown>} what @param {() => void} [sent] @returns {Promise<boolean>} */
  async tell(what, sent) {
    const { at } = this;
    if (!at) return false;
    const answer = await observe(at.firing, { ...what, stage: at.stage });
    sent?.();
    if (answer.ok) await this.read();
    else toast(answer.says, "refused");
    return answer.ok;
  }
}
