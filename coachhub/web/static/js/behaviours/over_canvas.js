import { fitOver, stanceAt } from "../core/overlayfit.js";

/** @typedef {import("./beside_pane.js").BesidePane} BesidePane */
/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */

/** Paints the second golfer over the first: feet on feet, as tall as each other at address, as strong as wanted. */
export class OverCanvas {
  /** @param {HTMLCanvasElement} canvas  lies over the first picture @param {SwingPlayer} player @param {BesidePane} pane */
  constructor(canvas, player, pane) {
    this.canvas = canvas;
    this.player = player;
    this.pane = pane;
    /** @type {import("../core/overlayfit.js").Fit} */
    this.fit = { scale: 1, dx: 0, dy: 0, flip: false, byFeet: false };
  }

  /** @param {boolean} isMirrored @returns {boolean} whether the feet of both were found */
  place(isMirrored) {
    const { player, pane } = this;
    const first = stanceAt(player.tracks, addressOf(player.swing), player.engine.size);
    const second = pane.swing && stanceAt(pane.tracks, addressOf(pane.swing), pane.size);
    this.fit = fitOver(first, player.engine.size, second, pane.size, isMirrored);
    Object.assign(this.canvas, player.engine.size);
    return this.fit.byFeet;
  }

  /** @param {boolean} on @param {number} opacity  per cent */
  show(on, opacity) {
    this.canvas.hidden = !on;
    this.canvas.style.opacity = String(opacity / 100);
    if (on) this.paint();
  }

  paint() {
    if (this.canvas.hidden) return;
    const paper = this.canvas.getContext("2d");
    if (!paper) return;
    const { scale, dx, dy, flip } = this.fit;
    const { width, height } = this.pane.size;
    paper.setTransform(1, 0, 0, 1, 0, 0);
    paper.clearRect(0, 0, this.canvas.width, this.canvas.height);
    paper.setTransform(flip ? -scale : scale, 0, 0, scale, dx + (flip ? scale * width : 0), dy);
    paper.drawImage(this.pane.picture, 0, 0, width, height);
  }
}

/** @param {{events: {name: string, t_us: number}[], start_us: number}} swing */
function addressOf(swing) {
  return swing.events.find((event) => event.name === "address")?.t_us ?? swing.start_us;
}
