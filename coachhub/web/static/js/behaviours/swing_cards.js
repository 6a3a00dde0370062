import { toSeconds } from "../core/timecode.js";
import { say } from "../core/wording.js";
import { tell } from "./dom.js";
import { PatientPost, isRefusal } from "./patient_post.js";
import { Scope } from "./scope.js";
import { post } from "./server.js";

/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */

/**
 * The measured side of the desk: shows the card of the shown swing, jumps to frames, sends verdicts and corrections.
 *
 *   <div data-part="cards"> templates/coach/desk/card.html, one for each swing </div>
 */
export class SwingCards {
  /** @param {HTMLElement} root @param {SwingPlayer} player @param {string} token */
  constructor(root, player, token) {
    this.root = root;
    this.player = player;
    this.token = token;
    this.scope = new Scope();
    this.waiting = new PatientPost(
      `${location.pathname}:cards`,
      ({ action, fields }) => post(action, formOf(fields), token),
      (answer) => void this.measuredAnew(answer),
      (problem) => { if (problem.status) console.warn(problem); },
    );
  }

  connect() {
    const { scope } = this;
    scope.listen(this.root, "click", (event) => this.clicked(event));
    scope.listen(this.root, "submit", (event) => this.submitted(event));
    scope.listen(this.player.root, "player:swing", () => this.showOwn());
    scope.listen(this.player.root, "player:frame", () => this.offerShownEvent());
    this.dress(this.root);
    this.showOwn();
    this.waiting.connect();
  }

  /** Parts for those with script, and those without it. @param {ParentNode} inside */
  dress(inside) {
    for (const part of /** @type {NodeListOf<HTMLElement>} */ (inside.querySelectorAll("[data-needs-script]"))) part.hidden = false;
    for (const part of /** @type {NodeListOf<HTMLElement>} */ (inside.querySelectorAll("[data-without-script]"))) part.hidden = true;
    for (const field of /** @type {NodeListOf<HTMLInputElement>} */ (inside.querySelectorAll("[data-correct] [name=t_s]"))) field.required = false;
  }

  showOwn() {
    for (const card of /** @type {NodeListOf<HTMLElement>} */ (this.root.querySelectorAll("[data-card]"))) {
      card.hidden = card.dataset.card !== this.player.swing?.id;
    }
  }

  /** Who stands on an event and finds it wrong has it chosen already; between events the choice stays. */
  offerShownEvent() {
    const { engine, swing, frame } = this.player;
    const here = swing.events.find((event) => engine.frames.nearest(event.t_us) === frame);
    const select = /** @type {HTMLSelectElement | null} */ (this.root.querySelector("[data-card]:not([hidden]) .correct select"));
    if (here && select) select.value = here.name;
  }

  /** @param {MouseEvent} event */
  clicked(event) {
    const link = /** @type {HTMLElement | null} */ (/** @type {Element} */ (event.target).closest("[data-go-us]"));
    if (!link) return;
    this.player.goTo(Number(link.dataset.goUs));
    if (matchMedia("(max-width: 60rem)").matches) this.player.stage.scrollIntoView({ block: "start" });
  }

  /** @param {SubmitEvent} event */
  async submitted(event) {
    const form = /** @type {HTMLFormElement} */ (event.target);
    if (!form.matches("[data-judge], [data-correct]")) return;
    event.preventDefault();
    const body = new FormData(form, event.submitter);
    const seconds = toSeconds(this.player.us).toFixed(6);
    if (body.get("do") !== "back") body.set(form.matches("[data-correct]") ? "t_s" : "at_s", seconds);
    const card = /** @type {HTMLElement} */ (form.closest("[data-card]"));
    await this.send(form, body, card, this.focusKey(event.submitter), document.activeElement !== this.player.stage);
  }

  /** @param {HTMLElement | null} from */
  focusKey(from) {
    return from?.getAttribute("aria-label") ?? "";
  }

