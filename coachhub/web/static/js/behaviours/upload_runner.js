import { newUuid } from "../core/ids.js";
import * as queue from "../core/uploadqueue.js";
import { say } from "../core/wording.js";
import { Scope } from "./scope.js";
import { transfer } from "./upload_transfer.js";

/** @typedef {import("./upload_store.js").UploadStore} UploadStore */
/** @typedef {import("../core/uploadqueue.js").QueueItem} QueueItem */

const LONGEST_SLEEP_MS = 15_000;
const FAILED_SEND_WAIT_MS = 10_000;
const SAVE_EVERY_MS = 400;
const KEEP_ARRIVED_MS = 7 * 24 * 3600 * 1000;

/**
 * Moves the queue along, one file at a time, in whichever tab holds the lease. Goes on after a lost network, a reload,
 * a closed tab. Tells `upload:arrived`, `upload:sent` and `upload:said` on the document.
 *
 *   new UploadRunner(store, { user, endpoint: "/uploads/", csrf }).connect();
 */
export class UploadRunner {
  /** @param {UploadStore} store @param {{user: string, endpoint: string, csrf: string, choice?: import("./send_choice.js").SendChoice}} options */
  constructor(store, options) {
    this.store = store;
    this.options = options;
    this.tab = newUuid();
    this.scope = new Scope();
    this.speed = new queue.Speed();
    this.isBusy = false;
    this.sendNotBefore = 0;
    this.savedAt = 0;
    /** @type {{id: string, stop: AbortController} | null} */
    this.moving = null;
    /** @type {ReturnType<typeof setTimeout> | undefined} */
    this.timer = undefined;
  }

  connect() {
    this.scope.listen(globalThis, "online", () => void this.wake());
    this.scope.listen(document, "visibilitychange", () => void this.look());
    this.scope.listen(this.store.changes, "change", () => void this.look());
    if (this.options.choice) this.scope.listen(this.options.choice, "change", () => void this.look());
    this.scope.keep(() => clearTimeout(this.timer));
    void this.forgetArrived().then(() => this.wake());
  }

  disconnect() {
    this.scope.release();
    this.moving?.stop.abort();
  }

  /** What arrived is remembered for a week, so that choosing the same file again is noticed. */
  async forgetArrived() {
    for (const item of await this.store.items()) {
      if (item.state === "done" && Date.now() - item.addedAt > KEEP_ARRIVED_MS) await this.store.remove(item.id);
    }
  }

  /** The network is back, or the page was opened anew: nothing has to wait any longer. */
  async wake() {
    for (const item of await this.store.items()) {
      if (item.state === "waiting" && item.nextAt > 0) await this.store.change(item.id, queue.resumed);
    }
    await this.look();
  }

  /** Move what may move, then sleep until something may. */
  async look() {
    if (this.isBusy) return;
    this.isBusy = true;
    clearTimeout(this.timer);
    try {
      while (this.maySend()) {
        const item = await this.take();
        if (!item) break;
        await this.move(item);
      }
      await this.sendWhatIsComplete();
    } finally {
      this.isBusy = false;
    }
    await this.sleep();
  }

  maySend() {
    return navigator.onLine && this.options.choice?.maySend() !== false;
  }

