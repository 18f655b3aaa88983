/** The buttons that are always in reach, on every page: hold, resume, release, abort; and, where the page has it, reset. */

import { pressAndHold } from "./gesture.js";
import { el, show, toast } from "./page.js";
import { askForCode } from "./person.js";
import { abort, ask } from "./requests.js";

export function startActions() {
  for (const kind of ["hold", "reset"]) {
    document.getElementById(kind)?.addEventListener("click", async () => {
      const answer = await ask(kind);
      toast(answer.says, answer.ok ? "done" : "refused");
    });
  }
  el("resume").addEventListener("click", () => askForCode("restart"));
  el("release").addEventListener("click", () => askForCode("release"));
  const dialog = el("abort-dialog");
  pressAndHold(el("abort"), { done: abortNow, tapped: () => { if (!dialog.open) dialog.showModal(); } });
  el("abort-back").addEventListener("click", () => dialog.close());
  el("abort-now").addEventListener("click", () => { dialog.close(); abortNow(); });
}

let aborting = false;

async function abortNow() {
  if (aborting) return;
  aborting = true;
  toast("Aborting …", "refused", 0);
  const answer = await abort((says) => toast(says, "refused", 0));
  aborting = false;
  toast(answer.says, answer.ok ? "done" : "refused", answer.reached ? 8000 : 0);
}

/** Only what the state accepts can be pressed. Abort always can. @param {any} frame */
export function drawActions(frame) {
  const can = (/** @type {string} */ kind) => frame.can.includes(kind);
  const resumable = can("restart") && !frame.person;
  el("hold").disabled = !can("hold");
  show("hold", !resumable);
  show("resume", resumable);
  show("release", can("release") && !frame.person);
}

/** With no word from the controller, nothing that leads to heat is offered. @param {boolean} lost */
export function disableWarming(lost) {
  for (const id of ["resume", "release", "person-go", "start-go", "code-go"]) {
    const button = /** @type {HTMLButtonElement | null} */ (document.getElementById(id));
    if (button) button.disabled = lost;
  }
}
