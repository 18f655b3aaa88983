/**
 * Calling the person who looks after the kiln: sound and a waking screen on this device, one button that says
 * "I have seen it", and the word about messages that could not be sent. Loaded after the first reading is there.
 */

import { Awake } from "./awake.js";
import { calls, LOST, matters, Seen } from "./calls.js";
import { choose, chosen } from "./choice.js";
import { clock } from "../shared/format.js";
import { make, shape, toast } from "../shared/page.js";
import { Sound } from "./sound.js";

/** @typedef {import("./calls.js").Call} Call */
/** @typedef {import("../shared/stream.js").Link} Link */

const ASK_EVERY_MS = 15000;
const LOOK_EVERY_MS = 1000;
// So soon after something new calls, it is known whether messages about it could be sent.
const ASK_SOON_MS = 2000;
/** Which call is heard when there are several. @type {("alarm" | "lost" | "person")[]} */
const LOUDEST = ["alarm", "lost", "person"];

export class Calling {
  /** @param {Element | null} place where the two switches go; without one, the page has none, and what was chosen holds */
  constructor(place) {
    this.seen = new Seen();
    this.sound = new Sound(() => this.drawSwitches());
    this.awake = new Awake(() => this.drawSwitches());
    /** @type {any} */
    this.frame = null;
    this.lost = false;
    /** @type {any} */
    this.alerts = { on: false, says: "", fault: "", standing: [], troubles: [] };
    /** @type {Call[]} */
    this.unseen = [];
    const look = Object.assign(document.createElement("link"), { rel: "stylesheet", href: "/static/calling.css" });
    document.head.append(look); // after the first reading, which must not wait for it
    this.buildBox();
    this.switches = place ? this.buildSwitches(place) : null;
    this.sound.use(chosen("sound"));
    this.awake.use(chosen("awake"));
    this.drawSwitches();
    this.askAlerts();
    window.setInterval(() => this.askAlerts(), ASK_EVERY_MS);
    window.setInterval(() => this.look(), LOOK_EVERY_MS);
  }

  /** @param {any} frame */
  hear(frame) {
    this.frame = frame;
    this.lost = false;
    this.look();
  }

  /** @param {Link} link */
  heard(link) {
    this.lost = link.kind === "lost";
    this.look();
  }

  /** What calls now; sound for the most pressing of what was not seen on this device. */
  look() {
    if (!this.frame) return;
    const standing = calls(this.frame);
    const now = this.lost && matters(this.frame) ? [LOST, ...standing] : standing;
    const before = this.unseen.length;
    this.unseen = this.seen.unseen(now, performance.now());
    if (this.unseen.length > before) window.setTimeout(() => this.askAlerts(), ASK_SOON_MS);
    const on = chosen("sound");
    this.sound.call(on ? LOUDEST.find((kind) => this.unseen.some((call) => call.kind === kind)) ?? "" : "");
    this.box.hidden = this.unseen.length === 0 || !(on || this.messagesGoOut());
    this.boxSays.textContent = this.messagesGoOut() ? "Stops the sound here, and further messages." : "Stops the sound here.";
  }

  /** Whether somebody is being told of what this device has not seen yet. */
  messagesGoOut() {
    return this.alerts.on && this.unseen.some((call) => this.alerts.standing.some((/** @type {any} */ one) => one.key === call.key && !one.acknowledged));
  }

  buildBox() {
    this.trouble = make("p", "trouble");
    this.trouble.hidden = true;
    this.trouble.setAttribute("role", "status");
    const button = make("button", "", "I have seen it");
    button.type = "button";
    button.id = "seen-it";
    button.addEventListener("click", () => this.see());
    this.boxSays = make("span", "", "");
    this.box = make("div", "seen-box", button, this.boxSays);
    this.box.hidden = true;
    const strip = document.querySelector("header.strip");
    strip?.append(this.box);
    strip?.after(this.trouble);
  }

