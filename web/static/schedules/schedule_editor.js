/** One schedule: its curve, which follows while one types; its table, or its file as text; and saving it as a file. */

import { AheadPlot, planInWords } from "../start/ahead_plot.js";
import { make } from "../shared/page.js";
import { button } from "../past/past_list.js";
import { Foresee } from "./schedule_foresee.js";
import { Keeping } from "./schedule_keeping.js";
import { Saving } from "./schedule_save.js";
import { Table } from "./schedule_table.js";
import { get, send } from "../shared/server.js";

/** @typedef {import("../shared/format.js").Unit} Unit */

const PAUSE_MS = 250;
// What the page’s server answers when the controller itself has refused.
const REFUSED = 409;
const NEW = `title = "A schedule of your own"

[[stage]]
kind = "ramp"
name = "warm up"
to = "100 C"
rate = "60 C/h"
`;

/** @param {import("../start/steps.js").Page} page @param {string | undefined} name of the schedule; none: a new one */
export async function drawEditor(page, name) {
  const [{ keys }, found] = await Promise.all([get("/api/schedules"), name ? get(`/api/schedules/${name}`) : send("/api/schedules/draw", { text: NEW }).then((answer) => answer.body)]);
  const editor = new Editor(page, keys, found);
  return (/** @type {Unit} */ unit) => editor.use(unit);
}

class Editor {
  /** @param {import("../start/steps.js").Page} page @param {any} keys @param {any} found as the server tells it */
  constructor(page, keys, found) {
    this.page = page;
    this.unit = page.unit;
    this.base = found.text;
    this.found = found;
    this.timer = 0;
    this.asked = new AbortController();
    this.plot = new AheadPlot(page.unit);
    this.title = make("h1", "title");
    this.says = make("p", "label plan-words");
    this.kiln = make("p", "plan-kiln");
    this.others = make("ul", "mistakes");
    this.others.setAttribute("role", "alert");
    this.table = new Table(keys, () => this.typed());
    this.text = make("textarea", "file-text");
    Object.assign(this.text, { spellcheck: false, wrap: "off", ariaLabel: "The schedule’s file" });
    this.text.addEventListener("input", () => this.typed());
    this.modes = ["Table", "File"].map((words) => button(words, "mode", () => this.turn(words)));
    this.foresee = new Foresee(this.plot);
    this.keeping = new Keeping(found);
    this.saving = new Saving(found, () => this.found, (name) => this.keeping.use({ name, own: true }));
    const modes = make("div", "modes", ...this.modes);
    modes.setAttribute("role", "group");
    modes.setAttribute("aria-label", "Edit as");
    page.box.replaceChildren(make("div", "editor", make("div", "editor-top", this.title, this.says, this.plot.node, this.kiln),
      make("div", "editor-rest", modes, this.others, this.table.node, this.text, this.foresee.node, this.saving.node, this.keeping.node)));
    if (found.sheet) this.table.take(found.sheet);
    this.turn(found.sheet ? "Table" : "File");
    this.show();
  }

  /** @param {Unit} unit */
  use(unit) {
    this.unit = unit;
    this.plot.use(unit);
    this.show();
  }

  /** Between the table and the file. The file is what the table made; the table is what the file says. @param {string} mode */
  turn(mode) {
    if (mode === "Table" && !this.found.sheet) mode = "File";
    this.mode = mode;
    this.base = this.found.text;
    if (mode === "File") this.text.value = this.base;
    else this.table.take(this.found.sheet);
    this.table.node.hidden = mode !== "Table";
    this.text.hidden = mode !== "File";
    for (const each of this.modes) each.setAttribute("aria-pressed", String(each.textContent === mode));
    this.show();
  }

  typed() {
    this.saving.wait();
    window.clearTimeout(this.timer);
    this.timer = window.setTimeout(() => this.draw(), PAUSE_MS);
  }

  /** Ask the server what this says. Only the newest answer counts. */
  async draw() {
    this.asked.abort();
    this.asked = new AbortController();
    const body = this.mode === "Table" ? { text: this.base, sheet: this.table.sheet() } : { text: this.text.value };
    try {
      const answer = await send("/api/schedules/draw", body, this.asked.signal);
      if (!answer.ok) return this.other([{ says: answer.body.says, line: 0 }]);
      this.found = answer.body;
      this.show();
    } catch (error) {
      if (/** @type {Error} */ (error).name !== "AbortError") this.other([{ says: /** @type {Error} */ (error).message, line: 0 }]);
    }
  }

  show() {
    const { found, unit } = this;
    const { plan } = found;
    this.title.textContent = plan?.title ?? found.sheet?.top.title ?? found.name ?? "A schedule";
    this.page.name(this.title.textContent);
    this.modes[0].disabled = !found.sheet;
    this.says.textContent = plan ? planInWords(plan, unit) : `${found.mistakes.length === 1 ? "One mistake" : `${found.mistakes.length} mistakes`}: the curve is of the last that had none.`;
    this.plot.draw(plan, plan ? `Planned curve: ${planInWords(plan, unit)}` : "");
    const left = this.mode === "Table" ? this.table.tell(found.mistakes) : found.mistakes;
    this.other([...left, ...(found.only_text ? [{ says: found.only_text, line: 0 }] : [])]);
    this.foresee.follow(found);
    this.saving.use(found);
    this.askKiln();
  }

  /** @param {{says: string, line: number}[]} mistakes that stand beside no field */
  other(mistakes) {
    this.others.replaceChildren(...mistakes.map((one) => {
      const says = `${one.line ? `Line ${one.line}: ` : ""}${one.says}`;
      return make("li", "", one.line && this.mode === "File" ? button(says, "mistake-link", () => this.goTo(one.line)) : says);
    }));
  }

  /** @param {number} line from 1 */
  goTo(line) {
    const lines = this.text.value.split("\n");
    const start = lines.slice(0, line - 1).join("\n").length + (line > 1 ? 1 : 0);
    this.text.focus();
    this.text.setSelectionRange(start, start + (lines[line - 1]?.length ?? 0));
  }

  /** What this kiln says of it: the controller holds it against its limits. */
  async askKiln() {
    const { text, ok } = this.found;
    if (this.asks === text) return;
    this.asks = text;
    this.kiln.textContent = "";
    if (!ok || this.page.beside.stream.link.kind === "lost") return;
    const { ok: can, status, body } = await send("/api/requests/prefire", { schedule: `${text}\n`, name: "this schedule" }).catch(() => ({ ok: false, status: 0, body: {} }));
    if (this.asks !== text || (!can && status !== REFUSED)) return; // nobody there, or this device may not ask
    this.kiln.textContent = can ? "This kiln can do it." : `This kiln cannot do it: ${body.says}`;
  }
}
