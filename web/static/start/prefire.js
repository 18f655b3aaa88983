/** The list before a start: what to look at and why, who can be reached, and whether somebody stays. The controller holds it. */

import { make } from "../shared/page.js";
import { ask } from "../shared/requests.js";

/** @typedef {{id: string, says: string, why: string}} Look */

export class PreFire {
  /** @param {any} box the element that holds the list */
  constructor(box) {
    this.box = box;
    this.asked = 0;
    /** @type {any[]} */
    this.ticks = [];
    this.reachable = make("input", "text");
    Object.assign(this.reachable, { id: "reachable", type: "text", maxLength: 200, autocomplete: "off" });
    /** @type {any} */
    this.attended = null;
    this.ready = false;
  }

  /** Fetch the list for a schedule and draw it. @param {{schedule: string, name?: string}} about @returns {Promise<string>} why not; or empty */
  async load(about) {
    const asked = (this.asked += 1);
    this.ready = false;
    const answer = await ask("prefire", about);
    if (asked !== this.asked) return "";
    this.box.hidden = !answer.ok;
    if (!answer.ok) return answer.says;
    this.draw(answer.items, answer.says);
    this.ready = true;
    return "";
  }

  /** @param {Look[]} items @param {string} lacking what of the commissioning is missing */
  draw(items, lacking) {
    this.ticks = items.map((item) => tick(item.id, item.says, item.why));
    this.attended = lacking ? tick("attended", "I stay at the kiln for the whole firing", "without a whole commissioning nobody may leave it alone") : null;
    const label = make("label", "", "Who can be reached while the kiln is hot, and how");
    label.htmlFor = "reachable";
    const looks = make("fieldset", "looks", make("legend", "label", "Look at each, then tick it"), ...this.ticks);
    this.box.replaceChildren(looks, label, this.reachable, ...(this.attended ? [make("p", "caution lacking", lacking), this.attended] : []));
  }

  /** What goes with a start. */
  told() {
    const ticked = this.ticks.map((each) => each.querySelector("input")).filter((input) => input.checked).map((input) => input.value);
    const attended = this.attended?.querySelector("input").checked === true;
    return { ticked, reachable: this.reachable.value.trim(), ...(attended ? { attended } : {}) };
  }

  /** What is still to be done, in words, with the focus put there; empty when nothing is. The controller looks again. */
  left() {
    if (!this.ready) return "Choose a schedule first.";
    const open = [...this.ticks, ...(this.attended ? [this.attended] : [])].find((each) => !each.querySelector("input").checked);
    if (open) {
      open.querySelector("input").focus();
      return `Not ticked yet: ${open.querySelector("b").textContent}.`;
    }
    if (this.reachable.value.trim()) return "";
    this.reachable.focus();
    return "Say who can be reached while the kiln is hot, and how.";
  }
}

/** @param {string} value @param {string} says @param {string} why */
function tick(value, says, why) {
  const input = make("input", "");
  Object.assign(input, { type: "checkbox", name: "ticked", value });
  return make("label", "tick", input, make("span", "", make("b", "", says), make("small", "", why)));
}
