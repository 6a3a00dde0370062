import { say } from "../core/wording.js";
import { maybePart, part } from "./dom.js";
import { FilmCamera } from "./film_camera.js";
import { Scope } from "./scope.js";
import { transfer } from "./upload_transfer.js";

const REST_MS = [1000, 3000, 8000, 15_000];
const FINAL = new Set([400, 401, 403, 404, 410, 413, 415]);

/**
 * Sends one film in pieces and goes on where it stopped: after a lost network by itself, after a closed tab when the
 * same file is chosen again.
 *
 *   <section data-film data-endpoint="/uploads/" data-reference="…"> <form> … <input type="file"> </form> </section>
 */
export class FilmSender {
  /** @param {HTMLElement} root */
  constructor(root) {
    this.root = root;
    this.scope = new Scope();
    /** @type {HTMLFormElement} */
    this.form = /** @type {HTMLFormElement} */ (root.querySelector("form"));
    this.state = part(root, "film-state");
    this.progress = part(root, "film-progress");
    this.stop = new AbortController();
  }

  connect() {
    this.scope.listen(this.form, "submit", (event) => this.submitted(event));
    const camera = maybePart(this.root, "camera");
    if (camera) new FilmCamera(camera, (film) => void this.send(film)).connect();
    this.root.classList.add("is-live");
  }

  disconnect() {
    this.stop.abort();
    this.scope.release();
  }

  /** @param {SubmitEvent} event */
  submitted(event) {
    event.preventDefault();
    const file = /** @type {HTMLInputElement} */ (this.form.querySelector("input[type=file]")).files?.[0];
    if (file) void this.send(file);
  }

  /** @param {File} file */
  async send(file) {
    const send = /** @type {HTMLButtonElement} */ (this.form.querySelector("button"));
    if (send.disabled) return;
    send.disabled = true;
    this.progress.hidden = false;
    try {
      await this.patiently(file);
      this.say(say("Arrived. It is being checked now."));
      location.reload();
    } catch (problem) {
      this.forget(file);
      this.say(sentenceOf(problem));
      send.disabled = false;
    }
  }

  /** @param {File} file */
  async patiently(file) {
    for (let tries = 0; ; tries += 1) {
      try {
        await this.once(file);
        this.forget(file);
        return;
      } catch (problem) {
        const { status = 0 } = /** @type {{status?: number}} */ (problem);
        if (FINAL.has(status) || this.stop.signal.aborted) throw problem;
        this.say(say("No connection. The film goes on by itself as soon as it is back."));
        await this.rest(REST_MS[Math.min(tries, REST_MS.length - 1)]);
      }
    }
  }

  /** @param {File} file */
  once(file) {
    const { endpoint = "", reference = "" } = this.root.dataset;
    const csrf = /** @type {HTMLInputElement} */ (this.form.querySelector("[name=csrfmiddlewaretoken]")).value;
    const item = { reference, name: file.name, report: {}, uploadUrl: localStorage.getItem(this.key(file)) ?? "" };
    return transfer(item, file, {
      endpoint,
      csrf,
      signal: this.stop.signal,
      onUrl: (url) => localStorage.setItem(this.key(file), url),
      onProgress: (sent) => this.show(sent / file.size),
      onKept: () => this.say(""),
    });
  }

  /** @param {number} ms */
  rest(ms) {
    return new Promise((resolve) => {
      const timer = setTimeout(resolve, ms);
      addEventListener("online", () => { clearTimeout(timer); resolve(undefined); }, { once: true });
    });
  }

  /** @param {File} file */
  key(file) {
    return `film:${this.root.dataset.reference}:${file.name}:${file.size}`;
  }

  /** @param {File} file */
  forget(file) {
    localStorage.removeItem(this.key(file));
  }

  /** @param {number} share */
  show(share) {
    this.progress.value = Math.round(share * 100);
  }

  /** @param {string} text */
  say(text) {
    this.state.textContent = text;
  }
}

/** @param {unknown} problem */
function sentenceOf(problem) {
  const { said = "" } = /** @type {{said?: string}} */ (problem);
  try {
    return JSON.parse(said).sentence;
  } catch {
    return say("The film could not be sent. Load the page again and try once more.");
  }
}
