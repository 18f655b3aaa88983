/** A person is needed: the message, how long it has waited, and the code that proves that someone is there. */

import { duration, temperature } from "./format.js";
import { el, put, show, toast } from "./page.js";
import { ask } from "./requests.js";

/** What a request that leads to more heat is called, and what it does. @type {Record<string, [string, string]>} */
export const WARMING = {
  release: ["Release", "The firing goes on, and heat with it."],
  restart: ["Resume", "The firing goes on, and heat with it."],
  clear: ["Clear the trip", "Only when you have found what was wrong at the kiln, and put it right."],
};

/**
 * A form with a code in it. Tells what the controller answered; keeps the form when it refused.
 * @param {{form: string, code: string, go: string, answer: string}} ids of the elements
 * @param {() => [string, Record<string, any>] | null} what the request, or null when something is missing
 * @param {() => void} [after] when it was accepted
 */
export function codeForm(ids, what, after) {
  const input = el(ids.code);
  el(ids.form).addEventListener("submit", async (/** @type {SubmitEvent} */ event) => {
    event.preventDefault();
    if (!/^\d{4}$/.test(input.value)) {
      put(ids.answer, "Type the four digits that the kiln’s own screen shows.");
      input.focus();
      return;
    }
    const request = what();
    if (!request) return;
    el(ids.go).disabled = true;
    const answer = await ask(request[0], { ...request[1], presence: input.value });
    el(ids.go).disabled = false;
    put(ids.answer, answer.ok ? "" : answer.says);
    input.value = "";
    if (!answer.ok) return input.focus();
    toast(answer.says, "done");
    after?.();
  });
}

let action = "release";

export function startPerson() {
  codeForm({ form: "person-form", code: "person-code", go: "person-go", answer: "person-answer" }, () => [action, {}]);
}

/** @param {any} frame @param {import("./format.js").Unit} unit */
export function drawPerson(frame, unit) {
  const person = frame.person;
  show("person", person !== null);
  if (el("person-says").textContent !== (person?.says ?? "")) { // another message: nothing of the last one stays
    el("person-code").value = "";
    put("person-answer", "");
    put("person-says", person?.says ?? "");
  }
  if (!person) return;
  put("person-waited", duration(person.waited_s));
  put("person-air", temperature(frame.air.c, unit));
  const possible = ["release", "restart"].find((kind) => frame.can.includes(kind));
  show("person-form", possible !== undefined);
  action = possible ?? action;
  put("person-go", WARMING[action][0]);
}

let asked = "";

/** Ask for the code in a dialog. @param {string} kind */
export function askForCode(kind) {
  asked = kind;
  put("code-title", `${WARMING[kind][0]}?`);
  put("code-why", WARMING[kind][1]);
  put("code-go", WARMING[kind][0]);
  put("code-answer", "");
  el("code-input").value = "";
  el("code-dialog").show();
  el("code-input").focus();
}

export function startCodeDialog() {
  const close = () => el("code-dialog").close();
  el("code-back").addEventListener("click", close);
  el("code-dialog").addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => { if (event.key === "Escape") close(); });
  codeForm({ form: "code-form", code: "code-input", go: "code-go", answer: "code-answer" }, () => [asked, {}], close);
}
