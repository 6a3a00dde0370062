import { newUuid } from "../core/ids.js";
import { locale, say } from "../core/wording.js";
import { inTurn } from "./in_turn.js";
import { Scope } from "./scope.js";

const AFTER_MS = 1200;
const MOST_LOST = 50;
const AGAIN_MS = [3000, 8000, 20_000, 60_000];

/**
 * @typedef {object} Kept  what lies on this device until the server has it
 * @property {Record<string, string>} fields
 * @property {import("../core/strokes.js").Mark[]} marks
 * @property {import("./swing_player.js").Moment[]} moments
 * @property {string} at
 */

/**
 * Saves answer and drawings a moment after the last change, one request at a time, with the revision that the server
 * gave last. What isn't saved yet lies in this browser's storage; nothing is lost by a dead network or a closed tab.
 *
 *   const keeper = new DraftKeeper({ key, revision, send, snapshot, say }); keeper.touch("answer");
 */
export class DraftKeeper {
  /**
   * @param {object} options
   * @param {string} options.key
   * @param {number} options.revision
   * @param {(what: "answer" | "marks", revision: number, headers: Record<string, string>) => Promise<number>} options.send
   *   resolves to the new revision
   * @param {() => Omit<Kept, "at">} options.snapshot
   * @param {(text: string, kind: "" | "busy" | "bad" | "stale") => void} options.say
   */
  constructor({ key, revision, send, snapshot, say }) {
    this.key = key;
    this.revision = revision;
    this.send = send;
    this.snapshot = snapshot;
    this.say = say;
    this.scope = new Scope();
    /** @type {Set<"answer" | "marks">} */
    this.dirty = new Set();
    this.failures = 0;
    this.stopped = false;
    /** Saves that were sent and never answered: the server may have them all the same. @type {string[]} */
    this.lost = [];
    /** @type {Promise<boolean> | null} */
    this.running = null;
  }

  connect() {
    this.scope.listen(window, "online", () => { this.failures = 0; this.soon(0); });
    this.scope.listen(document, "visibilitychange", () => { if (document.hidden && this.dirty.size) this.soon(0); });
  }

  disconnect() {
    clearTimeout(this.timer);
    this.scope.release();
  }

  /** @returns {Kept | null} what an earlier visit could not bring to the server */
  left() {
    try {
      return JSON.parse(localStorage.getItem(this.key) ?? "null");
    } catch {
      return null;
    }
  }

  forget() {
    try { localStorage.removeItem(this.key); } catch { /* storage is off: nothing was kept */ }
  }

  /** @param {"answer" | "marks"} what */
  touch(what) {
    this.dirty.add(what);
    this.keep();
    if (!this.stopped) this.soon(AFTER_MS);
  }

  keep() {
    try {
      localStorage.setItem(this.key, JSON.stringify({ ...this.snapshot(), at: new Date().toISOString() }));
    } catch { /* full or off: the server copy is the only one then */ }
  }

  /** @param {number} ms */
  soon(ms) {
    clearTimeout(this.timer);
    if (this.dirty.size) this.timer = setTimeout(() => this.flush(), ms);
  }

  /** @returns {Promise<boolean>} whether the server has everything */
  flush() {
    clearTimeout(this.timer);
    this.running ??= this.save().finally(() => { this.running = null; });
    return this.running;
  }

  async save() {
    while (this.dirty.size && !this.stopped) {
      const [what] = this.dirty;
      this.dirty.delete(what);
      this.say(say("Saving…"), "busy");
      const save = newUuid();
      try {
        this.revision = await inTurn(() => this.send(what, this.revision, { "X-Save": save, "X-Saves-Lost": this.lost.join(",") }));
        this.failures = 0;
        this.lost = [];
      } catch (problem) {
        this.dirty.add(what);
        if (isUnanswered(problem)) this.lost = [...this.lost, save].slice(-MOST_LOST);
        this.failed(/** @type {Error & {status?: number}} */ (problem));
        return false;
      }
    }
    if (this.stopped) return false;
    this.forget();
    this.say(say("Saved {time}", { time: new Date().toLocaleTimeString(locale(), { hour: "2-digit", minute: "2-digit" }) }), "");
    return true;
  }

  /** @param {Error & {status?: number}} problem */
  failed(problem) {
    this.keep();
    if (problem.status === 409) {
      this.stopped = true;
      this.say(say("This answer was changed in another window. Yours is kept on this device: load the page again to choose."), "stale");
      return;
    }
    if (problem.status && problem.status < 500) {
      this.say(problem.message, "bad");
      return;
    }
    const why = problem.status
      ? say("The server is in trouble. Your changes are kept on this device and sent as soon as it is back.")
      : say("No connection. Your changes are kept on this device and sent as soon as it is back.");
    this.say(why, "bad");
    this.soon(AGAIN_MS[Math.min(this.failures, AGAIN_MS.length - 1)]);
    this.failures += 1;
  }
}

/** No answer, or one from somewhere on the way: the server itself may have saved it. @param {unknown} problem */
function isUnanswered(problem) {
  const { status } = /** @type {Error & {status?: number}} */ (problem);
  return !status || status >= 500;
}
