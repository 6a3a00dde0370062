import { VERDICT_KEYS, nextFrame, nextOf } from "../core/signsteps.js";
import { say } from "../core/wording.js";
import { part } from "./dom.js";
import { Scope } from "./scope.js";

/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */

/**
 * One key for a sign's next evidence frame, one for each verdict, one for the next sign. They act while the stage has
 * the focus (WCAG 2.1.4); the sign that they mean is marked in its card.
 */
export class SignKeys {
  /** @param {HTMLElement} root  holds the cards @param {SwingPlayer} player */
  constructor(root, player) {
    this.root = root;
    this.player = player;
    this.scope = new Scope();
    this.at = "";
    /** @type {number | null} */
    this.shownUs = null;
  }

  connect() {
    const { scope, root, player } = this;
    scope.listen(player.stage, "keydown", (event) => this.pressed(event));
    scope.listen(player.root, "player:swing", () => this.take(this.signs[0]));
    scope.listen(root, "desk:judged", () => this.mark());
    scope.listen(player.root, "player:events", () => this.mark());
  }

  /** Those of the shown swing that stand open. @returns {HTMLElement[]} */
  get signs() {
    const all = /** @type {HTMLElement[]} */ ([...this.root.querySelectorAll("[data-card]:not([hidden]) [data-sign]")]);
    return all.filter((sign) => !sign.closest("details:not([open])"));
  }

  /** The sign that the keys mean. */
  get sign() {
    return this.signs.find((sign) => sign.dataset.sign === this.at) ?? this.signs[0];
  }

  /** @param {HTMLElement | undefined} sign */
  take(sign) {
    this.at = sign?.dataset.sign ?? "";
    this.shownUs = null;
    this.mark();
  }

  mark() {
    const { sign } = this;
    for (const one of this.root.querySelectorAll("[data-sign]")) one.classList.toggle("is-at-hand", one === sign);
  }

  /** @param {KeyboardEvent} event */
  pressed(event) {
    if (event.target !== this.player.stage || event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
    const key = event.key.toLowerCase();
    const { sign } = this;
    if (!sign) return;
    if (key === "s") this.toSign(event.shiftKey ? -1 : 1);
    else if (key === "e") this.showFrame(sign);
    else if (key in VERDICT_KEYS) this.judge(sign, VERDICT_KEYS[key]);
    else return;
    event.preventDefault();
  }

  /** @param {1 | -1} way */
  toSign(way) {
    const { signs, sign } = this;
    this.take(signs[nextOf(signs.indexOf(sign), signs.length, way)]);
    this.sign.scrollIntoView({ block: "nearest" });
    this.say(nameOf(this.sign));
  }

  /** @param {HTMLElement} sign */
  showFrame(sign) {
    this.at = sign.dataset.sign ?? "";
    const links = /** @type {HTMLElement[]} */ ([...sign.querySelectorAll("[data-go-us]")]);
    const us = nextFrame(links.map((link) => Number(link.dataset.goUs)), this.shownUs);
    if (us === null) {
      this.say(say("{sign}: no frame shows it.", { sign: nameOf(sign) }));
      return;
    }
    this.shownUs = us;
    void this.player.goTo(us);
  }

  /** @param {HTMLElement} sign @param {string} verdict */
  judge(sign, verdict) {
    this.at = sign.dataset.sign ?? "";
    const button = /** @type {HTMLButtonElement | null} */ (sign.querySelector(`[name=verdict][value=${verdict}]`));
    if (!button) return;
    button.click();
    this.say(button.getAttribute("aria-label") ?? "");
  }

  /** @param {string} words */
  say(words) {
    part(this.player.root, "said").textContent = words;
  }

  disconnect() {
    this.scope.release();
  }
}

/** @param {HTMLElement} sign */
function nameOf(sign) {
  return sign.querySelector("h4")?.textContent?.trim() ?? "";
}