  async sleep() {
    // Held back by choice: the next change wakes it.
    if (this.options.choice?.maySend() === false) return;
    const items = await this.store.items();
    const wait = queue.nextLook(items, this.options.user, Date.now());
    const wishes = await this.store.sends();
    if (wait === null && !wishes.some((wish) => wish.user === this.options.user)) return;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.look(), Math.min(Math.max(wait ?? LONGEST_SLEEP_MS, 250), LONGEST_SLEEP_MS));
  }

  /** @returns {Promise<QueueItem | null>} */
  async take() {
    const now = Date.now();
    const next = queue.nextItem(await this.store.items(), { user: this.options.user, tab: this.tab, now });
    if (!next) return null;
    return this.store.change(next.id, (item) =>
      queue.isFree(item, this.tab, now) && (item.state === "waiting" || item.state === "moving")
        ? queue.leased(item, this.tab, now)
        : null,
    );
  }

  /** @param {QueueItem} item */
  async move(item) {
    const file = await this.store.file(item.id);
    if (!file) return void (await this.store.remove(item.id));
    const stop = new AbortController();
    this.moving = { id: item.id, stop };
    this.speed = new queue.Speed();
    // A slow piece or a long checksum must not look like a dead tab.
    const alive = setInterval(() => void this.keepLease(item.id), queue.LEASE_MS / 3);
    try {
      await transfer(item, file, {
        ...this.options,
        signal: stop.signal,
        onUrl: (url) => void this.store.change(item.id, (now) => ({ ...now, uploadUrl: url })),
        onProgress: (sent) => this.progress(item.id, sent),
        onKept: (sent) => this.keep(item.id, sent),
      });
      await this.store.change(item.id, queue.finished);
      await this.store.dropFile(item.id);
      document.dispatchEvent(new CustomEvent("upload:arrived", { detail: { submission: item.submission } }));
    } catch (error) {
      await this.note(item.id, error);
    } finally {
      clearInterval(alive);
      this.moving = null;
    }
  }

  /** @param {string} id @param {any} error */
  async note(id, error) {
    if (error?.name === "AbortError") return;
    const { status = 0, said = "" } = error ?? {};
    await this.store.change(id, (item) =>
      item.state === "moving" ? queue.failed(item, status, said, Date.now(), Math.random()) : null,
    );
  }

  /** @param {string} id @param {number} sent */
  progress(id, sent) {
    const now = Date.now();
    this.speed.add(now, sent);
    if (now - this.savedAt < SAVE_EVERY_MS) return;
    this.keep(id, sent);
  }

  /** @param {string} id @param {number} sent */
  keep(id, sent) {
    const now = Date.now();
    this.savedAt = now;
    void this.store.change(id, (item) => (item.state === "moving" ? queue.advanced(item, sent, now) : null));
  }

  /** @param {string} id */
  keepLease(id) {
    return this.store.change(id, (item) => (item.state === "moving" ? queue.leased(item, this.tab, Date.now()) : null));
  }

  /** @param {string} id */
  async pause(id) {
    await this.store.change(id, queue.paused);
    if (this.moving?.id === id) this.moving.stop.abort();
  }

  /** @param {string} id */
  async resume(id) {
    await this.store.change(id, queue.resumed);
  }

  /** Forget the file here, and the half of it that the server has. @param {QueueItem} item */
  async remove(item) {
    if (this.moving?.id === item.id) this.moving.stop.abort();
    await this.store.remove(item.id);
    if (!item.uploadUrl || item.state === "done") return;
    const headers = { "Tus-Resumable": "1.0.0", "X-CSRFToken": this.options.csrf };
    // Without a network the server drops it when its time is over.
    await fetch(item.uploadUrl, { method: "DELETE", headers }).catch(() => null);
  }

  /** Submissions that were to go to the coach once everything had arrived. */
  async sendWhatIsComplete() {
    if (!navigator.onLine || Date.now() < this.sendNotBefore) return;
    const items = await this.store.items();
    for (const wish of await this.store.sends()) {
      if (wish.user === this.options.user && queue.allArrived(items, wish.submission)) await this.send(wish);
    }
  }

  /** @param {import("./upload_store.js").SendWish} wish */
  async send(wish) {
    const headers = { Accept: "application/json", "X-CSRFToken": this.options.csrf };
    const answer = await fetch(wish.address, { method: "POST", headers }).catch(() => null);
    if (!answer || answer.status >= 500 || answer.redirected) {
      this.sendNotBefore = Date.now() + FAILED_SEND_WAIT_MS;
      return;
    }
    await this.store.forgetSend(wish.submission);
    const said = await answer.json().catch(() => ({ ok: false, sentence: say("It could not be sent. Load the page again.") }));
    document.dispatchEvent(new CustomEvent("upload:sent", { detail: { submission: wish.submission, ...said } }));
  }
}
