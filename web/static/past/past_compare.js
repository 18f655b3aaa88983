/**
 * Several firings laid over each other, aligned on their start, a stage, or the pour. One is in ink, the others
 * are grey: touching one in the list below brings it to the front. Every curve wears its number.
 */

import { count, duration, inUnit, temperature } from "../shared/format.js";
import { library } from "../shared/library.js";
import { make } from "../shared/page.js";
import { measureLines } from "./past_measures.js";
import { began, resultMark } from "./past_list.js";
import { FONT, hours, look } from "./past_marks.js";
import { elapsed } from "./past_plot.js";

/** @typedef {import("../shared/format.js").Unit} Unit */

const START = "its start";
const POUR = "the pour";

/** @param {import("./past_list.js").Page} page @param {string} asked numbers with commas between */
export async function drawCompared(page, asked) {
  const got = await page.get(`/api/compare?firings=${encodeURIComponent(asked)}`);
  const compared = new Compared(got, page.unit);
  page.name(`Firings ${got.firings.map((/** @type {any} */ each) => count(each.firing)).join(", ")} compared`);
  page.box.replaceChildren(compared.node);
  await compared.begin();
  return (/** @type {Unit} */ unit) => compared.use(unit);
}

class Compared {
  /** @param {any} got @param {Unit} unit */
  constructor(got, unit) {
    this.firings = got.firings;
    this.stages = got.stages;
    this.unit = unit;
    this.front = this.firings[0].firing;
    this.align = START;
    /** @type {any} */
    this.plot = null;
    this.box = make("div", "past-plot");
    this.box.setAttribute("role", "img");
    this.box.setAttribute("aria-label", "Curves of the compared firings. Their numbers stand in the list below.");
    this.says = make("p", "label past-says");
    this.list = make("ol", "past-compared");
    this.table = make("div", "past-scroll");
    this.table.tabIndex = 0;
    this.table.setAttribute("role", "region");
    this.table.setAttribute("aria-label", "Measures of the compared firings");
    const choice = this.choice();
    const figure = make("section", "past-curve", make("div", "past-head", make("h1", "title", `${count(this.firings.length)} firings compared`), choice), this.box, this.says);
    this.node = make("div", "past-one", figure, this.list, this.table);
    new ResizeObserver(() => this.build()).observe(this.box);
    window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.build());
  }

  choice() {
    const select = Object.assign(make("select", ""), { id: "align" });
    const pours = this.firings.some((/** @type {any} */ each) => each.pour_s !== null) ? [POUR] : [];
    const option = (/** @type {string} */ value, /** @type {string} */ words) => Object.assign(make("option", "", words), { value });
    select.append(option(START, "The start"), ...pours.map((each) => option(each, "The pour")),
      ...this.stages.map((/** @type {string} */ name) => option(`stage ${name}`, `Stage: ${name}`)));
    select.addEventListener("change", () => { this.align = select.value; this.build(); });
    return make("label", "past-align", "Aligned on ", select);
  }

  async begin() {
    this.drawList();
    if (!(await library())) this.says.textContent = "The part that draws the curves is missing here.";
    else this.build();
  }

  /** The moment (s) at which a firing's time is nought; null when it never came. @param {any} firing @returns {number | null} */
  zero(firing) {
    if (this.align === START) return 0;
    return this.align === POUR ? firing.pour_s : firing.begins_s[this.align.slice(6)] ?? null;
  }

  build() {
    const UPlot = /** @type {any} */ (window).uPlot;
    if (!UPlot || this.box.clientWidth < 50) return;
    this.plot?.destroy();
    const there = this.firings.filter((/** @type {any} */ each) => this.zero(each) !== null && each.curve.t_s.length)
      .sort((/** @type {any} */ a, /** @type {any} */ b) => Number(a.firing === this.front) - Number(b.firing === this.front));
    const missing = this.firings.filter((/** @type {any} */ each) => !there.includes(each)).map((/** @type {any} */ each) => count(each.firing));
    this.says.textContent = missing.length ? `Not shown, because it did not come so far: firing ${missing.join(", ")}.` : "";
    const tables = there.map((/** @type {any} */ each) => [each.curve.t_s.map((/** @type {number} */ t) => t - (this.zero(each) ?? 0)),
      each.curve.air_c.map((/** @type {number | null} */ c) => (c === null ? null : inUnit(c, this.unit)))]);
    this.plot = tables.length ? new UPlot(this.options(there), UPlot.join(tables), this.box) : null;
  }

  /** @param {any[]} there */
  options(there) {
    const ink = look();
    const axis = { stroke: ink.soft, font: FONT, ticks: { show: false } };
    return {
      width: this.box.clientWidth,
      height: this.box.clientHeight,
      legend: { show: false },
      cursor: { show: false },
      padding: [22, 30, 0, 0],
      scales: { x: { time: false }, y: { range: (/** @type {any} */ _u, /** @type {number} */ lo, /** @type {number} */ hi) => [Math.min(0, lo ?? 0), (hi ?? 1) * 1.06] } },
      axes: [
        { ...axis, size: 30, gap: 8, grid: { show: false }, splits: (/** @type {any} */ _u, /** @type {number} */ _i, /** @type {number} */ lo, /** @type {number} */ hi) => hours(lo, hi, this.box.clientWidth),
          values: (/** @type {any} */ _u, /** @type {number[]} */ at) => at.map(elapsed) },
        { ...axis, size: 66, gap: 8, grid: { stroke: ink.faint, width: 1 }, space: 56, values: (/** @type {any} */ _u, /** @type {number[]} */ at) => at.map((c) => `${c} °${this.unit}`) },
      ],
      series: [{}, ...there.map((each) => (each.firing === this.front
        ? { stroke: ink.ink, width: 3.25, points: { show: false } } : { stroke: ink.load, width: 1.75, points: { show: false } }))],
      hooks: { draw: [(/** @type {any} */ plot) => this.labels(plot, there, ink)] },
    };
  }

  /** The moment of alignment, and each curve's number at its end. @param {any} plot @param {any[]} there @param {ReturnType<typeof look>} ink */
  labels(plot, there, ink) {
    const { ctx, bbox } = plot;
    const dot = window.devicePixelRatio;
    ctx.save();
    ctx.font = FONT.replace("14px", `${14 * dot}px`).replace("500", "650");
    if (this.align !== START) {
      const x = Math.round(plot.valToPos(0, "x", true));
      ctx.setLineDash([2 * dot, 4 * dot]);
      ctx.strokeStyle = ink.soft;
      ctx.lineWidth = dot;
      ctx.beginPath();
      ctx.moveTo(x, bbox.top - 4 * dot);
      ctx.lineTo(x, bbox.top + bbox.height);
      ctx.stroke();
    }
    const ends = there.map((each) => this.end(plot, each, dot)).filter((end) => end !== null).sort((a, b) => b.y - a.y);
    let above = Infinity; // names that would stand on each other are moved up
    for (const { x, y, each } of ends) {
      above = Math.min(y, above - 15 * dot);
      ctx.fillStyle = each.firing === this.front ? ink.ink : ink.soft;
      ctx.fillText(count(each.firing), x, above);
    }
    ctx.restore();
  }

  /** Where a curve's number stands: right of its last reading. @param {any} plot @param {any} each @param {number} dot */
  end(plot, each, dot) {
    const last = each.curve.air_c.findLastIndex((/** @type {number | null} */ c) => c !== null);
    if (last < 0) return null;
    return { each, x: plot.valToPos(each.curve.t_s[last] - (this.zero(each) ?? 0), "x", true) + 6 * dot,
      y: plot.valToPos(inUnit(each.curve.air_c[last], this.unit), "y", true) + 5 * dot };
  }

  drawList() {
    this.list.replaceChildren(...this.firings.map((/** @type {any} */ firing) => {
      const input = Object.assign(make("input", ""), { type: "radio", name: "front", checked: firing.firing === this.front });
      input.addEventListener("change", () => { this.front = firing.firing; this.drawTable(); this.build(); });
      const head = make("span", "past-words", make("span", "label", `${count(firing.firing)} · ${began(firing)}`), make("span", "name", firing.title), resultMark(firing, null));
      const open = Object.assign(make("a", "quiet-link", "Open"), { href: `/firings/${firing.firing}` });
      open.setAttribute("aria-label", `Open firing ${count(firing.firing)}`);
      return make("li", "", make("label", "past-front", input, head), open);
    }));
    this.drawTable();
  }

  /** One row a measure, one column a firing. */
  drawTable() {
    const columns = this.firings.map((/** @type {any} */ firing) => new Map([["Peak of the air", temperature(firing.measures.peak_air_c, this.unit)],
      ["Lasted", duration(firing.duration_s)], ...measureLines(firing.measures, this.unit)]));
    const names = [...new Set(columns.flatMap((/** @type {Map<string, string>} */ column) => [...column.keys()]))];
    const cell = (/** @type {string} */ tag, /** @type {string} */ text, /** @type {any} */ firing) =>
      make(tag, firing?.firing === this.front ? "in-front" : "", text);
    const heads = this.firings.map((/** @type {any} */ firing) => Object.assign(cell("th", count(firing.firing), firing), { scope: "col" }));
    const rows = names.map((name) => make("tr", "", Object.assign(make("th", "", name), { scope: "row" }),
      ...columns.map((/** @type {Map<string, string>} */ column) => make("td", "", column.get(name) ?? "–"))));
    this.table.replaceChildren(make("table", "past-together", make("thead", "", make("tr", "", make("td", "", "Firing"), ...heads)), make("tbody", "", ...rows)));
  }

  /** @param {Unit} unit */
  use(unit) {
    this.unit = unit;
    this.drawList();
    this.build();
  }
}
