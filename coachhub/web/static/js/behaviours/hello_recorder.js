import { inMinutes } from "../core/timecode.js";
import { say } from "../core/wording.js";
import { part } from "./dom.js";
import { LevelMeter, canRecord, drawLevel, microphoneTrouble, openMicrophone, recorderOf } from "./microphone.js";
import { Scope } from "./scope.js";
import { post } from "./server.js";

// Seconds under what the server takes: 60 of film, ten minutes of sound.
const LONGEST_MS = { film: 58_000, voice: 9.5 * 60_000 };
// What the server takes; a browser that makes none of them offers the voice alone.
const FILM_KINDS = ["video/mp4;codecs=avc1.42E01E,mp4a.40.2", "video/webm;codecs=h264,opus", "video/webm;codecs=vp9,opus"];
const WISHES = {
  video: { facingMode: "user", width: { ideal: 1280 }, height: { ideal: 720 }, frameRate: { ideal: 30 } },
  audio: { echoCancellation: true, noiseSuppression: true },
};

/**
 * Records a coach's hello, as voice or as a short film, lets it be looked at, and sends it together with the words.
 *
 *   <form data-hello> … templates/organiser/hello.html … </form>
 */
export class HelloRecorder {
  /** @param {HTMLFormElement} form */
  constructor(form) {
    this.form = form;
    this.scope = new Scope();
    /** @type {HTMLVideoElement} */
    this.view = part(form, "view");
    /** @type {MediaRecorder | null} */
    this.recorder = null;
    /** @type {Blob | null} */
    this.take = null;
    this.kind = /** @type {"voice" | "film"} */ ("voice");
  }

  connect() {
    if (!canRecord()) return;
    part(this.form, "recorder").hidden = false;
    const press = (/** @type {string} */ name, /** @type {() => void} */ work) => this.scope.listen(part(this.form, name), "click", work);
    this.filmKind = FILM_KINDS.find((kind) => MediaRecorder.isTypeSupported(kind));
    part(this.form, "film").hidden = !this.filmKind;
    press("voice", () => void this.record("voice"));
    press("film", () => void this.record("film"));
    press("stop", () => this.recorder?.stop());
    press("drop", () => this.drop());
    this.scope.listen(window, "pagehide", () => this.recorder?.stop());
    this.scope.listen(this.form, "submit", (event) => this.submit(event));
  }

  /** @param {string} text */
  say(text) {
    part(this.form, "said").textContent = text;
  }

  /** @param {"voice" | "film"} kind */
  async record(kind) {
    try {
      this.stream = await (kind === "film" ? navigator.mediaDevices.getUserMedia(WISHES) : openMicrophone());
    } catch (problem) {
      this.noWay(kind, problem);
      return;
    }
    this.drop();
    this.kind = kind;
    this.start(this.stream);
  }

  /** @param {"voice" | "film"} kind @param {unknown} problem */
  noWay(kind, problem) {
    part(this.form, "file").open = true;
    if (kind === "voice") this.say(microphoneTrouble(problem, say("send a file below, or write instead.")));
    else this.say(say("Camera or microphone can't be used. Allow both in the browser's settings for this page, or send a file below."));
  }

  /** @param {MediaStream} stream */
  start(stream) {
    const isFilm = this.kind === "film";
    const recorder = isFilm ? filmRecorder(stream, this.filmKind) : recorderOf(stream);
    /** @type {Blob[]} */
    const pieces = [];
    recorder.ondataavailable = (event) => { if (event.data.size) pieces.push(event.data); };
    recorder.onstop = () => this.stopped(new Blob(pieces, { type: recorder.mimeType }));
    recorder.start(1000);
    this.recorder = recorder;
    this.beganMs = performance.now();
    this.sound = new AudioContext();
    this.level = new LevelMeter(this.sound, this.sound.createMediaStreamSource(stream));
    this.timer = setInterval(() => this.tick(), 100);
    if (isFilm) this.watch(stream);
    this.showRunning(true);
    this.say(isFilm ? say("Filming. At most one minute.") : say("Recording."));
    part(this.form, "stop").focus();
  }

  /** @param {MediaStream} stream */
  watch(stream) {
    Object.assign(this.view, { srcObject: stream, muted: true, hidden: false });
    void this.view.play();
  }

  tick() {
    const ran = performance.now() - (this.beganMs ?? 0);
    part(this.form, "time").textContent = inMinutes(ran);
    if (this.level) drawLevel(part(this.form, "level"), this.level.share);
    if (ran > LONGEST_MS[this.kind]) this.recorder?.stop();
  }

  /** @param {Blob} take */
  stopped(take) {
    clearInterval(this.timer);
    for (const track of this.stream?.getTracks() ?? []) track.stop();
    void this.sound?.close();
    this.recorder = null;
    this.take = take;
    this.showRunning(false);
    Object.assign(this.view, { srcObject: null, hidden: true });
    this.takeUrl = URL.createObjectURL(take);
    const isFilm = this.kind === "film";
    part(this.form, isFilm ? "take-film" : "take-sound").src = this.takeUrl;
    part(this.form, "take-film").hidden = !isFilm;
    part(this.form, "take-sound").hidden = isFilm;
    part(this.form, "take").hidden = false;
    this.form.classList.add("is-busy");
    this.say(say("Listen to it, write it down below, then save both."));
  }

  /** @param {boolean} isRunning */
  showRunning(isRunning) {
    for (const name of ["stop", "time", "level"]) part(this.form, name).hidden = !isRunning;
    part(this.form, "voice").hidden = isRunning;
    part(this.form, "film").hidden = isRunning || !this.filmKind;
    this.form.classList.toggle("is-busy", isRunning);
  }

  drop() {
    this.take = null;
    if (this.takeUrl) URL.revokeObjectURL(this.takeUrl);
    for (const name of ["take-film", "take-sound"]) part(this.form, name).removeAttribute("src");
    part(this.form, "take").hidden = true;
    this.form.classList.remove("is-busy");
    this.say("");
  }

  /** Without a recording of this page the form goes the usual way. @param {SubmitEvent} event */
  submit(event) {
    if (this.recorder) {
      event.preventDefault();
      this.say(say("Stop the recording first."));
    } else if (this.take) {
      event.preventDefault();
      void this.send(this.take);
    }
  }

  /** @param {Blob} take */
  async send(take) {
    const body = new FormData(this.form);
    const file = /** @type {HTMLInputElement} */ (this.form.querySelector('input[type="file"]'));
    body.set(file.name, take, "hello");
    this.say(say("Sending…"));
    try {
      const { to } = await post(this.form.action, body, String(body.get("csrfmiddlewaretoken")));
      this.form.classList.remove("is-busy");
      location.assign(to);
    } catch (problem) {
      const why = /** @type {Error & {status?: number}} */ (problem);
      this.say(why.status ? why.message : say("No connection. Try again in a moment; the recording is still here."));
    }
  }

  disconnect() {
    clearInterval(this.timer);
    this.recorder?.stop();
    this.scope.release();
  }
}

/** @param {MediaStream} stream @param {string} [mimeType] @returns {MediaRecorder} */
function filmRecorder(stream, mimeType) {
  return new MediaRecorder(stream, { mimeType, videoBitsPerSecond: 2_500_000, audioBitsPerSecond: 64_000 });
}
