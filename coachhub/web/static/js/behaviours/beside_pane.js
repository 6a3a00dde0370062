import { FrameTimes } from "../core/frametimes.js";
import { inSeconds } from "../core/timecode.js";
import { say } from "../core/wording.js";
import { BodyLayer } from "./body_layer.js";
import { dataOf } from "./clip_data.js";
import { DecodedFrames, supportedConfig } from "./decoded_frames.js";
import { part } from "./dom.js";
import { VideoEngine } from "./video_engine.js";

/** @typedef {import("./swing_player.js").PlayerSwing} PlayerSwing */

/**
 * The second picture: another swing, its lines, and the words under it. It plays nothing by itself; Tandem moves it.
 *
 *   const pane = new BesidePane(section); await pane.open(swing); await pane.show(12);
 */
export class BesidePane {
  /** @param {HTMLElement} root  holds templates/shared/beside_picture.html */
  constructor(root) {
    this.root = root;
    this.box = part(root, "beside");
    this.video = part(root, "beside-video");
    this.canvas = part(root, "beside-canvas");
    this.now = part(root, "beside-now");
    /** The lines over it, while there is something. @type {BodyLayer | null} */
    this.body = null;
    this.plain = new VideoEngine(this.video);
    this.decoded = new DecodedFrames(this.canvas, this.video);
    /** @type {VideoEngine | DecodedFrames} */
    this.engine = this.plain;
    /** @type {PlayerSwing | null} */
    this.swing = null;
    /** @type {any} */
    this.tracks = null;
    this.plainOnly = false;
    /** A frame is on screen. @type {(frame: number) => void} */
    this.onframe = () => {};
    /** Which lines are shown: those of the first picture. @type {() => {body: boolean, shaft: boolean}} */
    this.shows = () => ({ body: true, shaft: true });
    /** The kind of engine changed. @type {() => void} */
    this.onengine = () => {};
    /** A fresh address of the same clip. @type {() => Promise<string | null>} */
    this.renew = async () => null;
    for (const engine of [this.plain, this.decoded]) engine.onframe = (frame) => this.shown(frame);
    this.decoded.renew = () => this.renew();
    this.decoded.onfail = (problem) => this.fallBack(problem);
  }

  get frames() {
    return this.engine.frames;
  }

  get us() {
    return this.frames.startOf(this.engine.frame);
  }

  get isDecoded() {
    return this.engine === this.decoded;
  }

  get size() {
    return this.engine.size;
  }

  /** What can be painted elsewhere: the shown frame. @returns {CanvasImageSource} */
  get picture() {
    return this.isDecoded ? this.canvas : this.video;
  }

  /** @param {PlayerSwing} swing */
  async open(swing) {
    this.swing = swing;
    if (!swing.src) throw new Error(say("The picture of the other clip is still being prepared. Try again in a moment."));
    const [index, tracks] = await dataOf(swing);
    const decodes = !this.plainOnly && (await supportedConfig(index)) !== null;
    this.engine.rest();
    this.engine = decodes ? this.decoded : this.plain;
    await this.engine.load(swing.src, new FrameTimes(index.times_us, index.end_us), swing.poster, index);
    this.tracks = tracks;
    this.dress();
    this.onengine();
  }

  dress() {
    const { width, height } = this.size;
    this.box.style.aspectRatio = `${width} / ${height}`;
    this.box.hidden = false;
    this.body ??= new BodyLayer(part(this.root, "beside-body"));
    this.body.shows = this.shows();
    if (this.tracks) this.body.load(this.tracks, this.swing?.hand ?? "right", width, height);
    else this.body.clear();
    part(this.root, "beside-exactness").hidden = !this.engine.approximate;
  }

  close() {
    this.engine.rest();
    this.engine = this.plain;
    this.video.removeAttribute("src");
    this.box.hidden = true;
    this.swing = null;
    this.tracks = null;
    this.body = null;
    part(this.root, "beside-body").replaceChildren();
  }

  /** @param {unknown} problem */
  async fallBack(problem) {
    console.warn("the browser's own player takes over beside", problem);
    this.plainOnly = true;
    const { swing, engine } = this;
    if (swing) await this.open(swing).then(() => this.show(engine.frame));
  }

  /** @param {number} frame */
  show(frame) {
    return this.engine.show(frame);
  }

  /** @param {boolean} isMirrored */
  mirror(isMirrored) {
    this.box.classList.toggle("is-mirrored", isMirrored);
    if (this.body) this.body.mirrored = isMirrored;
    this.redraw();
  }

  /** @param {number} frame */
  shown(frame) {
    this.redraw();
    this.say(frame);
    this.onframe(frame);
  }

  redraw() {
    const { engine, frames } = this;
    this.body?.draw(this.us, (frames.endOf(engine.frame) - frames.startOf(engine.frame)) * 0.75);
  }

  /** @param {number} frame */
  say(frame) {
    const events = this.swing?.events ?? [];
    const here = events.filter((event) => this.frames.nearest(event.t_us) === frame).map((event) => event.label);
    const words = [say("Frame {number} of {count}", { number: frame + 1, count: this.frames.count }), inSeconds(this.frames.startOf(frame)), here.join(", ")];
    this.now.textContent = words.filter(Boolean).join(" · ");
  }
}
