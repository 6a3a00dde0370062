import { besidePace, besideUs } from "../core/pairing.js";
import { Scope } from "./scope.js";

/** @typedef {import("../core/pairing.js").Pairing} Pairing */
/** @typedef {import("./beside_pane.js").BesidePane} BesidePane */
/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */

// A <video> that runs beside is pulled along by its speed, and set anew where it is too far off.
const FAR_US = 80_000;
const PULL = 2;
// Times are whole microseconds: the distance of two frames may be one short of where the frame begins.
const ROUNDED_US = 2;
const RATES = { least: 0.0625, most: 4 };

/**
 * Keeps the second picture where the first one's time wants it. Where both are decoded frames, one clock drives both:
 * it stands until the pictures of its time are there on both sides, and both are put up in the same step. Where a
 * <video> takes part, the other follows as closely as that allows.
 */
export class Tandem {
  /** @param {SwingPlayer} player @param {BesidePane} pane */
  constructor(player, pane) {
    this.player = player;
    this.pane = pane;
    this.scope = new Scope();
    /** @type {Pairing} */
    this.pairing = { lock: "alone", map: null, offsetUs: 0 };
    this.lastFrame = -1;
    this.lastUs = -1;
  }

  connect() {
    this.scope.listen(this.player.root, "player:frame", () => this.moved());
    this.scope.listen(this.player.root, "player:playing", (event) => this.turned(event.detail.playing));
    this.player.decoded.mate = { ready: (us) => this.ready(us), put: (us) => this.put(us) };
    this.follow();
  }

  disconnect() {
    this.scope.release();
    this.player.decoded.mate = null;
    this.pane.video.pause();
    this.pane.decoded.led = false;
  }

  get isCoupled() {
    return this.pane.isDecoded && this.player.engine === this.player.decoded;
  }

  /** The frame beside at a time of the first clip; null: it stands for itself. @param {number} us @param {boolean} isPlaying */
  frameFor(us, isPlaying) {
    const other = besideUs(this.pairing, us);
    if (other === null) return null;
    return isPlaying ? this.pane.frames.frameAt(other + ROUNDED_US) : this.pane.frames.nearest(other);
  }

  /** @param {Pairing} pairing */
  pair(pairing) {
    this.pairing = pairing;
    this.follow();
  }

  /** Sets the second one to where it belongs, whatever it shows. */
  follow() {
    const frame = this.frameFor(this.player.exactUs, false);
    if (frame !== null && !this.player.engine.playing) void this.pane.show(frame);
  }

  moved() {
    const { player } = this;
    if (player.engine.playing) {
      if (!this.isCoupled) this.chase(player.us);
      return;
    }
    const us = player.exactUs;
    const stays = player.frame === this.lastFrame && us === this.lastUs;
    [this.lastFrame, this.lastUs] = [player.frame, us];
    if (!stays) this.follow();
  }

  /** @param {boolean} playing */
  turned(playing) {
    const { pane, player } = this;
    pane.decoded.led = playing && pane.isDecoded && this.pairing.lock !== "alone";
    if (playing) {
      this.lastFrame = player.frame;
      if (!pane.isDecoded && this.pairing.lock !== "alone" && player.engine.direction > 0) void this.run();
    } else {
      // Whoever pauses keeps what both show.
      this.lastFrame = this.isCoupled ? player.frame : -1;
      this.lastUs = player.exactUs;
      pane.video.pause();
    }
  }

  /** @param {number} us  of the first clip's clock */
  ready(us) {
    const frame = this.isCoupled ? this.frameFor(us, true) : null;
    if (frame === null) return true;
    const engine = this.pane.decoded;
    if (engine.seeking) return false;
    engine.direction = this.player.engine.direction;
    engine.aim(frame);
    return frame === engine.frame || Boolean(engine.pictureOf(frame));
  }

  /** @param {number} us */
  put(us) {
    const frame = this.isCoupled ? this.frameFor(us, true) : null;
    if (frame !== null && frame !== this.pane.decoded.frame) this.pane.decoded.put(frame);
  }

  async run() {
    const { pane, player } = this;
    pane.plain.pictured = -1;
    pane.video.muted = true;
    pane.video.playbackRate = this.speed(0, player.us);
    try {
      await pane.video.play();
    } catch {
      // Not allowed or not ready: it is set frame by frame instead.
    }
  }

  /** @param {number} driftUs @param {number} us */
  speed(driftUs, us) {
    const wanted = this.player.rate * besidePace(this.pairing, us) - (PULL * driftUs) / 1e6;
    return Math.min(RATES.most, Math.max(RATES.least, wanted));
  }

  /** @param {number} us */
  chase(us) {
    const { pane } = this;
    const other = besideUs(this.pairing, us);
    if (other === null) return;
    const frame = pane.frames.frameAt(other);
    if (pane.isDecoded) {
      pane.decoded.direction = this.player.engine.direction;
      pane.decoded.aim(frame);
      if (frame !== pane.decoded.frame && !pane.decoded.seeking) pane.decoded.put(frame);
    } else if (pane.video.paused) {
      void pane.show(frame);
    } else {
      this.pull(other, us);
    }
  }

  /** @param {number} other @param {number} us */
  pull(other, us) {
    const { video, frames, plain } = this.pane;
    const drift = video.currentTime * 1e6 - other;
    if (Math.abs(drift) > FAR_US) video.currentTime = frames.middleOf(frames.frameAt(other)) / 1e6;
    else video.playbackRate = this.speed(drift, us);
    plain.tell(frames.frameAt(video.currentTime * 1e6));
  }
}
