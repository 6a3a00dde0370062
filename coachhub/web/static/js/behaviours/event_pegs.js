import { grasped, shareOf, timeAt } from "../core/timeline.js";
import { html, part } from "./dom.js";
import { Scope } from "./scope.js";

/** @typedef {import("../core/timeline.js").SwingEvent} SwingEvent */
/** @typedef {import("./swing_cards.js").SwingCards} SwingCards */
/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */

const REACH_PX = 24;

/**
 * Pegs over the scrub bar, one for each event: dragged along, the picture follows; let go, the event is set there and
 * the numbers are worked out anew. Without dragging the same is done by "Wrong frame?" beside the events.
 */
export class EventPegs {
  /** @param {SwingPlayer} player @param {SwingCards} cards */
  constructor(player, cards) {
    this.player = player;
    this.cards = cards;
    this.scope = new Scope();
    this.row = html("div", { class: "player-pegs", "data-part": "pegs", "aria-hidden": "true" });
    /** The event under the hand, and where it was. @type {SwingEvent | null} */
    this.held = null;
    this.us = 0;
  }

  connect() {
    const { scope, row } = this;
    part(this.player.root, "ticks").before(row);
    scope.listen(row, "pointerdown", (event) => this.down(event));
    scope.listen(row, "pointermove", (event) => this.move(event));
    scope.listen(row, "pointerup", () => void this.up());
    scope.listen(row, "pointercancel", () => this.letGo());
    scope.listen(document, "keydown", (event) => { if (event.key === "Escape" && this.held) this.letGo(); });
    for (const name of ["player:swing", "player:events"]) scope.listen(this.player.root, name, () => this.draw());
    this.draw();
  }

  disconnect() {
    this.scope.release();
    this.row.remove();
  }

  /** @returns {SwingEvent[]} */
  get events() {
    return this.player.swing?.events ?? [];
  }

  draw() {
    const { player, row } = this;
    row.hidden = !player.swing || !this.cards.mayCorrect || this.events.length === 0;
    if (row.hidden) return;
    row.replaceChildren(...this.events.map((event) => this.peg(event)));
  }

  /** @param {SwingEvent} event */
  peg(event) {
    const isHeld = event.name === this.held?.name;
    const made = html("span", { class: isHeld ? "peg held" : "peg", "data-peg": event.name, title: event.label });
    made.style.left = `${(shareOf(isHeld ? this.us : event.t_us, this.player.span) * 100).toFixed(3)}%`;
    if (isHeld) made.append(html("span", { class: "peg-name" }, [event.label]));
    return made;
  }

  /** @param {PointerEvent} event @returns {number} the time of a whole frame under the pointer */
  timeOf(event) {
    const { left, width } = this.row.getBoundingClientRect();
    const { frames } = this.player.engine;
    return frames.startOf(frames.nearest(timeAt((event.clientX - left) / width, this.player.span)));
  }

  /** @param {PointerEvent} event */
  down(event) {
    if (event.button > 0) return;
    const { span, engine } = this.player;
    const { width } = this.row.getBoundingClientRect();
    const us = this.timeOf(event);
    this.held = grasped(this.events, us, (REACH_PX / width) * (span.end_us - span.start_us));
    if (!this.held) return;
    event.preventDefault();
    if (event.isTrusted) this.row.setPointerCapture(event.pointerId);
    engine.pause();
    this.us = this.held.t_us;
    this.player.goTo(this.us);
    this.draw();
  }

  /** @param {PointerEvent} event */
  move(event) {
    if (!this.held) return;
    this.us = this.timeOf(event);
    this.player.goTo(this.us);
    this.draw();
  }

  async up() {
    const { held, us } = this;
    if (!held) return;
    this.held = null;
    const { frames } = this.player.engine;
    if (frames.nearest(us) !== frames.nearest(held.t_us)) await this.cards.moveEvent(held.name, us);
    this.draw();
  }

  letGo() {
    const { held } = this;
    this.held = null;
    if (held) this.player.goTo(held.t_us);
    this.draw();
  }
}
