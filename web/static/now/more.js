/** What is seldom needed, away from the large buttons: a note for the firing, and a controlled stop. */

import { el, put, show, toast } from "../shared/page.js";
import { ask } from "../shared/requests.js";

export function startMore() {
  const dialog = el("stop-dialog");
  const close = () => { dialog.close(); el("stop").focus(); };
  el("stop").addEventListener("click", () => { dialog.show(); el("stop-back").focus(); });
  el("stop-back").addEventListener("click", close);
  dialog.addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => { if (event.key === "Escape") close(); });
  el("stop-now").addEventListener("click", async () => {
    dialog.close();
    const answer = await ask("stop");
    toast(answer.says, answer.ok ? "done" : "refused");
  });
  el("note-form").addEventListener("submit", async (/** @type {SubmitEvent} */ event) => {
    event.preventDefault();
    const text = el("note-text");
    if (!text.value.trim()) { put("note-answer", "Write something first."); text.focus(); return; }
    el("note-go").disabled = true;
    const answer = await ask("note", { text: text.value });
    el("note-go").disabled = false;
    put("note-answer", answer.ok ? "" : answer.says);
    if (!answer.ok) return;
    text.value = "";
    toast("The note is kept with the firing.", "done");
  });
}

/** @param {any} frame */
export function drawMore(frame) {
  const stops = frame.can.includes("stop");
  show("more", frame.firing !== null);
  show("stop-box", stops);
  if (!stops && el("stop-dialog").open) el("stop-dialog").close();
}
