import { html, maybePart } from "./dom.js";
import { Scope } from "./scope.js";

const SLOWEST_MS = 20_000;

/**
 * Keeps a part of the page true while something moves: asks for a small JSON, or for the page itself where there is none,
 * and puts the server's new HTML in place when a step is done.
 *
 *   <div data-live="/page/" data-state="/state.json" data-version="…" data-every="2000"> … </div>
 */
export class LivePage {
  /** @param {HTMLElement} root */
  constructor(root) {
    this.root = root;
    this.scope = new Scope();
    this.every = Number(root.dataset.every ?? 0);
    this.misses = 0;
    this.said = html("p", { class: "visually-hidden", role: "status" });
    /** @type {ReturnType<typeof setTimeout> | undefined} */
    this.timer = undefined;
  }

  connect() {
    this.root.after(this.said);
    this.scope.keep(() => this.said.remove());
    this.scope.listen(document, "upload:arrived", () => void this.refresh());
    this.scope.listen(document, "upload:sent", () => void this.refresh());
    this.scope.listen(document, "visibilitychange", () => void (document.hidden || this.look()));
    this.scope.keep(() => clearTimeout(this.timer));
    this.sleep();
  }

  disconnect() {
    this.scope.release();
  }

  sleep() {
    clearTimeout(this.timer);
    if (!this.every) return;
    const wait = Math.min(SLOWEST_MS, this.every * 2 ** Math.min(this.misses, 4));
    this.timer = setTimeout(() => void this.look(), wait);
  }

  async look() {
    if (document.hidden || !navigator.onLine) return this.sleep();
    const { state } = this.root.dataset;
    if (state) await this.lookAtState(state);
    else await this.refresh();
    this.sleep();
  }

  /** @param {string} address */
  async lookAtState(address) {
    const answer = await fetch(address, { headers: { Accept: "application/json" } }).catch(() => null);
    if (!answer?.ok || answer.redirected) return void (this.misses += 1);
    this.misses = 0;
    const state = await answer.json();
    if (state.version !== this.root.dataset.version) return this.refresh();
    for (const clip of state.clips) this.show(clip);
  }

  /** @param {{id: string, words: string, percent: number}} clip */
  show(clip) {
    const row = this.root.querySelector(`[data-clip="${clip.id}"]`);
    if (!row) return;
    const bar = maybePart(row, "bar");
    if (bar) bar.value = clip.percent;
    maybePart(row, "words").textContent = clip.words;
  }

  /** Put the server's own HTML of this part in place. */
  async refresh() {
    const answer = await fetch(this.root.dataset.live ?? "").catch(() => null);
    if (!answer?.ok || answer.redirected) return void (this.misses += 1);
    this.misses = 0;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const fresh = /** @type {HTMLElement | null} */ (page.querySelector("[data-live]"));
    if (!fresh) return;
    // What the server no longer offers goes; what somebody is filling in stays as it is.
    for (const part of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-as-fresh]"))) {
      part.hidden = page.getElementById(part.id) === null;
    }
    const hadFocus = this.root.contains(document.activeElement);
    this.root.replaceChildren(...Array.from(fresh.childNodes).map((node) => document.adoptNode(node)));
    Object.assign(this.root.dataset, fresh.dataset);
    this.every = Number(fresh.dataset.every ?? 0);
    this.said.textContent = this.root.querySelector(".turn")?.textContent?.trim().replace(/\s+/g, " ") ?? "";
    if (hadFocus) /** @type {HTMLElement | null} */ (this.root.querySelector("button, a"))?.focus();
    this.sleep();
  }
}
