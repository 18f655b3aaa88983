/** What stands behind and on a past curve: the stages as bands with their names, and the events as marks. */

const STEPS_S = [60, 300, 600, 1800, 3600, 7200, 10800, 14400, 21600, 43200, 86400];
export const FONT = '500 14px -apple-system, "Segoe UI", Roboto, "Helvetica Neue", Arial, sans-serif';
const SMALL = FONT.replace("14px", "13px");

/** The page's own colours, as they are now. */
export function look() {
  const style = getComputedStyle(document.documentElement);
  const of = (/** @type {string} */ name) => style.getPropertyValue(name).trim();
  return { ink: of("--ink"), soft: of("--ink-soft"), faint: of("--rule"), load: of("--load"), set: of("--set"), paper: of("--paper"), band: of("--band"), alarm: of("--alarm-line"), person: of("--person") };
}

/** Round times for the axis. @param {number} lo @param {number} hi @param {number} width */
export function hours(lo, hi, width) {
  const most = Math.max(2, Math.floor(width / 90));
  const step = STEPS_S.find((s) => (hi - lo) / s <= most) ?? 86400 * Math.ceil((hi - lo) / 86400 / most);
  const splits = [];
  for (let t = Math.ceil(lo / step) * step; t <= hi; t += step) splits.push(t);
  return splits;
}

/** Every other stage has a ground of its own; its name stands above where there is room, else its number. @param {any} plot @param {any[]} stages @param {ReturnType<typeof look>} ink */
export function bands(plot, stages, ink) {
  const { ctx, bbox } = plot;
  const dot = window.devicePixelRatio;
  ctx.save();
  ctx.font = SMALL.replace("13px", `${13 * dot}px`);
  ctx.textAlign = "center";
  stages.forEach((stage, i) => {
    const left = Math.max(bbox.left, plot.valToPos(stage.begins_s, "x", true));
    const right = Math.min(bbox.left + bbox.width, plot.valToPos(stage.begins_s + stage.lasts_s, "x", true));
    if (right - left < 1) return;
    if (i % 2 === 0) {
      ctx.fillStyle = ink.band;
      ctx.fillRect(left, bbox.top - 22 * dot, right - left, bbox.height + 22 * dot);
    }
    ctx.fillStyle = ink.soft;
    const words = [stage.name, String(stage.index + 1)].find((text) => ctx.measureText(text).width < right - left - 6 * dot);
    if (words) ctx.fillText(words, (left + right) / 2, bbox.top - 7 * dot);
  });
  ctx.restore();
}

/** A mark at the foot of the curve for each event that asked for somebody. @param {any} plot @param {any[]} events @param {ReturnType<typeof look>} ink */
export function eventMarks(plot, events, ink) {
  const { ctx, bbox } = plot;
  const dot = window.devicePixelRatio;
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  for (const event of events) {
    if (event.severity === "info") continue;
    const x = Math.round(plot.valToPos(event.t_s, "x", true));
    const alarm = event.severity === "alarm";
    mark(ctx, event.severity, x, bbox.top + bbox.height - 9 * dot, 6 * dot, ink);
    if (event.severity === "warning") continue; // its mark is enough
    ctx.strokeStyle = alarm ? ink.alarm : ink.soft;
    ctx.lineWidth = dot * (alarm ? 2 : 1);
    ctx.setLineDash(alarm ? [] : [2 * dot, 4 * dot]);
    ctx.beginPath();
    ctx.moveTo(x, bbox.top);
    ctx.lineTo(x, bbox.top + bbox.height);
    ctx.stroke();
  }
  ctx.restore();
}

/** The shape says what it was, with the colour or without. @param {any} ctx @param {string} severity @param {number} x @param {number} y @param {number} r @param {ReturnType<typeof look>} ink */
function mark(ctx, severity, x, y, r, ink) {
  ctx.setLineDash([]);
  ctx.beginPath();
  if (severity === "person") ctx.arc(x, y, r * 0.8, 0, 2 * Math.PI);
  else if (severity === "alarm") polygon(ctx, [[x, y - r], [x + r, y], [x, y + r], [x - r, y]]);
  else polygon(ctx, [[x, y - r], [x + r, y + r * 0.8], [x - r, y + r * 0.8]]);
  ctx.fillStyle = severity === "alarm" ? ink.alarm : severity === "person" ? ink.ink : ink.soft;
  ctx.fill();
}

/** @param {any} ctx @param {number[][]} points */
function polygon(ctx, points) {
  points.forEach(([x, y], i) => (i ? ctx.lineTo(x, y) : ctx.moveTo(x, y)));
  ctx.closePath();
}
