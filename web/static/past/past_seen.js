/** What people saw of a firing: how the casting turned out, what was ticked and found at each stop, photographs. */

import { crackWords } from "../now/checklist_cracks.js";
import { mass } from "../now/checklist_drained.js";
import { count, day, sentence, timeOfDay } from "../shared/format.js";
import { make, shape } from "../shared/page.js";
import { RATINGS, ratingMark } from "./past_common.js";
import { button } from "./past_list.js";
import { observe, photoButton, sendPhoto, thumbnail } from "../shared/photo.js";

const REASONS = ["crack", "misrun", "inclusion", "cold shut", "porosity", "rough surface"];
/** @type {Record<string, string>} */
const OF = { crack: "A crack", shell: "The shell", casting: "The casting" };

/** @param {number} utc_s @param {string} by */
const when = (utc_s, by) => `${day(utc_s * 1000)}, ${timeOfDay(utc_s * 1000)} · from the ${by}`;

/** How the casting turned out, and the form to say it. @param {any} firing @param {() => Promise<void>} changed */
export function casting(firing, changed) {
  const node = make("section", "past-section past-cast", make("h2", "past-heading", "The casting"));
  const { rating } = firing.seen;
  if (rating) {
    node.append(make("p", "rated", ratingMark(rating.rating), make("span", "", rating.reasons.join(", "))));
    if (rating.says) node.append(make("p", "past-note-text", rating.says));
    node.append(make("p", "label", when(rating.utc_s, rating.by)));
  }
  if (firing.running) return node.append(make("p", "label", "It can be rated when the firing has ended.")), node;
  const form = ratingForm(firing, changed);
  form.hidden = rating !== null;
  const again = button("Rate it anew", "plain small", () => { form.hidden = false; again.hidden = true; });
  again.hidden = rating === null;
  node.append(again, form);
  return node;
}

/** @param {any} firing @param {() => Promise<void>} changed */
function ratingForm(firing, changed) {
  const chip = (/** @type {string} */ type, /** @type {string} */ name, /** @type {string} */ value, /** @type {any[]} */ ...inside) =>
    make("label", "chip", Object.assign(make("input", ""), { type, name, value }), make("span", "", ...inside));
  const marks = make("fieldset", "chips", make("legend", "hidden", "How it turned out"),
    ...Object.entries(RATINGS).map(([id, [word, name]]) => chip("radio", "rating", id, shape(name), word)));
  const why = make("fieldset", "chips", make("legend", "label", "Why, if anything was wrong"), ...REASONS.map((reason) => chip("checkbox", "reason", reason, sentence(reason))));
  const other = Object.assign(make("input", "past-line"), { id: "reason-other", maxLength: 40, autocomplete: "off" });
  const says = Object.assign(make("textarea", ""), { id: "rating-says", rows: 2, maxLength: 500 });
  /** @type {File | null} */
  let file = null;
  const photo = photoButton("Photograph it", (taken) => { file = taken; });
  const answer = make("p", "answer");
  answer.setAttribute("role", "status");
  const go = Object.assign(make("button", "", "Keep the rating"), { type: "submit" });
  const named = (/** @type {string} */ words, /** @type {any} */ field) => Object.assign(make("label", "", words), { htmlFor: field.id });
  const form = make("form", "rating-form", marks, why, named("Another reason", other), other, named("In a few words", says), says, photo.node, answer, go);
  form.addEventListener("submit", async (/** @type {SubmitEvent} */ event) => {
    event.preventDefault();
    const data = new FormData(form);
    const rating = data.get("rating");
    if (!rating) { answer.textContent = "Say how it turned out: good, usable or scrap."; return; }
    const reasons = [...data.getAll("reason").map(String), other.value.trim()].filter(Boolean);
    go.disabled = true;
    answer.textContent = "Sending …";
    const sent = file ? await sendPhoto(firing.firing, file, { of: "casting" }) : { ok: true, says: "" };
    const kept = sent.ok ? await observe(firing.firing, { kind: "rating", rating, reasons, says: says.value }) : sent;
    go.disabled = false;
    answer.textContent = kept.ok ? "" : kept.says;
    if (kept.ok) await changed();
  });
  return form;
}

/** What was ticked, found and weighed at each stop. @param {any} firing */
export function seen(firing) {
  if (!firing.seen.stops.length) return null;
  const stops = firing.seen.stops.map((/** @type {any} */ stop) => {
    const lines = [
      ...stop.ticks.map((/** @type {any} */ tick) => line(tick.done ? "complete" : "idle", tick.done ? tick.says : `Not ticked: ${tick.says}`, tick)),
      ...stop.cracks.map((/** @type {any} */ crack) => line(crack.how_many ? "quiet-alarm" : "complete", crackWords(crack) + (crack.how_many ? (crack.patched ? ", patched" : ", not patched") : ""), crack)),
      ...(stop.drained ? [line("complete", `${mass(stop.drained.kg)} of plastic drained`, stop.drained)] : []),
    ];
    return make("div", "past-stop", make("h3", "past-stop-name", sentence(stop.name)), make("ul", "past-lines", ...lines));
  });
  return make("section", "past-section past-seen", make("h2", "past-heading", "What people saw"), ...stops);
}

/** @param {string} name @param {string} words @param {any} said */
function line(name, words, said) {
  return make("li", "", shape(name), make("span", "", words), make("span", "label", `${timeOfDay(said.utc_s * 1000)} · ${said.by}`));
}

/** @param {any} firing @param {() => Promise<void>} changed */
export function pictures(firing, changed) {
  const { photos } = firing.seen;
  const answer = make("p", "answer");
  answer.setAttribute("role", "status");
  const add = photoButton("Add a photograph", async (file) => {
    if (!file) return;
    answer.textContent = "Sending …";
    const sent = await sendPhoto(firing.firing, file, { of: firing.running ? "shell" : "casting" });
    add.clear();
    answer.textContent = sent.ok ? "" : sent.says;
    if (sent.ok) await changed();
  });
  const shown = photos.map((/** @type {any} */ photo) => make("figure", "past-photo", thumbnail(photo.id, photo.caption || OF[photo.of] || photo.of),
    make("figcaption", "label", `${photo.caption || OF[photo.of] || photo.of} · ${timeOfDay(photo.utc_s * 1000)}`)));
  const heading = photos.length ? `Photographs, ${count(photos.length)}` : "Photographs";
  return make("section", "past-section past-photos", make("h2", "past-heading", heading), make("div", "past-photo-row", ...shown), add.node, answer);
}
