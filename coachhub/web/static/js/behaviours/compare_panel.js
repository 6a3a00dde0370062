import { newUuid } from "../core/ids.js";
import { say } from "../core/wording.js";
import { Beside } from "./beside.js";
import { jsonOf, maybePart, part } from "./dom.js";
import { KeptBeside } from "./kept_beside.js";
import { PatientPost } from "./patient_post.js";
import { Scope } from "./scope.js";
import { get, post } from "./server.js";

/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */

/**
 * The desk's choice of what stands beside a swing, the numbers of both, and what of it goes into the answer:
 * templates/coach/desk/beside_pick.html and <section data-part="compare"> of templates/coach/desk/beside.html.
 */
export class ComparePanel {
  /** @param {HTMLElement} desk @param {SwingPlayer} player @param {string} token @param {string} review */
  constructor(desk, player, token, review) {
    const root = part(desk, "compare");
    this.root = root;
    this.player = player;
    this.token = token;
    this.scope = new Scope();
    this.beside = new Beside(player);
    this.kept = new KeptBeside(root, player, this.beside, jsonOf("kept-data"), { isPinned: false });
    this.choice = part(desk, "beside-choice");
    this.last = part(desk, "beside-last");
    this.numbers = part(root, "compare-numbers");
    this.form = maybePart(root, "keep-form");
    this.waiting = new PatientPost(
      `desk:${review}:beside`,
      (kept) => post(root.dataset.comparisonsUrl ?? "", kept, token),
      (answer) => this.took(answer),
      (problem) => this.refused(problem),
    );
  }

  connect() {
    this.beside.connect();
    this.beside.refresh = async () => (await this.fetched(this.choice.value)).swing;
    this.kept.connect();
    this.kept.onshow = (kept) => { this.choice.value = kept.second.id; void this.showNumbers(); };
    this.choice.disabled = false;
    this.scope.listen(this.choice, "change", () => void this.choose());
    this.scope.listen(this.last, "click", () => this.chooseLast());
    this.beside.onswing = () => this.otherSwing();
    this.scope.listen(this.player.root, "player:events", () => void this.showNumbers());
    this.scope.listen(this.player.root, "player:beside", (event) => this.besideChanged(event.detail));
    if (!this.form) return;
    this.scope.listen(this.form, "submit", (event) => this.keep(event));
    this.scope.listen(this.root, "submit", (event) => this.dropKept(event));
    this.waiting.connect();
  }

  disconnect() {
    this.beside.disconnect();
    this.kept.disconnect();
    this.waiting.disconnect();
    this.scope.release();
  }

  /** @param {string} second */
  fetched(second) {
    const address = new URL(this.root.dataset.besideUrl ?? "", location.href);
    address.searchParams.set("first", this.player.swing.id);
    address.searchParams.set("second", second);
    return get(address.href);
  }

  async choose() {
    const second = this.choice.value;
    this.complain("");
    if (!second) {
      this.beside.close();
      return;
    }
    try {
      const found = await this.fetched(second);
      if (second !== this.choice.value) return;
      this.numbers.innerHTML = found.html;
      await this.beside.open({ swing: found.swing, words: found.words, is_mirrored: found.is_mirrored });
    } catch (problem) {
      this.complain(/** @type {Error} */ (problem).message || say("No connection. Try again in a moment."));
    }
  }

  /** What stands beside it stays when another swing of the session is shown; it never stands beside itself. */
  otherSwing() {
    const second = this.choice.value;
    this.beside.close();
    this.offer();
    this.choice.value = second === this.player.swing.id ? "" : second;
    if (this.choice.value) void this.player.ready.then(() => this.choose());
  }

  offer() {
    for (const option of this.choice.options) option.disabled = option.value !== "" && option.value === this.player.swing.id;
    this.last.hidden = !this.lastOption;
  }

  /** The latest earlier swing of the student from the same side. @returns {HTMLOptionElement | undefined} */
  get lastOption() {
    const options = /** @type {HTMLOptionElement[]} */ (Array.from(this.choice.options));
    return options.find((option) => option.dataset.kind === "earlier" && option.dataset.view === this.player.swing.view);
  }

  chooseLast() {
    this.choice.value = this.lastOption?.value ?? "";
    void this.choose();
  }

  /** Something was measured anew. */
  async showNumbers() {
    if (this.choice.value) this.numbers.innerHTML = (await this.fetched(this.choice.value)).html;
  }

  /** @param {import("./beside.js").BesideState | null} state */
  besideChanged(state) {
    if (this.form) this.form.hidden = !state;
    if (state) return;
    this.numbers.replaceChildren();
    this.choice.value = "";
  }

  /** @param {SubmitEvent} event */
  keep(event) {
    event.preventDefault();
    const { state } = this.beside;
    if (!state) return;
    const { time_map: _, words: __, ...shown } = state;
    const note = part(this.root, "keep-note");
    void this.waiting.add({
      ...shown,
      uid: newUuid(),
      first: this.player.swing.id,
      at_us: Math.round(this.player.us),
      note: note.value.trim(),
      shows_numbers: part(this.root, "keep-numbers").checked,
    });
    note.value = "";
  }

  /** @param {any} answer */
  took(answer) {
    this.kept.kept = answer.kept;
    part(this.root, "kept-list").innerHTML = answer.html;
    this.kept.dress();
    this.say(say("It is in the answer."));
  }

  /** @param {Error & {status?: number}} problem */
  refused(problem) {
    this.say(problem.status ? problem.message : say("No connection. It is kept on this device and sent as soon as it is back."));
  }

  /** @param {SubmitEvent} event */
  async dropKept(event) {
    const form = /** @type {HTMLFormElement} */ (event.target);
    if (!form.matches("[data-drop-kept]")) return;
    event.preventDefault();
    try {
      this.took(await post(form.action, new FormData(form), this.token));
      this.say(say("Taken out of the answer."));
    } catch (problem) {
      this.say(/** @type {Error} */ (problem).message || say("No connection. Try again in a moment."));
    }
  }

  /** @param {string} text */
  say(text) {
    const line = maybePart(this.root, "keep-said");
    if (line) line.textContent = text;
  }

  /** @param {string} text */
  complain(text) {
    const line = part(this.root, "compare-trouble");
    line.textContent = text;
    line.hidden = !text;
  }
}
