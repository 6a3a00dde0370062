import { choicesFor, chosen, maySend } from "../core/sendwhen.js";
import { say } from "../core/wording.js";
import { html, maybePart } from "./dom.js";

const NAME = "uploads.when";

/** When this phone sends; the choice is the phone's, as is its network. Tells `change`. */
export class SendChoice extends EventTarget {
  constructor() {
    super();
    const network = /** @type {any} */ (navigator).connection;
    this.network = network ?? null;
    this.network?.addEventListener?.("change", () => this.tell());
  }

  get type() {
    return /** @type {string | undefined} */ (this.network?.type);
  }

  get when() {
    try {
      return chosen(localStorage.getItem(NAME), this.type);
    } catch {
      return chosen(null, this.type);
    }
  }

  maySend() {
    return maySend(this.when, this.type);
  }

  /** @param {string} value */
  choose(value) {
    try {
      localStorage.setItem(NAME, value);
    } catch {
      // It then holds for no longer than the browser keeps anything.
    }
    this.tell();
  }

  tell() {
    this.dispatchEvent(new Event("change"));
  }

  /** Puts the choice into `<div data-part="when">`, where there is one. @param {HTMLElement} root */
  show(root) {
    const place = maybePart(root, "when");
    if (!place) return;
    const choices = choicesFor(this.type).map(([value, words]) => {
      const input = html("input", { type: "radio", name: "send-when", value });
      input.checked = value === this.when;
      input.addEventListener("change", () => this.choose(value));
      return html("li", {}, [html("label", {}, [input, ` ${words}`])]);
    });
    const legend = html("legend", {}, [say("When may this phone send?")]);
    place.replaceChildren(html("fieldset", { class: "field" }, [legend, html("ul", { class: "choices" }, choices)]));
    place.hidden = false;
  }
}
