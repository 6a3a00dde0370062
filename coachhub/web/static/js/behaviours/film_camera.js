import { say } from "../core/wording.js";
import { part } from "./dom.js";
import { Scope } from "./scope.js";

const KINDS = ["video/mp4;codecs=avc1", "video/webm;codecs=h264", "video/webm;codecs=vp9", "video/webm;codecs=vp8", "video/webm"];
// As fast and as sharp as the camera gives: movement matters more than size.
const WISHES = { facingMode: "environment", width: { ideal: 1280 }, height: { ideal: 720 }, frameRate: { ideal: 60 } };
const LONGEST_MS = 60_000;
const TROUBLE = /** @type {Record<string, string>} */ ({
  NotAllowedError: say("The camera is not allowed. Allow it in the browser's settings for this page, or choose a film below."),
  NotFoundError: say("There is no camera here. Choose a film below."),
  NotReadableError: say("Another program uses the camera. Close it and try again, or choose a film below."),
});

/**
 * Films with the device's own camera, lets one look at it, and hands the film over to be sent.
 *
 *   <div data-part="camera" hidden> … </div> in templates/coach/library/one.html
 */
export class FilmCamera {
  /** @param {HTMLElement} root  the part itself @param {(film: File) => void} take  called with what is to be sent */
  constructor(root, take) {
    this.root = root;
    this.take = take;
    this.scope = new Scope();
    /** @type {HTMLVideoElement} */
    this.view = part(root, "camera-view");
    this.said = part(root, "camera-said");
    /** @type {MediaStream | null} */
    this.stream = null;
    /** @type {MediaRecorder | null} */
    this.recorder = null;
    /** @type {File | null} */
    this.film = null;
  }

  static get isPossible() {
    return Boolean(navigator.mediaDevices?.getUserMedia) && typeof MediaRecorder !== "undefined";
  }

  connect() {
    if (!FilmCamera.isPossible) return;
    this.root.hidden = false;
    this.scope.listen(part(this.root, "camera-open"), "click", () => void this.open());
    this.scope.listen(part(this.root, "camera-start"), "click", () => this.start());
    this.scope.listen(part(this.root, "camera-stop"), "click", () => this.recorder?.stop());
    this.scope.listen(part(this.root, "camera-again"), "click", () => void this.open());
    this.scope.listen(part(this.root, "camera-send"), "click", () => this.send());
    this.scope.listen(window, "pagehide", () => this.close());
    this.show("camera-open");
  }

  /** Only these buttons are there. @param {...string} names */
  show(...names) {
    for (const name of ["camera-open", "camera-start", "camera-stop", "camera-again", "camera-send"]) {
      part(this.root, name).hidden = !names.includes(name);
    }
  }

  async open() {
    this.film = null;
    try {
      this.stream = await navigator.mediaDevices.getUserMedia({ video: WISHES, audio: false });
    } catch (problem) {
      this.say(TROUBLE[/** @type {Error} */ (problem).name] ?? say("The camera could not be opened. Choose a film below."));
      return;
    }
    Object.assign(this.view, { srcObject: this.stream, muted: true, controls: false, hidden: false });
    void this.view.play();
    const { width = 0, height = 0, frameRate } = this.stream.getVideoTracks()[0].getSettings();
    const size = { width, height };
    this.say(frameRate
      ? say("The camera gives {width} × {height} at {rate} pictures a second.", { ...size, rate: Math.round(frameRate) })
      : say("The camera gives {width} × {height}.", size));
    this.show("camera-start");
  }

  start() {
    if (!this.stream) return;
    /** @type {Blob[]} */
    const pieces = [];
    const mimeType = KINDS.find((kind) => MediaRecorder.isTypeSupported(kind));
    const recorder = new MediaRecorder(this.stream, { mimeType, videoBitsPerSecond: 12_000_000 });
    recorder.addEventListener("dataavailable", (event) => { if (event.data.size) pieces.push(event.data); });
    recorder.addEventListener("stop", () => this.stopped(pieces, recorder.mimeType));
    recorder.addEventListener("error", () => this.say(say("Filming broke off. What was filmed so far can be looked at.")));
    recorder.start(1000);
    this.recorder = recorder;
    this.timer = setTimeout(() => { if (recorder.state !== "inactive") recorder.stop(); }, LONGEST_MS);
    this.say(say("Filming."));
    this.show("camera-stop");
  }

  /** @param {Blob[]} pieces @param {string} type */
  stopped(pieces, type) {
    clearTimeout(this.timer);
    this.close();
    const kind = type.split(";")[0];
    this.film = new File(pieces, `camera.${kind === "video/mp4" ? "mp4" : "webm"}`, { type: kind });
    Object.assign(this.view, { srcObject: null, src: URL.createObjectURL(this.film), controls: true });
    this.say(say("Look at it. It is sent when you say so."));
    this.show("camera-again", "camera-send");
  }

  send() {
    if (!this.film) return;
    this.show();
    this.say("");
    this.take(this.film);
  }

  close() {
    for (const track of this.stream?.getTracks() ?? []) track.stop();
    this.stream = null;
  }

  /** @param {string} text */
  say(text) {
    this.said.textContent = text;
  }
}
