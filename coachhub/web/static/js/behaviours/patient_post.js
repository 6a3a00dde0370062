import { inTurn } from "./in_turn.js";
import { Scope } from "./scope.js";

const AGAIN_MS = 4000;

/** Refused once is refused for ever; without an answer, signed out, or in the server's own trouble it is tried again. @param {number | undefined} status */
export function isRefusal(status = 0) {
  return status >= 400 && status < 500 && status !== 401 && status !== 403 && status !== 429;
}

/**
 * Sends small things in order, each until the server has answered; what waits lies in this browser's storage, so that
 * neither a lost network nor a closed tab loses it. The receiving side takes the same thing twice for once.
 *
 *   const queue = new PatientPost("desk:…:beside", send, done, refused); queue.connect(); queue.add({ uid, … });
 */
export class PatientPost {
  /**
   * @param {string} key
   * @param {(thing: any) => Promise<any>} send  rejects with a `status` where the server answered
   * @param {(answer: any, left: number) => void} done
   * @param {(problem: Error & {status?: number}) => void} failed  without a status: it waits for the network
   */
  constructor(key, send, done, failed) {
    this.key = key;
    this.send = send;
    this.done = done;
    this.failed = failed;
    this.scope = new Scope();
    /** @type {any[]} */
    this.things = this.stored();
    this.isBusy = false;
  }

  connect() {
    this.scope.listen(window, "online", () => void this.flush());
    this.scope.every(() => void this.flush(), AGAIN_MS);
    void this.flush();
  }

  disconnect() {
    this.scope.release();
  }

  /** @param {any} thing */
  add(thing) {
    this.things = [...this.things, thing];
    this.store();
    return this.flush();
  }

  async flush() {
    if (this.isBusy || this.things.length === 0) return;
    this.isBusy = true;
    try {
      while (this.things.length) await this.first();
    } catch (problem) {
      this.failed(/** @type {Error} */ (problem));
    } finally {
      this.isBusy = false;
    }
  }

  async first() {
    const [thing] = this.things;
    try {
      const answer = await inTurn(() => this.send(thing));
      this.drop();
      this.done(answer, this.things.length);
    } catch (problem) {
      if (isRefusal(/** @type {{status?: number}} */ (problem).status)) this.drop();
      throw problem;
    }
  }

  drop() {
    this.things = this.things.slice(1);
    this.store();
  }

  stored() {
    try {
      return JSON.parse(localStorage.getItem(this.key) ?? "[]");
    } catch {
      return [];
    }
  }

  store() {
    try {
      if (this.things.length) localStorage.setItem(this.key, JSON.stringify(this.things));
      else localStorage.removeItem(this.key);
    } catch { /* storage is off: it waits in this tab only */ }
  }
}
