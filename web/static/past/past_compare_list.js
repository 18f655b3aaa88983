/** The firings that are laid over each other, to choose the one in front. Many stand in a fold, and can be looked through. */

import { count } from "../shared/format.js";
import { make } from "../shared/page.js";
import { began, result, resultMark } from "./past_list.js";

export class CompareList {
  /** @param {(firing: any) => void} bring */
  constructor(bring) {
    this.bring = bring;
    /** @type {any[]} */
    this.firings = [];
    this.list = make("ol", "past-compared");
    this.find = Object.assign(make("input", ""), { type: "search", id: "find-compared", autocomplete: "off" });
    this.find.addEventListener("input", () => this.draw());
    this.none = make("p", "label past-none", "None of them.");
    this.summary = make("summary", "");
    this.fold = make("details", "past-all", this.summary, make("label", "past-find", "Number, date, name or result ", this.find), this.none, this.list);
    this.fold.addEventListener("toggle", () => this.draw());
    this.node = make("div", "");
    /** @type {any} */
    this.front = null;
  }

  /** @param {any[]} firings @param {boolean} aFew */
  take(firings, aFew) {
    this.firings = firings;
    this.aFew = aFew;
    this.summary.textContent = `All ${count(firings.length)} of them`;
    if (!this.node.firstChild) this.node.append(aFew ? this.list : this.fold);
    this.draw();
  }

  draw() {
    const wanted = this.find.value.trim().toLowerCase();
    const fits = (/** @type {any} */ each) => `${count(each.firing)} ${each.firing} ${began(each)} ${each.title} ${result(each, null).word}`.toLowerCase().includes(wanted);
    const rows = this.aFew ? this.firings : this.fold.open ? this.firings.filter(fits) : [];
    this.none.hidden = this.aFew || !this.fold.open || rows.length > 0;
    this.list.replaceChildren(...rows.map((each) => this.row(each)));
  }

  /** @param {any} firing */
  row(firing) {
    const input = Object.assign(make("input", ""), { type: "radio", name: "front", value: String(firing.firing), checked: firing.firing === this.front?.firing });
    input.addEventListener("change", () => this.bring(firing));
    const head = make("span", "past-words", make("span", "label", `${count(firing.firing)} · ${began(firing)}`), make("span", "name", firing.title), resultMark(firing, null));
    const open = Object.assign(make("a", "quiet-link", "Open"), { href: `/firings/${firing.firing}` });
    open.setAttribute("aria-label", `Open firing ${count(firing.firing)}`);
    return make("li", "", make("label", "past-front", input, head), open);
  }

  /** @param {any} front */
  mark(front) {
    this.front = front;
    for (const input of this.list.querySelectorAll("input")) input.checked = input.value === String(front?.firing);
  }
}
