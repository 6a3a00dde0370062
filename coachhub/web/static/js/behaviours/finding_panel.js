import { say } from "../core/wording.js";
import { html, jsonOf, maybePart, part } from "./dom.js";
import { FindingFields } from "./finding_fields.js";
import { eyeKey } from "../core/eyekeys.js";
import { Scope } from "./scope.js";
import { get, post } from "./server.js";

/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */
/** @typedef {import("./answer_form.js").AnswerForm} AnswerForm */

/**
 * The panel "Where it may come from": sets what the coach sees with the shown frame, takes a suggestion into the answer,
 * and fetches the ranking anew after each verdict.
 *
 *   <section data-part="reasoning" data-url="…"> templates/coach/desk/_finding_panel.html </section>
 */
export class FindingPanel {
  /** @param {HTMLElement} root @param {{player?: SwingPlayer, answer?: AnswerForm, token: string}} desk */
  constructor(root, { player, answer, token }) {
    this.root = root;
    this.player = player;
    this.token = token;
    this.scope = new Scope();
    this.fields = answer && new FindingFields(answer, player, document.getElementById("idea-facts") ? jsonOf("idea-facts") : {});
    /** The letter of a look that waits for its number. */
    this.letter = "";
  }

  connect() {
    const { scope, root, player } = this;
    scope.listen(root, "submit", (event) => this.submitted(event));
    scope.listen(root, "click", (event) => this.clicked(event));
    scope.listen(root, "desk:judged", () => this.refresh());
    if (player && this.fields) scope.listen(player.stage, "keydown", (event) => this.pressed(event));
    this.fields?.connect();
    this.dress();
  }

  get section() {
    return part(this.root, "reasoning");
  }

  dress() {
    for (const one of this.section.querySelectorAll("[data-needs-script]")) one.hidden = false;
    for (const one of this.section.querySelectorAll("[data-without-script]")) one.hidden = true;
  }

  /** @param {MouseEvent} event */
  clicked(event) {
    const link = /** @type {HTMLElement | null} */ (/** @type {Element} */ (event.target).closest("[data-part=reasoning] [data-go-us]"));
    if (link) this.player?.select(link.dataset.goSwing ?? "", Number(link.dataset.goUs));
  }

  /** @param {SubmitEvent} event */
  async submitted(event) {
    const form = /** @type {HTMLFormElement} */ (event.target);
    if (form.matches("[data-take]") && this.fields) {
      event.preventDefault();
      this.take(form);
      return;
    }
    if (!form.matches("[data-reason]")) return;
    event.preventDefault();
    await this.send(form, new FormData(form, event.submitter), event.submitter?.getAttribute("aria-label") ?? "");
  }

  /** @param {HTMLFormElement} form @param {FormData} body @param {string} focusKey */
  async send(form, body, focusKey) {
    if (form.matches("[data-eye]") && this.player?.swing) body.set("frame", `${this.player.swing.id}@${Math.round(this.player.us)}`);
    try {
      this.swap((await post(form.action, body, this.token)).html, focusKey);
    } catch (problem) {
      this.say(/** @type {Error} */ (problem).message || say("No connection. Try again in a moment."), true);
    }
  }

  async refresh() {
    try {
      this.swap((await get(this.section.dataset.url)).html, "");
    } catch { /* the old ranking stays; the next verdict asks again */ }
  }

  /** @param {string} text @param {string} focusKey */
  swap(text, focusKey) {
    const old = this.section;
    const opened = new Set(Array.from(old.querySelectorAll("details[open] > summary"), (one) => one.textContent));
    const hadFocus = old.contains(document.activeElement);
    const holder = document.createElement("template");
    holder.innerHTML = text.trim();
    const fresh = /** @type {HTMLElement} */ (holder.content.querySelector("section"));
    for (const summary of fresh.querySelectorAll("details > summary")) {
      if (opened.has(summary.textContent)) /** @type {HTMLDetailsElement} */ (summary.parentElement).open = true;
    }
    old.replaceWith(fresh);
    this.dress();
    const again = focusKey && fresh.querySelector(`[aria-label="${CSS.escape(focusKey)}"]`);
    if (hadFocus) /** @type {HTMLElement | null} */ (again || fresh.querySelector("summary, button"))?.focus();
    const first = fresh.querySelector(".path h3");
    this.say(first ? say("First now: {label}", { label: (first.textContent ?? "").replace(/\s+/g, " ").trim().replace(/^1 /, "") }) : say("Nothing is ranked now."));
  }

  /** @param {string} sentence @param {boolean} [isProblem] */
  say(sentence, isProblem = false) {
    const line = part(this.section, "reasoning-said");
    line.textContent = sentence;
    maybePart(this.section, "reasoning-problem")?.remove();
    if (isProblem) line.after(html("p", { class: "error", role: "alert", "data-part": "reasoning-problem" }, [sentence]));
  }

  /** @param {HTMLElement} form */
  take(form) {
    const { root, kind, mechanism } = form.dataset;
    this.fields?.take({ root: root ?? "", kind: kind ?? "", mechanism: mechanism ?? "" });
    this.say(say("Taken into your finding. Change what you like."));
  }

  /** Letter, then number: what the eye sees. A number alone takes that suggestion. @param {KeyboardEvent} event */
  pressed(event) {
    if (event.target !== this.player?.stage || event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
    const looks = Array.from(this.section.querySelectorAll("[data-look]"), (one) => ({ letter: one.dataset.letter, choices: one.querySelectorAll("button").length }));
    const takes = Array.from(this.section.querySelectorAll("form[data-take]"));
    const found = eyeKey({ key: event.key, letter: this.letter, looks, paths: takes.length });
    this.letter = found.letter;
    if (found.act === "none") return;
    event.preventDefault();
    if (found.act === "take") this.take(takes[found.number - 1]);
    if (found.act === "see") this.see(found.pressed, found.number);
    if (found.act === "wait") this.say(`${this.look(found.letter).querySelector("legend").textContent.trim()}: which number?`);
  }

  /** @param {string} letter @returns {any} */
  look(letter) {
    return this.section.querySelector(`[data-letter="${letter}"]`);
  }

  /** @param {string} letter @param {number} number */
  see(letter, number) {
    const choice = this.look(letter).querySelectorAll("button")[number - 1];
    const body = new FormData(choice.form, choice);
    void this.send(choice.form, body, "");
  }

  disconnect() {
    this.scope.release();
    this.fields?.disconnect();
  }
}