  /** @param {HTMLFormElement} form @param {FormData} body @param {HTMLElement} card @param {string} focusKey @param {boolean} [isFocused] */
  async send(form, body, card, focusKey, isFocused = true) {
    card.setAttribute("aria-busy", "true");
    try {
      const { html, events, tracks } = await post(form.action, body, this.token);
      this.swap(card, html, focusKey, isFocused);
      if (form.matches("[data-correct]")) await this.player.takeLines(tracks);
      this.takeOver(events);
      tell(this.root, "desk:judged");
    } catch (problem) {
      this.complain(form, this.keepForLater(problem, form.action, body));
    } finally {
      card.removeAttribute("aria-busy");
    }
  }

  /**
   * What the server did not refuse waits on this device until it can be sent. Says what happened.
   * @param {unknown} problem @param {string} action @param {FormData} body @returns {string}
   */
  keepForLater(problem, action, body) {
    const { status, message } = /** @type {Error & {status?: number}} */ (problem);
    if (!isRefusal(status)) void this.waiting.add({ action, fields: /** @type {[string, string][]} */ ([...body.entries()]) });
    return status ? message : say("No connection. This is kept on this device and sent as soon as it is back.");
  }

  /**
   * An event of the shown swing was dragged to another time.
   * @param {string} name @param {number} us @returns {Promise<void>}
   */
  async moveEvent(name, us) {
    const card = /** @type {HTMLElement | null} */ (this.root.querySelector("[data-card]:not([hidden])"));
    const form = /** @type {HTMLFormElement | null} */ (card?.querySelector("form.correct") ?? null);
    if (!card || !form) return;
    const body = new FormData(form);
    body.set("event", name);
    body.set("t_s", toSeconds(us).toFixed(6));
    await this.send(form, body, card, "", false);
  }

  /** Whether this coach may correct the shown swing. */
  get mayCorrect() {
    return this.root.querySelector("[data-card]:not([hidden]) form.correct") !== null;
  }

  /** @param {HTMLElement} card @param {string} html @param {string} focusKey @param {boolean} [isFocused] */
  swap(card, html, focusKey, isFocused = true) {
    const open = Array.from(card.querySelectorAll("details"), (one) => one.open);
    const holder = document.createElement("template");
    holder.innerHTML = html.trim();
    const fresh = /** @type {HTMLElement} */ (holder.content.firstElementChild);
    card.replaceWith(fresh);
    this.dress(fresh);
    if (open.length === fresh.querySelectorAll("details").length) fresh.querySelectorAll("details").forEach((one, i) => { one.open = open[i]; });
    if (!isFocused) return;
    const again = focusKey ? fresh.querySelector(`[aria-label="${CSS.escape(focusKey)}"]`) : fresh.querySelector(".correct button");
    /** @type {HTMLElement | null} */ (again)?.focus();
  }

  /**
   * Something was corrected: the card, the events and the lines over the picture are new.
   * @param {{html: string, events: import("../core/timeline.js").SwingEvent[], tracks: string | null}} answer
   */
  async measuredAnew({ html, events, tracks }) {
    const holder = document.createElement("template");
    holder.innerHTML = html.trim();
    const id = /** @type {HTMLElement} */ (holder.content.firstElementChild).dataset.card ?? "";
    const card = /** @type {HTMLElement | null} */ (this.root.querySelector(`[data-card="${CSS.escape(id)}"]`));
    if (card) this.swap(card, html, "", false);
    this.showOwn();
    if (id !== this.player.swing?.id) return;
    await this.player.takeLines(tracks);
    this.takeOver(events);
  }

  /** @param {import("../core/timeline.js").SwingEvent[]} events */
  takeOver(events) {
    this.player.swing.events = events;
    tell(this.player.root, "player:events", events);
    this.player.controls?.swingChanged();
    this.player.frameShown(this.player.frame);
  }

  /** @param {HTMLFormElement} form @param {string} sentence */
  complain(form, sentence) {
    let line = /** @type {HTMLElement | null} */ (form.querySelector("[role=alert]"));
    if (!line) {
      line = document.createElement("p");
      line.className = "error";
      line.setAttribute("role", "alert");
      form.append(line);
    }
    line.textContent = sentence;
  }

  disconnect() {
    this.waiting.disconnect();
    this.scope.release();
  }
}

/** @param {[string, string][]} fields */
function formOf(fields) {
  const body = new FormData();
  for (const [name, value] of fields) body.set(name, value);
  return body;
}
