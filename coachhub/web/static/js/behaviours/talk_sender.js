import { meaningOf, waitMs } from "../core/uploadqueue.js";
import { say } from "../core/wording.js";
import { post } from "./server.js";
import { transfer } from "./upload_transfer.js";

/** @typedef {import("./talk_store.js").TalkStore} TalkStore */
/** @typedef {import("./talk_store.js").KeptTalk} KeptTalk */

/**
 * Moves a finished talk to the server: its takes by the resumable upload, then its script. A lost network is waited out.
 *
 *   const answer = await new TalkSender(store, { url, uploads, token, say, show }).send(talk);
 */
export class TalkSender {
  /** @param {TalkStore} store @param {{url: string, uploads: string, token: string, say: (text: string) => void, show: (share: number | null) => void}} how */
  constructor(store, how) {
    this.store = store;
    this.how = how;
    this.stopper = new AbortController();
  }

  /** @param {KeptTalk} talk @returns {Promise<any>} the server's answer */
  async send(talk) {
    const takes = [...new Set(talk.cuts.map(([take]) => take))];
    for (const [index, take] of takes.entries()) {
      const progress = (/** @type {number} */ share) => this.how.show((index + share) / takes.length);
      if (!talk.arrived.includes(take)) await this.patiently(() => this.sendTake(talk, take, progress));
    }
    const script = { cuts: talk.cuts, events: talk.events.filter((event) => takes.includes(event.take)) };
    const answer = await this.patiently(() => post(this.how.url, { talk: talk.talk, script }, this.how.token));
    await this.store.forget(talk.review);
    this.how.show(null);
    return answer;
  }

  /** @param {KeptTalk} talk @param {number} take @param {(share: number) => void} progress */
  async sendTake(talk, take, progress) {
    const sound = await this.store.sound(talk.talk, take);
    if (!sound.size) throw Object.assign(new Error(say("The recording is not on this device any more. Record it again.")), { status: 404, isFinal: true });
    const item = { review: talk.review, talk: talk.talk, take, name: `take-${take}`, report: {}, uploadUrl: talk.uploads[take] ?? "" };
    await transfer(item, sound, {
      endpoint: this.how.uploads, csrf: this.how.token, signal: this.stopper.signal,
      onUrl: (url) => { talk.uploads[take] = url; void this.store.keep(talk); },
      onProgress: (sent) => progress(sent / sound.size),
      onKept: () => {},
    }).catch((problem) => {
      // An upload that ran out is begun anew.
      if (problem.status === 404 || problem.status === 410) delete talk.uploads[take];
      throw problem;
    });
    talk.arrived.push(take);
    await this.store.keep(talk);
  }

  /** Tries until it works or the server says that it never will. @template T @param {() => Promise<T>} work @returns {Promise<T>} */
  async patiently(work) {
    for (let tries = 1; ; tries += 1) {
      try {
        return await work();
      } catch (problem) {
        const { status = 0, said = "", message = "", isFinal = false } = /** @type {any} */ (problem);
        const { action, problem: sentence } = meaningOf(status, said);
        if (isFinal || this.stopper.signal.aborted || action === "stop") throw new Error(said ? sentence : message || sentence);
        this.how.say(sentence);
        await this.pause(waitMs(tries, Math.random()));
      }
    }
  }

  /** Ends early when the network comes back. @param {number} ms @returns {Promise<void>} */
  pause(ms) {
    return new Promise((resolve) => {
      const end = () => { clearTimeout(timer); removeEventListener("online", end); resolve(); };
      const timer = setTimeout(end, ms);
      addEventListener("online", end);
    });
  }

  stop() {
    this.stopper.abort();
  }
}
