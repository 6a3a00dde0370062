import { inMinutes } from "../core/timecode.js";
import { part } from "./dom.js";
import { Scope } from "./scope.js";
import { get, post } from "./server.js";

const LONGEST_MS = 9.5 * 60_000;
const KINDS = ["audio/webm;codecs=opus", "audio/webm", "audio/mp4"];
const TROUBLE = /** @type {Record<string, string>} */ ({
  NotAllowedError: "The microphone is not allowed. Allow it in the browser's settings for this page and try again, send a sound file below, or write instead.",
  NotFoundError: "There is no microphone. Connect one and try again, send a sound file below, or write instead.",
  NotReadableError: "Another program uses the microphone. Close it and try again, send a sound file below, or write instead.",
});

/**
 * Records a voice note, lets it be heard, sends it, and keeps the list of notes fresh.
 *
 *   <section data-part="voice" data-url="…"> … templates/coach/desk/voice.html … </section>
 */
export class VoiceRecorder {
  /** @param {HTMLElement} root @param {string} token @param {() => {swing: string, us: number} | null} where */
  constructor(root, token, where) {
    this.root = root;
    this.token = token;
    this.where = where;
    this.scope = new Scope();
    this.list = part(root, "voice-list");
    /** @type {MediaRecorder | null} */
    this.recorder = null;
    /** @type {Blob | null} */
    this.take = null;
    this.place = /** @type {{swing: string, us: number} | null} */ (null);
    this.ranMs = 0;
  }

  connect() {
    if (!navigator.mediaDevices?.getUserMedia || typeof MediaRecorder === "undefined") this.noMicrophone();
    else this.connectButtons();
    this.scope.listen(this.list, "submit", (event) => this.noteForm(event));
    this.watch();
  }

  noMicrophone() {
    part(this.root, "recorder").hidden = false;
    part(this.root, "record").hidden = true;
    this.say("This browser can't record here. Send a sound file below, or write instead.");
    part(this.root, "voice-file").open = true;
  }

  connectButtons() {
    part(this.root, "recorder").hidden = false;
    const press = (/** @type {string} */ name, /** @type {() => void} */ work) => this.scope.listen(part(this.root, name), "click", work);
    press("record", () => this.record());
    press("pause", () => this.togglePause());
    press("stop", () => this.recorder?.stop());
    press("keep-take", () => this.send());
    press("drop-take", () => this.dropTake());
    this.scope.listen(window, "pagehide", () => this.recorder?.stop());
  }

  /** @param {string} text */
  say(text) {
    part(this.root, "recorder-state").textContent = text;
  }

  async record() {
    try {
      this.stream = await navigator.mediaDevices.getUserMedia({ audio: { channelCount: 1, echoCancellation: true, noiseSuppression: true } });
    } catch (problem) {
      this.say(TROUBLE[/** @type {Error} */ (problem).name] ?? "Recording failed. Send a sound file below, or write instead.");
      part(this.root, "voice-file").open = true;
      return;
    }
    this.dropTake();
    this.place = this.where();
    this.start(this.stream);
  }

  /** @param {MediaStream} stream */
  start(stream) {
    const mimeType = KINDS.find((kind) => MediaRecorder.isTypeSupported(kind));
    const recorder = new MediaRecorder(stream, { mimeType, audioBitsPerSecond: 48_000 });
    /** @type {Blob[]} */
    const pieces = [];
    recorder.ondataavailable = (event) => { if (event.data.size) pieces.push(event.data); };
    recorder.onstop = () => this.stopped(new Blob(pieces, { type: recorder.mimeType }));
    this.recorder = recorder;
    recorder.start(1000);
    this.ranMs = 0;
    this.lastMs = performance.now();
    this.meter(stream);
    this.timer = setInterval(() => this.tick(), 100);
    this.showRunning(true);
    this.say("Recording.");
    part(this.root, "pause").focus();
  }

  /** @param {MediaStream} stream */
  meter(stream) {
    this.sound = new AudioContext();
    this.analyser = this.sound.createAnalyser();
    this.analyser.fftSize = 1024;
    this.sound.createMediaStreamSource(stream).connect(this.analyser);
    this.samples = new Float32Array(this.analyser.fftSize);
  }

