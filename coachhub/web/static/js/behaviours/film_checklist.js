import * as checks from "../core/filmchecks.js";
import { say } from "../core/wording.js";
import { part } from "./dom.js";

/** @typedef {import("../core/filmchecks.js").Said} Said */

const WIDTH = 72;
const EVERY_MS = 200;
const WORDS = { ok: say("Fine:"), warn: say("Advice:"), unknown: say("Look yourself:") };

/**
 * The live checklist: the phone stands where it will film, its camera looks, and each line says what is to be changed.
 *
 *   <section data-checklist> <video data-part="preview"> <canvas data-part="small" hidden> <button data-part="look">
 *     <li data-check="level"> … "rate", "light", "frame" … </section>
 */
export class FilmChecklist {
  /** @param {HTMLElement} root */
  constructor(root) {
    this.root = root;
    this.video = /** @type {HTMLVideoElement} */ (part(root, "preview"));
    this.canvas = /** @type {HTMLCanvasElement} */ (part(root, "small"));
    this.button = /** @type {HTMLButtonElement} */ (part(root, "look"));
    /** @type {MediaStream | null} */
    this.stream = null;
    /** @type {Float32Array | null} */
    this.before = null;
    /** @type {import("../core/filmchecks.js").Box | null} */
    this.box = null;
    /** @type {ReturnType<typeof setInterval> | undefined} */
    this.timer = undefined;
  }

  connect() {
    this.button.hidden = false;
    this.button.addEventListener("click", () => void (this.stream ? this.stop() : this.start()));
    document.addEventListener("visibilitychange", () => document.hidden && this.stop());
    globalThis.addEventListener("deviceorientation", (event) => this.turned(event));
  }

  async start() {
    await askForOrientation();
    try {
      const wanted = { facingMode: { ideal: "environment" }, frameRate: { ideal: 60 } };
      this.stream = await navigator.mediaDevices.getUserMedia({ video: wanted, audio: false });
    } catch {
      return this.say("rate", { level: "unknown", sentence: say("The camera can't be used here: go through the list by eye.") });
    }
    this.video.srcObject = this.stream;
    this.video.hidden = false;
    this.button.textContent = say("Stop looking");
    this.box = this.before = null;
    await this.video.play();
    this.say("rate", checks.rateWords(this.stream.getVideoTracks()[0]?.getSettings().frameRate));
    this.timer = setInterval(() => this.see(), EVERY_MS);
  }

  stop() {
    clearInterval(this.timer);
    this.stream?.getTracks().forEach((track) => track.stop());
    this.stream = null;
    this.video.srcObject = null;
    this.video.hidden = true;
    this.button.textContent = say("Look through the camera");
  }

  /** @param {DeviceOrientationEvent} event */
  turned({ beta, gamma }) {
    if (beta !== null || gamma !== null) this.say("level", checks.levelWords(checks.attitude(beta, gamma)));
  }

  see() {
    const { videoWidth, videoHeight } = this.video;
    if (!videoWidth) return;
    const height = Math.max(1, Math.round((WIDTH * videoHeight) / videoWidth));
    this.canvas.width = WIDTH;
    this.canvas.height = height;
    const pen = /** @type {CanvasRenderingContext2D} */ (this.canvas.getContext("2d", { willReadFrequently: true }));
    pen.drawImage(this.video, 0, 0, WIDTH, height);
    const now = checks.greys(pen.getImageData(0, 0, WIDTH, height).data);
    this.say("light", checks.lightWords(checks.brightness(now)));
    if (this.before?.length === now.length) this.box = checks.joined(this.box, checks.movedBox(this.before, now, WIDTH));
    this.before = now;
    this.say("frame", checks.frameWords(this.box));
  }

  /** @param {string} name @param {Said} said */
  say(name, { level, sentence }) {
    const line = this.root.querySelector(`[data-check="${name}"]`);
    const words = `${WORDS[level]} ${sentence}`;
    if (!line || line.textContent === words) return;
    line.className = level;
    line.textContent = words;
  }
}

/** Some phones ask first. */
async function askForOrientation() {
  const asks = /** @type {any} */ (globalThis.DeviceOrientationEvent)?.requestPermission;
  try {
    if (asks) await asks.call(globalThis.DeviceOrientationEvent);
  } catch {
    // Refused: the line about the level stays advice by eye.
  }
}
