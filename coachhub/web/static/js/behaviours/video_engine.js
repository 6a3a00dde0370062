import { say } from "../core/wording.js";
import { FrameEngine } from "./frame_engine.js";

/** @typedef {import("../core/frametimes.js").FrameTimes} FrameTimes */

const PICTURE_MS = 300;

/**
 * Shows exact frames of a <video>.
 *
 * A seek goes to the middle of the frame's presentation interval: seeking to its start lands on the frame before
 * about as often as not, because players round.
 */
export class VideoEngine extends FrameEngine {
  /** @param {HTMLVideoElement} video */
  constructor(video) {
    super();
    this.video = video;
    // While it plays, the browser says a moment late which frame it shows.
    this.approximate = true;
    this.canReverse = false;
    // The frame that a seek brought on screen; -1 while that is not known.
    this.pictured = -1;
  }

  get size() {
    return { width: this.video.videoWidth, height: this.video.videoHeight };
  }

  /** Lets go of what is under way. */
  rest() {
    this.pause();
    this.generation += 1;
    this.seeking = null;
    this.source = "";
  }

  /** @param {string} source @param {FrameTimes} frames @param {string} [poster] */
  async load(source, frames, poster) {
    this.rest();
    this.pictured = -1;
    this.frames = frames;
    this.bounds = { first: 0, last: frames.count - 1 };
    if (poster) this.video.poster = poster;
    const ready = once(this.video, "loadeddata", "error");
    this.video.preload = "auto";
    this.video.src = source;
    this.video.load();
    await ready;
    this.source = source;
  }

  /**
   * "seeked" comes a moment before the picture does; lines must not be drawn over the frame before.
   * @param {number} frame
   */
  async fetch(frame) {
    const picture = new PictureWatch(this.video, (mediaS) => this.frames.nearest(mediaS * 1e6) === frame);
    try {
      const arrived = once(this.video, "seeked", "error");
      this.video.currentTime = this.frames.middleOf(frame) / 1e6;
      await arrived;
      if (frame !== this.pictured) await picture.seen(PICTURE_MS);
      this.pictured = frame;
    } finally {
      picture.end();
    }
  }

  /** @param {number} rate */
  async play(rate) {
    if (rate < 0) return;
    this.video.playbackRate = rate;
    if (this.playing) return;
    if (this.frame >= this.bounds.last) await this.show(this.bounds.first);
    if (this.seeking) await this.seeking;
    this.pictured = -1;
    this.setPlaying(true);
    try {
      await this.video.play();
    } catch {
      this.setPlaying(false);
      return;
    }
    this.follow(this.generation);
  }

  /** @param {number} rate */
  setRate(rate) {
    this.video.playbackRate = rate;
  }

  pause() {
    this.video.pause();
    this.setPlaying(false);
  }

  /** @param {number} generation */
  follow(generation) {
    const next = (/** @type {number} */ mediaS) => {
      if (!this.playing || generation !== this.generation) return;
      this.passed(mediaS * 1e6);
      if (this.playing) onNextPicture(this.video, next);
    };
    onNextPicture(this.video, next);
    this.video.addEventListener("ended", () => this.passed(this.frames.endUs), { once: true });
  }

  /** @param {number} us */
  passed(us) {
    if (!this.playing) return;
    const frame = this.frames.nearest(us);
    const stop = this.halt(this.frames.startOf(this.frame), this.frames.startOf(frame));
    if (stop !== null) {
      this.show(this.frames.nearest(stop));
    } else if (frame >= this.bounds.last) {
      this.atTheEnd();
    } else {
      this.tell(frame);
    }
  }

  async atTheEnd() {
    const rate = this.video.playbackRate;
    await this.show(this.repeat ? this.bounds.first : this.bounds.last);
    if (this.repeat) this.play(rate);
  }
}

/** Waits for a picture to be put on screen. A hidden page shows none, so the wait has an end. */
class PictureWatch {
  /** @param {HTMLVideoElement} video @param {(mediaS: number) => boolean} isIt */
  constructor(video, isIt) {
    this.video = video;
    this.able = "requestVideoFrameCallback" in video;
    /** @type {Promise<void>} */
    this.came = new Promise((resolve) => {
      const look = (/** @type {number} */ _, /** @type {{mediaTime: number}} */ picture) => {
        if (isIt(picture.mediaTime)) resolve();
        else this.handle = video.requestVideoFrameCallback(look);
      };
      if (this.able) this.handle = video.requestVideoFrameCallback(look);
    });
  }

  /** @param {number} mostMs */
  async seen(mostMs) {
    if (!this.able) return;
    await Promise.race([this.came, new Promise((resolve) => { setTimeout(resolve, mostMs); })]);
  }

  end() {
    if (this.able && this.handle !== undefined) this.video.cancelVideoFrameCallback(this.handle);
  }
}

/** @param {HTMLVideoElement} video @param {(mediaS: number) => void} then */
function onNextPicture(video, then) {
  if ("requestVideoFrameCallback" in video) video.requestVideoFrameCallback((_, picture) => then(picture.mediaTime));
  else requestAnimationFrame(() => then(/** @type {HTMLVideoElement} */ (video).currentTime));
}

/** @param {HTMLVideoElement} video @param {string} good @param {string} bad @returns {Promise<void>} */
function once(video, good, bad) {
  return new Promise((resolve, reject) => {
    const done = () => { video.removeEventListener(bad, fail); resolve(); };
    const fail = () => {
      video.removeEventListener(good, done);
      reject(new Error(video.error?.message || say("The clip can't be played.")));
    };
    video.addEventListener(good, done, { once: true });
    video.addEventListener(bad, fail, { once: true });
  });
}
