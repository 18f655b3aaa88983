/** Keeps the screen on while the page is seen. The browser ends that whenever the page is hidden; it is asked again after. */

export class Awake {
  /** @param {() => void} changed told when the browser has granted it, or ended it */
  constructor(changed) {
    this.changed = changed;
    this.wanted = false;
    /** @type {any} */
    this.lock = null;
    document.addEventListener("visibilitychange", () => this.ask());
  }

  /** Whether this browser can do it here at all; it does so only over https, or on the kiln's own computer. */
  get possible() {
    return "wakeLock" in navigator;
  }

  get held() {
    return this.lock !== null && !this.lock.released;
  }

  /** @param {boolean} on */
  use(on) {
    this.wanted = on;
    if (on) this.ask();
    else this.lock?.release();
  }

  async ask() {
    if (!this.wanted || !this.possible || this.held || document.hidden) return;
    try {
      const lock = await /** @type {any} */ (navigator).wakeLock.request("screen");
      lock.addEventListener("release", () => this.changed());
      this.lock = lock;
      if (!this.wanted) lock.release();
    } catch { /* a low battery, mostly: the switch says that it is not granted */ }
    this.changed();
  }
}
