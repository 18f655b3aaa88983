/** Saving a schedule as one of the user's own: under a name of its own, and over another only when told so. */

import { make } from "../shared/page.js";
import { button } from "../past/past_list.js";
import { send } from "../shared/server.js";

export class Saving {
  /** @param {any} found the schedule as it was opened @param {() => any} newest as it is now @param {(name: string) => void} kept what is told the name that it was saved as */
  constructor(found, newest, kept) {
    this.newest = newest;
    this.kept = kept;
    this.name = make("input", "text");
    Object.assign(this.name, { id: "save-name", value: this.suggested(found), maxLength: 50, autocomplete: "off", autocapitalize: "none", spellcheck: false });
    this.go = button("Save", "go", () => this.save(false));
    this.over = button("Save over it", "", () => this.save(true));
    this.says = make("p", "answer");
    this.says.setAttribute("role", "alert");
    this.name.addEventListener("input", () => this.ask(""));
    const label = make("label", "", "Save as a file of your own");
    label.htmlFor = "save-name";
    const hint = make("p", "label", "Small letters, digits and dashes. Built-in schedules stay as they are.");
    this.node = make("section", "saving", label, make("div", "code-row", this.name, this.go), hint, this.says, this.over);
    this.ask("");
  }

  /** @param {any} found */
  suggested(found) {
    if (found.own) return found.name;
    return found.name ? `${found.name}-own`.slice(0, 50) : "";
  }

  /** @param {string} says @param {boolean} [taken] whether a file of that name is there */
  ask(says, taken = false) {
    this.says.textContent = says;
    this.over.hidden = !taken;
  }

  /** Something was typed: what can be saved is not known for a moment. */
  wait() {
    this.go.disabled = this.over.disabled = true;
  }

  /** @param {any} found what would be saved */
  use(found) {
    this.go.disabled = this.over.disabled = !found.ok;
  }

  /** @param {boolean} over */
  async save(over) {
    const name = this.name.value.trim();
    this.wait();
    try {
      const answer = await send("/api/schedules", { name, text: this.newest().text, over });
      if (answer.ok) this.saved(name, answer.body.says);
      else this.ask(answer.body.taken ? `${answer.body.says}. Save over it?` : answer.body.says, answer.body.taken === true);
    } catch (error) {
      this.ask(/** @type {Error} */ (error).message);
    }
    this.use(this.newest());
  }

  /** @param {string} name @param {string} says */
  saved(name, says) {
    this.ask(`${says.charAt(0).toUpperCase()}${says.slice(1)}.`);
    this.kept(name);
    window.history.replaceState(null, "", `/schedules/${name}`);
  }
}
