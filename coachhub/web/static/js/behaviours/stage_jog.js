import { DRAG_STARTS_PX, WheelJog, draggedFrames } from "../core/jog.js";
import { Scope } from "./scope.js";

/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */

/**
 * Turns the wheel and a sideways drag into frames. The wheel acts only while the stage has the focus, so that the page
 * still scrolls under it; a drag gives way to drawing. Buttons and keys do the same (WCAG 2.5.7).
 */
export class StageJog {
  /** @param {SwingPlayer} player @param {HTMLElement} stage @param {HTMLElement} picture */
  constructor(player, stage, picture) {
    this.player = player;
    this.stage = stage;
    this.picture = picture;
    this.scope = new Scope();
    this.wheel = new WheelJog();
    /** @type {{id: number, x: number, frame: number, moved: boolean} | null} */
    this.press = null;
  }

  connect() {
    const { scope, stage } = this;
    scope.listen(stage, "wheel", (event) => this.turned(event), { passive: false });
    // On the stage, after the drawing pad on the picture has taken what is its own.
    scope.listen(stage, "pointerdown", (event) => this.down(event));
    scope.listen(stage, "pointermove", (event) => this.move(event));
    scope.listen(stage, "pointerup", () => this.up());
    scope.listen(stage, "pointercancel", () => this.up());
  }

  disconnect() {
    this.scope.release();
  }

  /** @param {WheelEvent} event */
  turned(event) {
    if (document.activeElement !== this.stage || event.ctrlKey || !this.picture.contains(/** @type {Node} */ (event.target))) return;
    event.preventDefault();
    const frames = this.wheel.frames(event);
    if (frames) this.player.step(frames);
  }

  /** @param {PointerEvent} event */
  down(event) {
    const isTaken = this.picture.classList.contains("is-drawing") || this.player.selected;
    if (event.button !== 0 || isTaken || !this.picture.contains(/** @type {Node} */ (event.target))) return;
    if (event.pointerType === "mouse") event.preventDefault();
    this.stage.focus({ preventScroll: true });
    this.press = { id: event.pointerId, x: event.clientX, frame: this.player.frame, moved: false };
  }

  /** @param {PointerEvent} event */
  move(event) {
    const { press } = this;
    if (!press || press.id !== event.pointerId) return;
    const dx = event.clientX - press.x;
    if (!press.moved && Math.abs(dx) < DRAG_STARTS_PX) return;
    if (!press.moved) this.picture.setPointerCapture(event.pointerId);
    press.moved = true;
    this.player.showFrame(press.frame + draggedFrames(dx));
  }

  up() {
    this.press = null;
  }
}
