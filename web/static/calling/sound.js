/**
 * Beeps, made on the device: no file is fetched. A browser lets a page sound only after its user has tapped it;
 * `blocked` says that it does not yet.
 */

/** What is heard: tones in Hz, one after another. A person is called upwards, an alarm insists, silence sinks. @type {Record<string, number[]>} */
const TONES = { person: [660, 880], alarm: [988, 988, 988], lost: [440, 330] };
const TONE_S = 0.18;
const GAP_S = 0.07;
const EVERY_MS = 2500;
const LOUD = 0.4;

export class Sound {
  /** @param {() => void} changed told when the browser lets it sound, or no longer */
  constructor(changed) {
    this.changed = changed;
    /** @type {AudioContext | null} */
    this.context = null;
    this.timer = 0;
    /** @type {string} */
    this.kind = "";
    for (const type of ["pointerdown", "keydown"]) window.addEventListener(type, () => this.wake(), { passive: true });
  }

  /** Begin to be able to sound, or stop. @param {boolean} on */
  async use(on) {
    if (on && !this.context && "AudioContext" in window) {
      this.context = new AudioContext();
      this.context.addEventListener("statechange", () => this.changed());
      this.context.addEventListener("statechange", () => { if (this.kind) this.beep(this.kind); });
    }
    if (on) await this.wake();
    else this.call("");
  }

  /** Whether it is to sound and the browser does not let it. */
  get blocked() {
    return this.context?.state !== "running";
  }

  async wake() {
    if (this.context?.state !== "suspended") return;
    await this.context.resume().catch(() => {}); // not before a tap
  }

  /** Sound for this from now on; "" for nothing. @param {string} kind */
  call(kind) {
    if (kind === this.kind) return;
    this.kind = kind;
    window.clearInterval(this.timer);
    if (!kind) return;
    this.beep(kind);
    this.timer = window.setInterval(() => this.beep(kind), EVERY_MS);
  }

  /** @param {string} kind */
  beep(kind) {
    const context = this.context;
    if (!context || this.blocked) return;
    TONES[kind].forEach((hertz, i) => {
      const from_s = context.currentTime + i * (TONE_S + GAP_S);
      const tone = new OscillatorNode(context, { type: "triangle", frequency: hertz });
      const gain = new GainNode(context, { gain: 0 });
      gain.gain.setTargetAtTime(LOUD, from_s, 0.01);
      gain.gain.setTargetAtTime(0, from_s + TONE_S, 0.02);
      tone.connect(gain).connect(context.destination);
      tone.start(from_s);
      tone.stop(from_s + TONE_S + 0.15);
    });
  }
}
