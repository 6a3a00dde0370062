import { FrameTimes } from "../core/frametimes.js";

/**
 * What the frame engines have in common: which frame is wanted, and the search for it. The player talks to this
 * interface only: load, show, step, play, pause, onframe.
 */
export class FrameEngine {
  /** @type {FrameTimes} */
  frames = new FrameTimes([0]);
  source = "";
  frame = 0;
  playing = false;
  /** @type {{first: number, last: number}} */
  bounds = { first: 0, last: 0 };
  repeat = false;
  direction = 1;
  /** @type {(frame: number) => void} */
  onframe = () => {};
  /** @type {(playing: boolean) => void} */
  onplaying = () => {};
  /** @type {(fromUs: number, toUs: number) => number | null} */
  halt = () => null;
  /** @type {Promise<void> | null} */
  seeking = null;
  wanted = 0;
  generation = 0;

  /** @param {number} frame @returns {Promise<void>} resolves when the frame (or a later wish) is on screen */
  show(frame) {
    if (this.playing) this.pause();
    this.wanted = Math.min(this.bounds.last, Math.max(this.bounds.first, Math.round(frame)));
    this.turn(this.wanted);
    this.frame = this.wanted;
    // Wishes that come while a picture is on its way replace each other: holding a key must not queue them up.
    this.seeking ??= this.seekToWish();
    return this.seeking;
  }

  /** @param {number} frames @returns {Promise<void>} */
  step(frames) {
    return this.show(this.frame + frames);
  }

  async seekToWish() {
    const mine = this.generation;
    let shown = -1;
    try {
      while (shown !== this.wanted && mine === this.generation) {
        shown = this.wanted;
        await this.fetch(shown);
        if (mine !== this.generation) break;
        this.put(shown);
        // A step made meanwhile counts from the wish, not from the picture that just came.
        this.frame = this.wanted;
      }
    } finally {
      // In the same step as the last look at the wish: a wish that comes a moment later must start its own search.
      if (mine === this.generation) this.seeking = null;
    }
  }

  /** @param {boolean} playing */
  setPlaying(playing) {
    if (this.playing === playing) return;
    this.playing = playing;
    this.onplaying(playing);
  }

  /** @param {number} frame  now on screen */
  tell(frame) {
    this.frame = frame;
    this.onframe(frame);
  }

  pause() {}

  /** Which way the next frames are likely to be wanted. @param {number} _wanted */
  turn(_wanted) {}

  /** Makes the picture of a frame ready. @param {number} _frame @returns {Promise<void>} */
  async fetch(_frame) {}

  /** Puts the ready picture on screen and tells. @param {number} frame @returns {boolean} false: there is none */
  put(frame) {
    this.tell(frame);
    return true;
  }
}