  /** @param {Element} place */
  buildSwitches(place) {
    const sound = toggle("Sound", () => this.turn("sound"));
    const awake = toggle("Keep the screen on", () => this.turn("awake"));
    const says = make("p", "label");
    const section = make("section", "calling", make("div", "switches", sound, awake), says);
    section.setAttribute("aria-label", "Sound, screen and messages");
    place.append(section);
    return { sound, awake, says };
  }

  /** @param {"sound" | "awake"} what */
  turn(what) {
    choose(what, !chosen(what));
    if (what === "awake") this.awake.use(chosen(what));
    else this.sound.use(chosen(what)).then(() => { if (chosen(what)) this.sound.beep("person"); }); // how it sounds
    this.drawSwitches();
    this.look();
  }

  drawSwitches() {
    if (!this.switches) return;
    const { sound, awake, says } = this.switches;
    drawToggle(sound, chosen("sound"), chosen("sound") && this.sound.blocked ? "on, once you tap this page" : "");
    const no = this.awake.possible ? "on, but not granted" : "not possible here";
    awake.disabled = !this.awake.possible;
    drawToggle(awake, chosen("awake") && this.awake.possible, this.awake.possible && (!chosen("awake") || this.awake.held) ? "" : no);
    const https = this.awake.possible ? "" : " The screen can be kept on only over https.";
    const messages = this.alerts.on ? "Messages go out as well." : `A locked phone hears nothing from here. Messages: ${this.alerts.says || "not asked yet"}.`;
    says.textContent = `Both work while this page is on the screen.${https} ${messages}`;
  }

  async see() {
    const now = this.unseen;
    this.seen.see(now);
    this.look();
    const refused = await post("/api/alerts/acknowledge", { keys: now.map((call) => call.key) });
    if (refused) toast(`Silent here. Messages go on: ${refused}`, "refused");
    this.askAlerts();
  }

  async askAlerts() {
    try {
      const response = await fetch("/api/alerts", { signal: AbortSignal.timeout(5000) });
      if (!response.ok) return; // this device may not look any more, which the page says in its own way
      this.alerts = await response.json();
    } catch {
      return; // the page says already that it hears nothing
    }
    this.drawTrouble();
    this.drawSwitches();
    this.look();
  }

  drawTrouble() {
    const { fault, troubles } = this.alerts;
    const lines = [
      ...(fault ? [`Alerts are not as they should be: ${fault}`] : []),
      ...troubles.map((/** @type {any} */ one) => `Alerts could not be sent since ${clock(one.since_utc_s * 1000)}: ${one.to}: ${one.says}`),
    ];
    const text = lines.join("\n");
    this.trouble.hidden = text === "";
    if (this.trouble.textContent !== text) this.trouble.replaceChildren(shape("quiet-alarm"), make("span", "", text));
  }
}

/** Return why it was refused; "" when it was not. @param {string} path @param {object} body */
async function post(path, body) {
  try {
    const headers = { "Content-Type": "application/json" };
    const signal = AbortSignal.timeout(5000);
    const answer = await (await fetch(path, { method: "POST", headers, body: JSON.stringify(body), keepalive: true, signal })).json();
    return answer.ok ? "" : String(answer.says);
  } catch {
    return "the kiln’s computer did not hear of it.";
  }
}

/** @param {string} name @param {() => void} act @returns {HTMLButtonElement} */
function toggle(name, act) {
  const button = make("button", "switch", make("span", "", name), make("b", "", ""));
  button.type = "button";
  button.setAttribute("role", "switch");
  button.addEventListener("click", act);
  return button;
}

/** @param {HTMLButtonElement} button @param {boolean} on @param {string} instead of "on" and "off" */
function drawToggle(button, on, instead) {
  button.setAttribute("aria-checked", String(on));
  const word = button.querySelector("b");
  if (word) word.textContent = instead || (on ? "on" : "off");
}
