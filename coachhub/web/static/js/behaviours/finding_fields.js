import { decimal, say } from "../core/wording.js";
import { html, maybePart } from "./dom.js";
import { Scope } from "./scope.js";

/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */
/** @typedef {import("./answer_form.js").AnswerForm} AnswerForm */
/** @typedef {{better_idea: string, look: string, say_back: string}} IdeaFacts */

/** The finding's own fields in the answer: takes a suggestion in, fills the better idea, and sets the shown frame. */
export class FindingFields {
  /** @param {AnswerForm} answer @param {SwingPlayer | undefined} player @param {Record<string, IdeaFacts>} ideas */
  constructor(answer, player, ideas) {
    this.answer = answer;
    this.form = answer.form;
    this.player = player;
    this.ideas = ideas;
    this.scope = new Scope();
  }

  connect() {
    for (const button of /** @type {NodeListOf<HTMLElement>} */ (this.form.querySelectorAll("[data-shown-frame]"))) {
      button.hidden = !this.player;
      this.scope.listen(button, "click", () => this.setShown(button.dataset.shownFrame ?? ""));
    }
    const root = this.field("root_node");
    if (root) this.scope.listen(root, "change", () => this.rootChosen(root.value));
  }

  disconnect() {
    this.scope.release();
  }

  /** @param {string} name @returns {HTMLInputElement | HTMLSelectElement | null} */
  field(name) {
    return /** @type {any} */ (this.form.elements.namedItem(name));
  }

  /** @param {{root: string, kind: string, mechanism: string}} path */
  take({ root, kind, mechanism }) {
    this.put({ root_node: root, root_kind: kind, taken_root: root, ...(mechanism ? { mechanism_node: mechanism } : {}) });
    this.rootChosen(root);
    this.answer.onchange();
  }

  /** @param {Record<string, string>} values */
  put(values) {
    for (const [name, value] of Object.entries(values)) {
      const field = this.field(name);
      if (field) field.value = value;
    }
  }

  /** An idea brings its better one along; what the coach wrote stays. @param {string} root */
  rootChosen(root) {
    const idea = this.ideas[root];
    const box = maybePart(this.form, "idea");
    if (!idea || !box) return;
    box.open = true;
    this.put({ root_kind: "idea" });
    this.answer.fillEmpty({ ...idea });
  }

  /** @param {string} id */
  setShown(id) {
    const { player } = this;
    const select = /** @type {HTMLSelectElement | null} */ (document.getElementById(id));
    if (!player?.swing || !select) return;
    const value = `${player.swing.id}@${Math.round(player.us)}`;
    if (!Array.from(select.options).some((option) => option.value === value)) {
      select.append(html("option", { value }, [say("the shown frame, {seconds} s", { seconds: decimal(player.us / 1e6, 2) })]));
    }
    select.value = value;
    this.answer.onchange();
  }
}
