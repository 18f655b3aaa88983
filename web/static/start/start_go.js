/** The last step: stand at the kiln, look at each thing, say who can be reached, type the code, and start. */

import { make } from "../shared/page.js";
import { forgetSheet } from "./kept_sheet.js";
import { PreFire } from "./prefire.js";
import { ask } from "../shared/requests.js";

export const RUNS = "A start is not possible now: a firing runs, or the last one was not reset. See the page Now.";

/** Whether the controller would take a start, as far as this page knows. @param {import("../shared/beside.js").Beside} beside */
export const startable = ({ frame, stream }) => stream.link.kind !== "live" || !frame || frame.can.includes("start");

export class GoStep {
  /** @param {import("./start.js").Chosen} chosen @param {import("../shared/beside.js").Beside} beside */
  constructor(chosen, beside) {
    this.title = "Look, and start";
    this.next = "";
    this.chosen = chosen;
    this.beside = beside;
    this.box = make("div", "prefire");
    this.list = new PreFire(this.box);
    this.code = make("input", "");
    Object.assign(this.code, { id: "start-code", name: "code", inputMode: "numeric", pattern: "[0-9]*", maxLength: 4, autocomplete: "off", enterKeyHint: "go" });
    this.go = make("button", "go", "Start");
    Object.assign(this.go, { id: "start-go", type: "submit" });
    this.says = make("p", "answer");
    Object.assign(this.says, { id: "start-answer" });
    this.says.setAttribute("role", "alert");
    this.code.setAttribute("aria-describedby", "start-answer");
    const label = make("label", "", "The code on the kiln’s own screen");
    label.htmlFor = "start-code";
    this.what = make("p", "does");
    const watches = make("p", "caution watchers-only", "This device watches: it can look ahead. An operator’s device starts, at the kiln.");
    const form = make("form", "code", watches, make("p", "caution", make("b", "", "Stand at the kiln."), " Look inside it. Nobody reaches in. Your kiln’s own limit control, its supply and your local code come before this page."),
      this.box, make("div", "presence", label, make("div", "code-row", this.code, this.go)), this.says);
    form.noValidate = true;
    form.addEventListener("submit", (/** @type {SubmitEvent} */ event) => { event.preventDefault(); this.start(); });
    this.node = make("div", "step-go", this.what, form);
  }

  about() {
    const { schedule } = this.chosen;
    return { schedule: schedule.text.includes("\n") ? schedule.text : `${schedule.text}\n`, name: `${schedule.name}.toml` };
  }

  async enter() {
    this.go.disabled = this.beside.stream.link.kind === "lost";
    this.what.textContent = this.chosen.schedule.plan.title;
    this.says.textContent = await this.list.load(this.about());
  }

  async leave() {
    return false;
  }

  use() {}

  /** The controller decides; this only says early what it would say. */
  async start() {
    const runs = startable(this.beside) ? "" : RUNS;
    const left = runs || (this.list.ready ? this.list.left() : this.says.textContent || "The list did not arrive yet.");
    this.says.textContent = left;
    if (left) return;
    if (!/^\d{4}$/.test(this.code.value)) {
      this.says.textContent = "Type the four digits that the kiln’s own screen shows.";
      return this.code.focus();
    }
    this.go.disabled = true;
    const { job } = this.chosen;
    const answer = await ask("start", { ...this.about(), ...this.list.told(), ...(job ? { job } : {}), presence: this.code.value });
    this.go.disabled = false;
    this.code.value = "";
    this.says.textContent = answer.ok ? "" : answer.says;
    if (!answer.ok) return this.code.focus();
    forgetSheet();
    window.location.assign("/");
  }
}
