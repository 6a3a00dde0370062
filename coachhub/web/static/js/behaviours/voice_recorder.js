import { inMinutes } from "../core/timecode.js";
import { say } from "../core/wording.js";
import { part } from "./dom.js";
import { LevelMeter, canRecord, drawLevel, microphoneTrouble, openMicrophone, recorderOf } from "./microphone.js";
import { Scope } from "./scope.js";
import { get, post } from "./server.js";

const LONGEST_MS = 9.5 * 60_000;
const DONE = /** @type {Record<string, string>} */ ({
  remove: say("Deleted."), forget: say("Deleted."), keep: say("Kept for other answers."), use: say("Put in. It is heard at the shown frame."),
});
const OTHERWISE = say("send a sound file below, or write instead.");

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
    if (!canRecord()) this.noMicrophone();
    else this.connectButtons();
    this.scope.listen(this.list, "submit", (event) => this.noteForm(event));
    this.watch();
  }

  noMicrophone() {
    part(this.root, "recorder").hidden = false;
    part(this.root, "record").hidden = true;
    this.say(say("This browser can't record here. Send a sound file below, or write instead."));
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
      this.stream = await openMicrophone();
    } catch (problem) {
      this.say(microphoneTrouble(problem, OTHERWISE));
      part(this.root, "voice-file").open = true;
      return;
    }
    this.dropTake();
    this.place = this.where();
    this.start(this.stream);
  }

  /** @param {MediaStream} stream */
  start(stream) {
    const recorder = recorderOf(stream);
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
    this.say(say("Recording."));
    part(this.root, "pause").focus();
  }

  /** @param {MediaStream} stream */
  meter(stream) {
    this.sound = new AudioContext();
    this.level = new LevelMeter(this.sound, this.sound.createMediaStreamSource(stream));
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
    if (this.level) drawLevel(part(this.root, "level"), this.recorder?.state === "recording" ? this.level.share : 0);
  }

  togglePause() {
    const { recorder } = this;
    if (!recorder) return;
    const runs = recorder.state === "recording";
    if (runs) recorder.pause();
    else recorder.resume();
    part(this.root, "pause").textContent = runs ? say("Go on") : say("Pause");
    this.say(runs ? say("Paused.") : say("Recording."));
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
    this.say(say("{time} recorded. Listen to it, then keep it or throw it away.", { time: inMinutes(this.ranMs) }));
    part(this.root, "keep-take").focus();
  }

  /** @param {boolean} running */
  showRunning(running) {
    for (const name of ["pause", "stop", "recorder-time"]) part(this.root, name).hidden = !running;
    part(this.root, "record").hidden = running;
    part(this.root, "pause").textContent = say("Pause");
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
    this.setPlace(body, this.place);
    await this.withList(post(this.root.dataset.url ?? "", body, this.token), say("Sending…"), () => {
      this.dropTake();
      this.say(say("Kept. Put the same in writing below, for those who can't hear it."));
    });
  }

  /** @param {FormData} body @param {{swing: string, us: number} | null} place */
  setPlace(body, place) {
    if (!place) return;
    body.set("swing", place.swing);
    body.set("at_us", String(Math.round(place.us)));
  }

  /** @param {SubmitEvent} event */
  noteForm(event) {
    event.preventDefault();
    const form = /** @type {HTMLFormElement} */ (event.target);
    const body = new FormData(form, event.submitter);
    if (form.matches("[data-put-in]")) this.setPlace(body, this.where());
    const done = DONE[String(body.get("do"))] ?? say("Words kept.");
    this.withList(post(form.action, body, this.token), "", () => this.say(done));
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
      this.say(/** @type {Error} */ (problem).message || say("No connection. Try again in a moment; the recording is still here."));
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
