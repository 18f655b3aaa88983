/**
 * A start, in four steps, one idea a screen: which schedule, what is fired, what is to come, and what to look at
 * before. Each step is a place in this device's history, so that its own way back leads one step back.
 */

import { make } from "../shared/page.js";
import { AheadStep } from "./start_ahead.js";
import { ChooseStep } from "./start_choose.js";
import { GoStep, RUNS, startable } from "./start_go.js";
import { JobStep } from "./start_job.js";
import { button } from "../past/past_list.js";
import { get } from "../shared/server.js";

/** @typedef {import("../shared/format.js").Unit} Unit */
/**
 * What is chosen so far. `schedule`: as the server tells it, with the text that will run; `job`: the sheet's text.
 * @typedef {{schedule: any, job: string}} Chosen
 */
/**
 * One screen. `enter` draws it; `leave` says whether one may go on, or stays and says why itself.
 * @typedef {{node: any, title: string, next: string, enter: () => void, leave: () => Promise<boolean>, use: (unit: Unit) => void}} Step
 */

const PLACES = ["schedule", "job", "ahead", "look"];

/** @param {import("./steps.js").Page} page */
export async function drawStart(page) {
  page.name("Start a firing");
  const [{ schedules }, { tables }] = await Promise.all([get("/api/schedules"), get("/api/job")]);
  const start = new Start(page, schedules, tables);
  return (/** @type {Unit} */ unit) => start.use(unit);
}

class Start {
  /** @param {import("./steps.js").Page} page @param {any[]} schedules @param {any[]} tables */
  constructor(page, schedules, tables) {
    /** @type {Chosen} */
    this.chosen = { schedule: null, job: "" };
    this.page = page;
    const { chosen } = this;
    const go = () => this.go();
    this.steps = [
      new ChooseStep(chosen, schedules, page.unit, go),
      new JobStep(chosen, tables),
      new AheadStep(chosen, page.unit, () => this.label()),
      new GoStep(chosen, page.beside),
    ];
    this.count = make("p", "label step-count");
    this.title = make("h1", "title");
    this.title.tabIndex = -1;
    this.next = button("", "go step-next", go);
    this.body = make("div", "step-body");
    this.runs = make("p", "caution step-runs", RUNS);
    page.box.replaceChildren(make("div", "step", this.count, this.title, this.runs, this.body, this.next));
    window.setInterval(() => this.tellRuns(), 500);
    window.addEventListener("hashchange", () => this.show());
    this.show();
  }

  /** @returns {number} the step that the address names, as far as it can be shown yet */
  place() {
    const place = PLACES.indexOf(window.location.hash.slice(1));
    return this.chosen.schedule ? Math.max(0, place) : 0;
  }

  show() {
    const place = this.place();
    const step = this.steps[place];
    this.count.textContent = `Step ${place + 1} of ${this.steps.length}`;
    this.title.textContent = step.title;
    this.page.back(place ? "Back" : "Now", place ? `#${PLACES[place - 1]}` : "/");
    this.body.replaceChildren(step.node);
    step.enter();
    this.label();
    this.tellRuns();
    window.scrollTo(0, 0);
    if (place > 0) this.title.focus({ preventScroll: true });
  }

  /** One may look ahead while a firing runs, and is told that it runs. */
  tellRuns() {
    this.runs.hidden = startable(this.page.beside);
  }

  label() {
    const { next } = this.steps[this.place()];
    this.next.hidden = next === "";
    this.next.textContent = next;
  }

  async go() {
    const place = this.place();
    if (!(await this.steps[place].leave())) return;
    const next = PLACES[place + 1];
    if (window.location.hash === `#${next}`) this.show(); // loaded anew there, and begun again at the first step
    else window.location.hash = next;
  }

  /** @param {Unit} unit */
  use(unit) {
    for (const step of this.steps) step.use(unit);
  }
}
