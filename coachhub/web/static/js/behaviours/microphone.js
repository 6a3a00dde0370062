// What recording by microphone has in common: how it is asked for, what goes wrong, how loud it is.

import { say } from "../core/wording.js";

const KINDS = ["audio/webm;codecs=opus", "audio/webm", "audio/mp4"];
const TROUBLE = /** @type {Record<string, string>} */ ({
  NotAllowedError: say("The microphone is not allowed. Allow it in the browser's settings for this page and try again"),
  NotFoundError: say("There is no microphone. Connect one and try again"),
  NotReadableError: say("Another program uses the microphone. Close it and try again"),
});

export function canRecord() {
  return Boolean(navigator.mediaDevices?.getUserMedia) && typeof MediaRecorder !== "undefined";
}

/** @returns {Promise<MediaStream>} */
export function openMicrophone() {
  return navigator.mediaDevices.getUserMedia({ audio: { channelCount: 1, echoCancellation: true, noiseSuppression: true } });
}

/** @param {unknown} problem @param {string} otherwise  the way on without a microphone @returns {string} */
export function microphoneTrouble(problem, otherwise) {
  return `${TROUBLE[/** @type {Error} */ (problem).name] ?? say("Recording failed. Try again")}, ${otherwise}`;
}

/** @param {MediaStream} stream @returns {MediaRecorder} */
export function recorderOf(stream) {
  const mimeType = KINDS.find((kind) => MediaRecorder.isTypeSupported(kind));
  return new MediaRecorder(stream, { mimeType, audioBitsPerSecond: 48_000 });
}

/** How loud it is, as a bar. */
export class LevelMeter {
  /** @param {AudioContext} context @param {AudioNode} voice */
  constructor(context, voice) {
    this.analyser = context.createAnalyser();
    this.analyser.fftSize = 1024;
    this.samples = new Float32Array(this.analyser.fftSize);
    voice.connect(this.analyser);
  }

  /** 0..1 for -60..0 dB. */
  get share() {
    this.analyser.getFloatTimeDomainData(this.samples);
    const rms = Math.sqrt(this.samples.reduce((sum, x) => sum + x * x, 0) / this.samples.length);
    return Math.max(0, Math.min(1, 1 + Math.log10(Math.max(1e-3, rms)) / 3));
  }
}

/** @param {HTMLCanvasElement} canvas @param {number} share  0..1 */
export function drawLevel(canvas, share) {
  const paper = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  paper.clearRect(0, 0, canvas.width, canvas.height);
  paper.fillStyle = getComputedStyle(canvas).color;
  paper.fillRect(0, 4, canvas.width * share, canvas.height - 8);
}
