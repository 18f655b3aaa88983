/** One past firing: how it went in a few numbers, its curve, stages, events and notes, and its files. */

import { count, day, difference, duration, sentence, temperature, timeOfDay } from "../shared/format.js";
import { make, shape } from "../shared/page.js";
import { began, button, result, resultMark } from "./past_list.js";
import { measureLines, ranges } from "./past_measures.js";
import { moment, PastPlot } from "./past_plot.js";
import { casting, pictures, seen } from "./past_seen.js";

/** @typedef {import("../shared/format.js").Unit} Unit */

/** Events beyond so many are shown when asked for. */
const EVENTS_AT_FIRST = 12;
const EVENT_SHAPES = { info: "idle", person: "person", warning: "quiet-alarm", alarm: "alarm" };

/** @param {import("./past_list.js").Page} page @param {number} number */
export async function drawFiring(page, number) {
  let firing = await page.get(`/api/firings/${number}`);
  page.name(`Firing ${count(number)}: ${firing.title}`);
  const plot = new PastPlot(firing, page.get, page.unit);
  /** @param {Unit} unit */
  const draw = (unit) => {
    const figure = make("section", "past-curve", plot.node);
    figure.setAttribute("aria-label", "Curve");
    page.box.replaceChildren(make("div", "past-columns",
      make("div", "past-side", head(firing), numbers(firing, unit), measures(firing, unit), casting(firing, changed), notes(firing, page), files(firing)),
      make("div", "past-wide", figure, stages(firing, unit, plot), ...[seen(firing)].filter((each) => each !== null), pictures(firing, changed), events(firing, plot))));
  };
  const changed = async () => {
    const scrolled = window.scrollY;
    firing = await page.get(`/api/firings/${number}`);
    draw(unit);
    window.scrollTo(0, scrolled);
  };
  let { unit } = page;
  draw(unit);
  plot.show(plot.whole.from, plot.whole.to).catch((error) => plot.say(error.message));
  return (/** @type {Unit} */ chosen) => {
    unit = chosen;
    draw(unit);
    plot.use(unit);
  };
}

/** @param {any} firing */
function head(firing) {
  const running = firing.running ? firing.firing : null;
  const node = make("section", "past-title", make("p", "label", `Firing ${count(firing.firing)} · ${firing.kiln}`),
    make("h1", "title", firing.title), make("p", "past-when", when(firing)), resultMark(firing, running));
  if (firing.job) node.append(make("p", "past-job", firing.job.says));
  if (firing.simulated) node.append(make("p", "simulated", firing.speed > 1 ? `Simulated kiln, ${count(firing.speed)} times faster` : "Simulated kiln"));
  return node;
}

/** @param {any} firing */
function when(firing) {
  if (!firing.ended_utc_s || firing.speed !== 1) return began(firing);
  const end = firing.ended_utc_s * 1000;
  const sameDay = day(end) === day(firing.started_utc_s * 1000);
  return `${began(firing)} to ${sameDay ? "" : `${day(end)}, `}${timeOfDay(end)}`;
}

/** @param {any} firing @param {Unit} unit */
function numbers(firing, unit) {
  const big = (/** @type {string} */ label, /** @type {string} */ value) => make("div", "", make("dt", "", label), make("dd", "past-big", value));
  return make("dl", "past-numbers", big("Peak of the air", temperature(firing.measures.peak_air_c, unit)), big("Lasted", duration(firing.duration_s)));
}

/** @param {any} firing @param {Unit} unit */
function measures(firing, unit) {
  return section("Measures", "past-measured", make("dl", "past-measures", ...measureLines(firing.measures, unit)
    .map(([name, value]) => make("div", "", make("dt", "", name), make("dd", "", value)))), ...ranges(firing.measures, unit));
}

/** @param {any} firing @param {Unit} unit @param {PastPlot} plot */
function stages(firing, unit, plot) {
  const names = ["Stage", "Began", "Lasted", "Asked", "Peak", "Over", "Error"];
  const headRow = make("tr", "", ...names.map((name) => Object.assign(make("th", "", name), { scope: "col" })));
  const rows = firing.stages.map((/** @type {any} */ stage) => {
    const margin = Math.max(60, stage.lasts_s * 0.08);
    const look = button("", "past-look", () => {
      plot.show(stage.begins_s - margin, stage.begins_s + stage.lasts_s + margin);
      plot.box.scrollIntoView({ block: "center" });
    });
    look.append(make("b", "", `${count(stage.index + 1)} ${sentence(stage.name)}`), make("span", "label", stage.kind, make("span", "past-from", ` from ${moment({ speed: 0 }, stage.begins_s)}`)), make("span", "hidden", ": look closer"));
    const values = [moment({ speed: 0 }, stage.begins_s), duration(stage.lasts_s), temperature(stage.asked_c, unit).replace("no reading", "–"),
      temperature(stage.peak_air_c, unit).replace("no reading", "–"), difference(stage.overshoot_k, unit), difference(stage.hold_error_k, unit)];
    return make("tr", "", Object.assign(make("th", "", look), { scope: "row" }), ...values.map((value, i) => {
      const cell = make("td", value === "–" ? "none" : "", value);
      cell.dataset.label = names[i + 1];
      return cell;
    }));
  });
  const says = make("p", "label", "Over: the most above a hold’s temperature. Error: the most off it, once settled.");
  return section("Stages", "past-staged", make("table", "past-stages", make("thead", "", headRow), make("tbody", "", ...rows)), says);
}

