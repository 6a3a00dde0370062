import { resumed, sizeWords } from "../core/uploadqueue.js";
import { say } from "../core/wording.js";
import { button, html, part } from "./dom.js";
import { Scope } from "./scope.js";

/** @typedef {import("./upload_store.js").UploadStore} UploadStore */
/** @typedef {import("../core/uploadqueue.js").QueueItem} QueueItem */

const VIEW_WORDS = { face_on: "face-on", dtl: "down-the-line" };

/**
 * Clips that were chosen without signal and belong to no submission yet. With `data-submission` they can be added to it.
 *
 *   <section data-kept data-user="…" data-submission="…" hidden> <p data-part="kept-note"></p> <ul data-part="kept"></ul> </section>
 */
export class KeptClips {
  /** @param {HTMLElement} root @param {UploadStore} store @param {string} user */
  constructor(root, store, user) {
    this.root = root;
    this.store = store;
    this.user = user;
    this.scope = new Scope();
  }

  connect() {
    const add = /** @type {HTMLButtonElement | null} */ (this.root.querySelector('[data-part="add-kept"]'));
    if (add) this.scope.listen(add, "click", () => void this.add());
    this.scope.listen(this.store.changes, "change", () => void this.draw());
    void this.draw();
  }

  async items() {
    const all = await this.store.items();
    return all.filter((item) => item.user === this.user && item.submission === "").sort((a, b) => a.addedAt - b.addedAt);
  }

  async draw() {
    const items = await this.items();
    this.root.hidden = items.length === 0;
    const many = items.length === 1 ? say("1 clip is kept on this phone.") : say("{count} clips are kept on this phone.", { count: items.length });
    part(this.root, "kept-note").textContent = items.length ? `${many} ${say("Nothing of it was sent yet.")}` : "";
    part(this.root, "kept").replaceChildren(...items.map((item) => this.row(item)));
  }

  /** @param {QueueItem} item */
  row(item) {
    const view = VIEW_WORDS[/** @type {keyof typeof VIEW_WORDS} */ (item.view)] ?? item.view;
    const drop = button("quiet", { "aria-label": say("Remove {name}", { name: item.name }) }, [say("Remove")]);
    drop.addEventListener("click", () => void this.store.remove(item.id));
    return html("li", {}, [html("p", { class: "file-name" }, [`${item.name}, ${view}, ${sizeWords(item.size)}`]), drop]);
  }

  async add() {
    const submission = this.root.dataset.submission ?? "";
    for (const { id } of await this.items()) {
      await this.store.change(id, (item) => (item.submission === "" ? resumed({ ...item, submission }) : null));
    }
  }
}
