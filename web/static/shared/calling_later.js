/**
 * Sound, waking screen and messages, fetched once the first reading is there. What did not come (the page is being
 * left, the network is gone) is asked for again with the next reading, and is no fault of the page's.
 */

/** @typedef {import("./stream.js").Link} Link */

export class CallingLater {
  /** @param {Element | null} place where the two switches go; without one, the page has none */
  constructor(place) {
    this.place = place;
    /** @type {import("../calling/calling.js").Calling | null} */
    this.calling = null;
    this.fetching = false;
    /** @type {any} */
    this.frame = null;
    /** @type {Link | null} */
    this.link = null;
  }

  /** @param {any} frame */
  hear(frame) {
    this.frame = frame;
    if (this.calling) this.calling.hear(frame);
    else if (!this.fetching) this.fetch();
  }

  /** @param {Link} link */
  heard(link) {
    this.link = link;
    this.calling?.heard(link);
  }

  async fetch() {
    this.fetching = true;
    try {
      const { Calling } = await import("../calling/calling.js");
      this.calling = new Calling(this.place);
      this.calling.hear(this.frame);
      if (this.link) this.calling.heard(this.link);
    } catch {
      this.fetching = false;
    }
  }
}
