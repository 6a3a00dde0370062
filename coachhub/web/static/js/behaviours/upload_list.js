import { movingWords, percentOf, stateWords } from "../core/uploadqueue.js";
import { say } from "../core/wording.js";
import { button, html, maybePart, part } from "./dom.js";
import { Scope } from "./scope.js";

/** @typedef {import("./upload_store.js").UploadStore} UploadStore */
/** @typedef {import("./upload_runner.js").UploadRunner} UploadRunner */
/** @typedef {import("../core/uploadqueue.js").QueueItem} QueueItem */

const VIEW_WORDS = { face_on: "face-on", dtl: "down-the-line" };

/**
 * What is on the way from this phone, with pause, go on and remove.
 *
 *   <div data-uploads> <p data-part="note"></p> <ul data-part="queue"></ul> <button data-part="send-later"> </div>
 */
export class UploadList {
  /** @param {HTMLElement} root @param {UploadStore} store @param {UploadRunner} runner */
  constructor(root, store, runner) {
    this.root = root;
    this.store = store;
    this.runner = runner;
    this.scope = new Scope();
    this.list = part(root, "queue");
    this.box = maybePart(root, "queue-box") ?? root;
    this.isDrawing = false;
    this.isStale = false;
    /** @type {Map<string, HTMLElement>} */
    this.rows = new Map();
    this.forgotten = false;
  }

  connect() {
    this.scope.listen(this.store.changes, "change", () => void this.draw());
    this.scope.listen(globalThis, "online", () => void this.draw());
    this.scope.listen(globalThis, "offline", () => void this.draw());
    const later = maybePart(this.root, "send-later");
    if (later) this.scope.listen(later, "click", () => void this.toggleSend(later));
    this.scope.listen(document, "submit", (event) => void this.holdBack(event));
    void this.draw();
  }

  /**
   * Sending while clips are still on their way would leave them behind: the submission goes once all have arrived.
   * @param {SubmitEvent} event
   */
  async holdBack(event) {
    const form = /** @type {HTMLFormElement} */ (event.target);
    if (!form.matches("[data-send]") || this.rows.size === 0 || !this.root.dataset.sendTo) return;
    event.preventDefault();
    await this.wish();
    this.box.scrollIntoView({ block: "nearest" });
  }

  disconnect() {
    this.scope.release();
  }

  async draw() {
    // Many changes a second come in while a file moves: one drawing at a time, the last state wins.
    if (this.isDrawing) return void (this.isStale = true);
    this.isDrawing = true;
    const items = (await this.store.items()).filter((item) => this.isShown(item));
    this.show(items.sort((a, b) => a.addedAt - b.addedAt));
    await this.showWish(items);
    this.isDrawing = false;
    if (this.isStale) {
      this.isStale = false;
      void this.draw();
    }
  }

  /** @param {QueueItem} item */
  isShown(item) {
    return item.user === this.root.dataset.user && item.state !== "done" && item.submission !== "";
  }

  /** @param {QueueItem[]} items */
  show(items) {
    this.box.hidden = items.length === 0;
    for (const [id, row] of this.rows) {
      if (items.some((item) => item.id === id)) continue;
      row.remove();
      this.rows.delete(id);
    }
    for (const item of items) this.fill(this.rows.get(item.id) ?? this.newRow(item), item);
    part(this.root, "note").textContent = this.noteWords(items);
  }

  /** @param {QueueItem[]} items */
  noteWords(items) {
    if (!items.length) return "";
    if (!navigator.onLine) return say("No connection at the moment. Everything is kept on this phone and goes on by itself.");
    if (!this.store.isLasting || this.forgotten) {
      return say("This browser can't keep the files: leave this page open until all have arrived.");
    }
    return say("You may close this page. It goes on when you come back to it.");
  }

  /** @param {QueueItem} item */
  newRow(item) {
    const view = VIEW_WORDS[/** @type {keyof typeof VIEW_WORDS} */ (item.view)] ?? item.view;
    const words = html("p", { "data-part": "words" });
    const bar = html("progress", { max: 100, value: 0, "data-part": "bar", "aria-label": say("{name}: how much has arrived", { name: item.name }) });
    const hold = button("quiet", { "data-part": "hold" });
    const drop = button("quiet", { "aria-label": say("Remove {name}", { name: item.name }) }, [say("Remove")]);
    const row = html("li", {}, [
      html("p", { class: "file-name" }, [`${item.name}, ${view}`]), bar, words,
      html("div", { class: "actions" }, [hold, drop]),
    ]);
    this.scope.listen(hold, "click", () => void this.hold(item.id));
    this.scope.listen(drop, "click", () => void this.drop(item.id));
    this.rows.set(item.id, row);
    this.list.append(row);
    return row;
  }

  /** @param {HTMLElement} row @param {QueueItem} item */
  fill(row, item) {
    const isOwnMove = this.runner.moving?.id === item.id;
    const speed = isOwnMove ? this.runner.speed.bytesPerSecond() : null;
    part(row, "bar").value = percentOf(item);
    part(row, "words").textContent =
      item.state === "moving" && navigator.onLine && !item.problem
        ? movingWords(item, speed)
        : stateWords(item, navigator.onLine, speed);
    part(row, "hold").textContent = item.state === "paused" ? say("Go on") : item.state === "failed" ? say("Try again") : say("Pause");
  }

  /** @param {string} id */
  async hold(id) {
    const item = (await this.store.items()).find((each) => each.id === id);
    if (!item) return;
    if (item.state === "paused" || item.state === "failed") await this.runner.resume(id);
    else await this.runner.pause(id);
  }

  /** @param {string} id */
  async drop(id) {
    const item = (await this.store.items()).find((each) => each.id === id);
    if (item) await this.runner.remove(item);
  }

  /** @param {QueueItem[]} items */
  async showWish(items) {
    const later = maybePart(this.root, "send-later");
    if (!later) return;
    const wished = (await this.store.sends()).some((wish) => wish.submission === this.root.dataset.submission);
    later.setAttribute("aria-pressed", String(wished));
    later.textContent = wished ? say("Will be sent when all have arrived (tap to undo)") : say("Send to my coach when all have arrived");
    later.hidden = !items.some((item) => item.submission === this.root.dataset.submission);
  }

  /** @param {HTMLElement} later */
  async toggleSend(later) {
    if (later.getAttribute("aria-pressed") !== "true") return this.wish();
    await this.store.forgetSend(this.root.dataset.submission ?? "");
  }

  wish() {
    const { submission = "", user = "", sendTo = "" } = this.root.dataset;
    return this.store.wishToSend({ submission, user, address: sendTo });
  }
}
