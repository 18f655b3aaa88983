/** Another name for a schedule of one's own, and deleting it: asked once more, and never what came with the program. */

import { make } from "../shared/page.js";
import { button } from "../past/past_list.js";
import { send } from "../shared/server.js";

export class Keeping {
  /** @param {{name: string, own: boolean}} found the schedule as it was opened */
  constructor(found) {
    this.name = found.name;
    this.to = Object.assign(make("input", "text"), { id: "rename-to", maxLength: 50, autocomplete: "off", autocapitalize: "none", spellcheck: false });
    this.says = make("p", "answer");
    this.says.setAttribute("role", "alert");
    const label = Object.assign(make("label", "", "Another name for it"), { htmlFor: "rename-to" });
    this.rename = button("Rename", "", () => this.send("rename", { to: this.to.value.trim() }));
    this.sure = this.question();
    const erase = button("Delete …", "", () => this.ask());
    this.node = make("section", "keeping", label, make("div", "code-row", this.to, this.rename), this.says, erase, this.sure);
    this.use(found);
  }

  question() {
    this.title = Object.assign(make("h2", "title"), { id: "delete-title" });
    const sure = make("dialog", "", this.title, make("p", "", "The file is gone then. What firings used of it stays in the record, whole."),
      button("Delete it", "go", () => { sure.close(); this.send("delete", {}); }), button("Go back", "back", () => sure.close()));
    sure.setAttribute("aria-labelledby", "delete-title");
    return sure;
  }

  /** Only a file of one's own can be renamed or deleted. @param {{name: string, own: boolean}} found */
  use(found) {
    this.name = found.name;
    this.node.hidden = !found.own;
    this.to.value = found.name ?? "";
  }

  ask() {
    this.title.textContent = `Delete ${this.name}?`;
    this.sure.showModal();
  }

  /** @param {"rename" | "delete"} what @param {Record<string, string>} body */
  async send(what, body) {
    this.says.textContent = "";
    try {
      const answer = await send(`/api/schedules/${encodeURIComponent(this.name)}/${what}`, body);
      if (answer.ok) return window.location.assign(what === "delete" ? "/schedules" : `/schedules/${answer.body.name}`);
      this.says.textContent = answer.body.says;
    } catch (error) {
      this.says.textContent = /** @type {Error} */ (error).message;
    }
  }
}
