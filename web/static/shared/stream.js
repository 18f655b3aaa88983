/**
 * The live stream, and the honest word about it. One of three things is true at any moment:
 *   live  a frame came within the last three seconds;
 *   lost  the web process says that it has lost the controller, or nothing at all came for three seconds;
 *   waiting  the page has just been opened and has heard nothing yet.
 * Events carry the sender's monotonic time as their id. An event that comes three seconds later than the
 * quickest one did has been stuck on its way: it is not shown, and the stream is opened anew.
 */

/**
 * @typedef {{kind: "waiting" | "live" | "lost", sinceMs: number, by: "controller" | "network", ever: boolean, says: string}} Link
 * `sinceMs` is the last sign of life, on this device's clock. `ever`: whether there was one.
 */

const SILENCE_MS = 3000;
const LOOK_EVERY_MS = 250;
// Two devices' clocks drift apart by less than this (common quartz: 100 parts in a million at worst).
const DRIFT = 2e-4;

export class Stream {
  /** @param {(frame: any) => void} onFrame @param {(link: Link) => void} onLink */
  constructor(onFrame, onLink) {
    this.onFrame = onFrame;
    this.onLink = onLink;
    /** @type {Link} */
    this.link = { kind: "waiting", sinceMs: Date.now(), by: "network", ever: false, says: "" };
    /** @type {EventSource | undefined} */
    this.source = undefined;
    /** @type {number} */
    this.quickestMs = Infinity;
    this.heardMs = performance.now();
    this.heardWallMs = Date.now();
    this.open();
    window.setInterval(() => this.look(), LOOK_EVERY_MS);
    document.addEventListener("visibilitychange", () => { if (!document.hidden) this.comeBack(); });
    window.addEventListener("pageshow", (event) => { if (event.persisted) this.comeBack(); });
    window.addEventListener("online", () => this.comeBack());
    window.addEventListener("offline", () => this.lose("network", "this device is offline"));
  }

  open() {
    this.source?.close();
    this.quickestMs = Infinity;
    this.touch();
    const source = (this.source = new EventSource("/api/live"));
    source.addEventListener("frame", (event) => this.hearFrame(source, event));
    source.addEventListener("lost", (event) => this.hearLost(source, event));
    source.addEventListener("error", () => { if (source === this.source) this.lose("network", "the connection broke"); });
  }

  touch() {
    this.heardMs = performance.now();
    this.heardWallMs = Date.now();
  }

  /** Milliseconds without an event, by whichever clock of this device saw more of them pass. */
  silentMs() {
    return Math.max(performance.now() - this.heardMs, Date.now() - this.heardWallMs);
  }

  /** @param {EventSource} source @param {MessageEvent} event */
  hearFrame(source, event) {
    if (source !== this.source) return;
    if (this.isLate(Number(event.lastEventId))) {
      this.lose("network", "what arrives is old");
      this.open();
      return;
    }
    this.touch();
    this.tell({ kind: "live", sinceMs: Date.now(), by: "controller", ever: true, says: "" });
    this.onFrame(JSON.parse(event.data));
  }

  /** @param {number} sentMs @returns {boolean} */
  isLate(sentMs) {
    const nowMs = performance.now();
    const travelMs = nowMs - sentMs;
    const drifted = this.quickestMs + (nowMs - this.heardMs) * DRIFT;
    this.quickestMs = Math.min(drifted, travelMs);
    return travelMs - this.quickestMs > SILENCE_MS;
  }

  /** @param {EventSource} source @param {MessageEvent} event */
  hearLost(source, event) {
    if (source !== this.source) return;
    this.touch();
    const lost = JSON.parse(event.data);
    const ever = this.link.ever || lost.ever;
    const sinceMs = this.link.ever ? this.link.sinceMs : Date.now() - lost.for_s * 1000;
    this.tell({ kind: "lost", sinceMs, by: "controller", ever, says: lost.says });
  }

  look() {
    if (this.silentMs() < SILENCE_MS) return;
    this.lose("network", "nothing arrives");
    if (!document.hidden) this.open();
  }

  comeBack() {
    if (this.silentMs() > SILENCE_MS) this.lose("network", "this page was asleep");
    this.open();
  }

  /** @param {"controller" | "network"} by @param {string} says */
  lose(by, says) {
    this.tell({ kind: "lost", sinceMs: this.link.sinceMs, by, ever: this.link.ever, says });
  }

  /** @param {Link} link */
  tell(link) {
    this.link = link;
    this.onLink(link);
  }
}
