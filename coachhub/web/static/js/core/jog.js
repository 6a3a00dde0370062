const WHEEL_PX_A_FRAME = 40;
const LINE_PX = 20;
const PAGE_PX = 400;
const DRAG_PX_A_FRAME = 8;
export const DRAG_STARTS_PX = 6;

/** Turns wheel movements into whole frames; what is left of a frame counts towards the next one. */
export class WheelJog {
  constructor() {
    this.leftPx = 0;
  }

  /**
   * @param {{deltaX: number, deltaY: number, deltaMode: number}} turn  as in a WheelEvent
   * @returns {number} frames, later ones positive
   */
  frames({ deltaX, deltaY, deltaMode }) {
    const unit = [1, LINE_PX, PAGE_PX][deltaMode] ?? 1;
    const px = (Math.abs(deltaX) > Math.abs(deltaY) ? deltaX : deltaY) * unit;
    if (px * this.leftPx < 0) this.leftPx = 0;
    this.leftPx += px;
    const frames = Math.trunc(this.leftPx / WHEEL_PX_A_FRAME) || 0;
    this.leftPx -= frames * WHEEL_PX_A_FRAME;
    return frames;
  }
}

/** @param {number} dx pixels to the right since the press @returns {number} frames */
export function draggedFrames(dx) {
  return Math.trunc(dx / DRAG_PX_A_FRAME) || 0;
}