/** @param {any} firing @param {PastPlot} plot */
function events(firing, plot) {
  const rows = firing.events.map((/** @type {any} */ event) => {
    const look = button("", "past-event", () => {
      plot.show(event.t_s - 900, event.t_s + 900);
      plot.box.scrollIntoView({ block: "center" });
    });
    const icon = shape(EVENT_SHAPES[/** @type {"info"} */ (event.severity)] ?? "quiet-alarm");
    look.append(make("span", "label", moment(firing, event.t_s, event.utc_s)), icon, make("span", "past-event-says", event.says + again(event)));
    look.classList.add(`past-${event.severity}`);
    return make("li", "", look);
  });
  const list = make("ol", "past-events", ...rows.slice(0, EVENTS_AT_FIRST));
  if (!rows.length) return section("What happened", "past-happened", make("p", "", "Nothing that is worth a line."));
  const all = button(`All ${count(rows.length)}`, "plain small", () => { list.replaceChildren(...rows); all.hidden = true; });
  all.hidden = rows.length <= EVENTS_AT_FIRST;
  return section("What happened", "past-happened", list, all);
}

/** What came again and again is one line. @param {any} event */
const again = (event) => (event.times > 1 ? ` – ${count(event.times)} times, the last at ${moment({ speed: 0 }, event.last_s)}` : "");

/** @param {any} firing @param {import("./past_list.js").Page} page */
function notes(firing, page) {
  const list = make("ol", "past-note-list");
  const fill = () => list.replaceChildren(...firing.notes.map((/** @type {any} */ note) => make("li", "",
    make("p", "past-note-text", note.text), make("p", "label", `${day(note.utc_s * 1000)}, ${timeOfDay(note.utc_s * 1000)} · from the ${note.by}`))));
  fill();
  const text = Object.assign(make("textarea", ""), { id: "note-text", rows: 3, maxLength: 4000 });
  const label = Object.assign(make("label", "", "Add a note"), { htmlFor: "note-text" });
  const answer = make("p", "answer");
  answer.setAttribute("role", "status");
  const go = Object.assign(make("button", "", "Keep the note"), { type: "submit" });
  const form = make("form", "past-note-form", label, text, answer, go);
  form.addEventListener("submit", async (/** @type {SubmitEvent} */ event) => {
    event.preventDefault();
    if (!text.value.trim()) { answer.textContent = "Write something first."; text.focus(); return; }
    go.disabled = true;
    answer.textContent = await keep(firing.firing, text.value);
    go.disabled = false;
    if (answer.textContent) return;
    text.value = "";
    firing.notes = await read(firing, page);
    fill();
    answer.textContent = "Kept.";
  });
  return section("Notes", "past-noted", list, form);
}

/** A note for the running firing is on the disk half a second later. @param {any} firing @param {import("./past_list.js").Page} page */
async function read(firing, page) {
  for (let tries = 0; tries < 5; tries += 1) {
    const { notes: found } = await page.get(`/api/firings/${firing.firing}`).catch(() => ({ notes: firing.notes }));
    if (found.length > firing.notes.length) return found;
    await new Promise((resolve) => window.setTimeout(resolve, 300));
  }
  return firing.notes;
}

/** Return what went wrong, or nothing. @param {number} number @param {string} text */
async function keep(number, text) {
  try {
    const response = await fetch(`/api/firings/${number}/notes`, {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ text }),
    });
    const answer = await response.json();
    return answer.ok ? "" : String(answer.says);
  } catch {
    return "The note did not get through; it is still here.";
  }
}

/** @param {any} firing */
function files(firing) {
  const link = (/** @type {string} */ words, /** @type {string} */ name) => Object.assign(make("a", "past-file", words), { href: `/api/firings/${firing.firing}/${name}`, download: "" });
  const details = make("details", "", make("summary", "", "The schedule as it was fired"), make("pre", "", firing.schedule_text));
  const job = firing.job ? [make("details", "", make("summary", "", "The job sheet"), make("pre", "", firing.job.text))] : [];
  for (const each of [details, ...job]) each.querySelector("pre").tabIndex = 0;
  return section("To keep", "past-kept", make("div", "past-files", link("Report, PDF", "report.pdf"), link("Report, picture", "report.png"), link("Every tick, CSV", "ticks.csv")),
    make("p", "label", `${count(firing.ticks)} ticks · ${result(firing, null).word.toLowerCase()} · ${firing.schedule_name} · stokehold ${firing.version}`), details, ...job);
}

/** @param {string} title @param {string} own its class @param {...Node} inside */
function section(title, own, ...inside) {
  return make("section", `past-section ${own}`, make("h2", "past-heading", title), ...inside);
}
