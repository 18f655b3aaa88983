/** The first step: which schedule. Each is drawn as its curve; a tap chooses it and goes on. */

import { make } from "../shared/page.js";
import { hottest, ownFirst, scheduleRow } from "../schedules/schedules_list.js";
import { get } from "../shared/server.js";

/** @typedef {import("../shared/format.js").Unit} Unit */

export class ChooseStep {
  /** @param {import("./start.js").Chosen} chosen @param {any[]} schedules @param {Unit} unit @param {() => void} go */
  constructor(chosen, schedules, unit, go) {
    this.title = "Which schedule?";
    this.next = "";
    this.chosen = chosen;
    this.schedules = schedules;
    this.unit = unit;
    this.go = go;
    this.picked = "";
    this.rows = make("ol", "past-rows");
    this.says = make("p", "answer");
    this.says.setAttribute("role", "alert");
    const edit = make("a", "quiet-link", "Look at schedules, or change one");
    edit.href = "/schedules";
    this.node = make("div", "", this.says, this.rows, edit);
  }

  enter() {
    const top = hottest(this.schedules);
    this.rows.replaceChildren(...ownFirst(this.schedules).map((each) => {
      const row = make("button", "past-row pick", ...scheduleRow(each, top, this.unit));
      Object.assign(row, { type: "button", disabled: each.fault !== "" });
      if (this.chosen.schedule?.name === each.name) row.setAttribute("aria-current", "true");
      row.addEventListener("click", () => { this.picked = each.name; this.go(); });
      return make("li", "", row);
    }));
  }

  /** Fetch its text: what is seen from here on is what will run. */
  async leave() {
    try {
      const schedule = await get(`/api/schedules/${encodeURIComponent(this.picked)}`);
      if (!schedule.ok) throw new Error(schedule.mistakes[0].says);
      this.chosen.schedule = schedule;
      this.says.textContent = "";
      return true;
    } catch (error) {
      this.says.textContent = /** @type {Error} */ (error).message;
      return false;
    }
  }

  /** @param {Unit} unit */
  use(unit) {
    this.unit = unit;
    this.enter();
  }
}
