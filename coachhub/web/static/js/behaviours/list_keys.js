// Moves through a list by keys while the list has the focus, and opens an item.
//   <ol data-list-keys tabindex="-1"><li data-item> ... <a data-open> <details data-more> ... </li></ol>
//   <section data-keys-help hidden> <input type="checkbox" data-keys-switch checked> </section>
import { target } from "../core/listmoves.js";
import { Scope } from "./scope.js";

const STORE = "queue-keys";
const TYPING = "input, select, textarea, summary, details[open] *";

export class ListKeys {
  /** @param {HTMLElement} list @param {HTMLElement} help */
  constructor(list, help) {
    this.list = list;
    this.help = help;
    this.scope = new Scope();
    this.items = /** @type {HTMLElement[]} */ (Array.from(list.querySelectorAll("[data-item]")));
    this.at = -1;
    this.toggle = /** @type {HTMLInputElement} */ (help.querySelector("[data-keys-switch]"));
  }

  connect() {
    this.help.hidden = false;
    this.toggle.checked = remembered();
    this.scope.listen(this.toggle, "change", () => this.switched());
    this.scope.listen(this.list, "keydown", (event) => this.pressed(event));
    this.scope.listen(this.list, "focusin", (event) => this.followed(event));
    this.switched();
  }

  disconnect() {
    this.scope.release();
    this.help.hidden = true;
    for (const item of this.items) item.removeAttribute("tabindex");
  }

  switched() {
    remember(this.toggle.checked);
    this.items.forEach((item, index) => {
      if (this.toggle.checked) item.tabIndex = index === Math.max(this.at, 0) ? 0 : -1;
      else item.removeAttribute("tabindex");
    });
  }

  /** @param {FocusEvent} event */
  followed(event) {
    const found = this.items.findIndex((item) => item.contains(/** @type {Node} */ (event.target)));
    if (found < 0 || found === this.at) return;
    this.at = found;
    this.switched();
  }

  /** @param {KeyboardEvent} event */
  pressed(event) {
    const focus = /** @type {HTMLElement} */ (event.target);
    if (!this.toggle.checked || event.ctrlKey || event.altKey || event.metaKey || focus.matches(TYPING)) return;
    const to = target(event.key, this.at, this.items.length);
    if (to !== null) this.goTo(to);
    else if (event.key === "Enter" && focus.matches("[data-item]")) this.open();
    else if (event.key.toLowerCase() === "l") this.more();
    else return;
    event.preventDefault();
  }

  /** @param {number} index */
  goTo(index) {
    this.at = index;
    this.switched();
    this.items[index].focus();
    this.items[index].scrollIntoView({ block: "nearest" });
  }

  open() {
    /** @type {HTMLElement | null} */ (this.items[this.at]?.querySelector("[data-open]"))?.click();
  }

  more() {
    const details = /** @type {HTMLDetailsElement | null} */ (this.items[this.at]?.querySelector("[data-more]"));
    if (!details) return;
    details.open = true;
    /** @type {HTMLElement | null} */ (details.querySelector("select, button"))?.focus();
  }
}

/** Storage may be switched off in the browser; the keys are on then. */
function remembered() {
  try {
    return localStorage.getItem(STORE) !== "off";
  } catch {
    return true;
  }
}

/** @param {boolean} on */
function remember(on) {
  try {
    localStorage.setItem(STORE, on ? "on" : "off");
  } catch {
    // Not remembered; it still holds for this page.
  }
}
