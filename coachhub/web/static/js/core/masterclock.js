// A page that was hidden, or a machine that was busy, must not leap.
const LONGEST_STEP_MS = 100;

/** Where playing is in media time. It can run backwards, change speed, and wait for a picture. */
export class MasterClock {
  constructor() {
    this.us = 0;
    this.rate = 1;
    this.held = false;
    /** @type {number | null} */
    this.readMs = null;
  }

  /** @param {number} us @param {number} rate  negative runs backwards */
  start(us, rate) {
    this.us = us;
    this.rate = rate;
    this.held = false;
    this.readMs = null;
  }

  /** The first reading starts it. @param {number} nowMs @returns {number} microseconds */
  read(nowMs) {
    const passedMs = this.readMs === null || this.held ? 0 : Math.min(LONGEST_STEP_MS, Math.max(0, nowMs - this.readMs));
    this.readMs = nowMs;
    this.us += passedMs * 1000 * this.rate;
    return this.us;
  }

  /** Stands where it is while the picture of its time isn't there. @param {boolean} held */
  hold(held) {
    this.held = held;
  }
}
