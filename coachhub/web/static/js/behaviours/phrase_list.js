import { putIn } from "../core/phrases.js";
import { Scope } from "./scope.js";

/**
 * Sentences that the coach uses often, put into the free words at the caret.
 *
 *   <details data-part="phrases" hidden> <button data-phrase="…"> … </details>
 */
export class PhraseList {
  /** @param {HTMLElement} root @param {HTMLTextAreaElement} field */
  constructor(root, field) {
    this.root = root;
    this.field = field;
    this.scope = new Scope();
  }

  connect() {
    this.root.hidden = false;
    this.scope.listen(this.root, "click", (event) => {
      const made = /** @type {HTMLElement | null} */ (/** @type {Element} */ (event.target).closest("[data-phrase]"));
      if (made) this.put(made.dataset.phrase ?? "");
    });
  }

  /** @param {string} phrase */
  put(phrase) {
    const { field } = this;
    const { text, caret } = putIn(field.value, phrase, field.selectionStart, field.selectionEnd);
    field.value = text;
    field.focus();
    field.setSelectionRange(caret, caret);
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }

  disconnect() {
    this.scope.release();
  }
}