  tick() {
    const now = performance.now();
    if (this.recorder?.state === "recording") this.ranMs += now - (this.lastMs ?? now);
    this.lastMs = now;
    part(this.root, "recorder-time").textContent = inMinutes(this.ranMs);
    this.drawLevel();
    if (this.ranMs > LONGEST_MS) this.recorder?.stop();
  }

  drawLevel() {
    const canvas = part(this.root, "level");
    const paper = canvas.getContext("2d");
    if (!this.analyser || !this.samples) return;
    this.analyser.getFloatTimeDomainData(this.samples);
    const rms = Math.sqrt(this.samples.reduce((sum, x) => sum + x * x, 0) / this.samples.length);
    // -60 dB .. 0 dB over the width.
    const share = Math.max(0, Math.min(1, 1 + Math.log10(Math.max(1e-3, rms)) / 3));
    paper.clearRect(0, 0, canvas.width, canvas.height);
    paper.fillStyle = getComputedStyle(canvas).color;
    paper.fillRect(0, 4, this.recorder?.state === "recording" ? canvas.width * share : 0, canvas.height - 8);
  }

  togglePause() {
    const { recorder } = this;
    if (!recorder) return;
    const runs = recorder.state === "recording";
    if (runs) recorder.pause();
    else recorder.resume();
    part(this.root, "pause").textContent = runs ? "Go on" : "Pause";
    this.say(runs ? "Paused." : "Recording.");
  }

  /** @param {Blob} take */
  stopped(take) {
    clearInterval(this.timer);
    this.stream?.getTracks().forEach((track) => track.stop());
    this.sound?.close();
    this.recorder = null;
    this.take = take;
    this.showRunning(false);
    this.soundUrl = URL.createObjectURL(take);
    part(this.root, "take-sound").src = this.soundUrl;
    part(this.root, "take").hidden = false;
    this.say(`${inMinutes(this.ranMs)} recorded. Listen to it, then keep it or throw it away.`);
    part(this.root, "keep-take").focus();
  }

  /** @param {boolean} running */
  showRunning(running) {
    for (const name of ["pause", "stop", "recorder-time"]) part(this.root, name).hidden = !running;
    part(this.root, "record").hidden = running;
    part(this.root, "pause").textContent = "Pause";
    this.root.classList.toggle("is-recording", running);
  }

  dropTake() {
    this.take = null;
    part(this.root, "take").hidden = true;
    part(this.root, "take-sound").removeAttribute("src");
    if (this.soundUrl) URL.revokeObjectURL(this.soundUrl);
    part(this.root, "record").hidden = false;
    this.say("");
  }

  async send() {
    if (!this.take) return;
    const body = new FormData();
    body.set("recording", this.take, "recording");
    if (this.place) {
      body.set("swing", this.place.swing);
      body.set("at_us", String(Math.round(this.place.us)));
    }
    await this.withList(post(this.root.dataset.url ?? "", body, this.token), "Sending…", () => {
      this.dropTake();
      this.say("Kept. Put the same in writing below, for those who can't hear it.");
    });
  }

  /** @param {SubmitEvent} event */
  noteForm(event) {
    event.preventDefault();
    const form = /** @type {HTMLFormElement} */ (event.target);
    const body = new FormData(form, event.submitter);
    this.withList(post(form.action, body, this.token), "", () => this.say(body.get("do") === "remove" ? "Deleted." : "Words kept."));
  }

  /** @param {Promise<any>} answer @param {string} before @param {() => void} [after] */
  async withList(answer, before, after) {
    if (before) this.say(before);
    try {
      const { html, waiting } = await answer;
      this.list.innerHTML = html;
      this.root.dataset.waiting = String(waiting);
      after?.();
      this.watch();
    } catch (problem) {
      this.say(/** @type {Error} */ (problem).message || "No connection. Try again in a moment; the recording is still here.");
    }
  }

  /** Look again while a recording is being prepared. */
  watch() {
    clearTimeout(this.looking);
    const waits = this.root.dataset.waiting === "true";
    if (waits) this.looking = setTimeout(() => this.look(), 1500);
  }

  async look() {
    const writing = this.list.contains(document.activeElement) && document.activeElement instanceof HTMLTextAreaElement;
    if (writing) this.watch();
    else await this.withList(get(this.root.dataset.url ?? ""), "");
  }

  disconnect() {
    clearInterval(this.timer);
    clearTimeout(this.looking);
    this.recorder?.stop();
    this.scope.release();
  }
}
