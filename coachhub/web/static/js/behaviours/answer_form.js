import { say } from "../core/wording.js";
import { html, jsonOf, maybePart, part } from "./dom.js";
import { Scope } from "./scope.js";

/**
 * The coach's written answer: says when something changed, fills in cue and dose of a chosen drill, and goes to the
 * last look only when everything is saved.
 */
export class AnswerForm {
  /** @param {HTMLFormElement} form */
  constructor(form) {
    this.form = form;
    this.scope = new Scope();
    this.onchange = () => {};
    /** @type {() => Promise<boolean>} */
    this.flush = async () => true;
    this.drills = {};
  }

  connect() {
    this.scope.listen(this.form, "input", () => this.onchange());
    this.scope.listen(this.form, "submit", (event) => this.submit(event));
    this.scope.listen(this.form, "change", (event) => {
      if (event.target.name === "drill") this.drillChosen(event.target.value, true);
    });
    this.readDrills();
  }

  readDrills() {
    this.drills = document.getElementById("drill-facts") ? jsonOf("drill-facts") : {};
    const drill = /** @type {HTMLSelectElement | null} */ (this.form.querySelector("select[name=drill]"));
    if (drill) this.drillChosen(drill.value, false);
  }

  /** The root changed what may be offered. @param {string} text */
  showDrills(text) {
    const old = part(this.form, "drills");
    if (old.contains(document.activeElement)) return;
    const holder = document.createElement("template");
    holder.innerHTML = text.trim();
    old.replaceWith(holder.content);
    this.readDrills();
  }

  /** @param {string} id @param {boolean} fill */
  drillChosen(id, fill) {
    const facts = this.drills[id];
    const box = maybePart(this.form, "drill-facts");
    if (!box) return;
    box.hidden = !facts;
    if (!facts) return;
    const lines = [facts.how, facts.stop && say("Stop: {when}", { when: facts.stop }), facts.caution && say("Mind: {caution}", { caution: facts.caution })].filter(Boolean);
    box.replaceChildren(...lines.map((line) => html("p", {}, [line])));
    if (fill) this.fillEmpty({ cue: facts.cue, dose: facts.dose });
  }

  /** @param {Record<string, string>} values */
  fillEmpty(values) {
    for (const [name, value] of Object.entries(values)) {
      const field = /** @type {HTMLInputElement | null} */ (this.form.elements.namedItem(name));
      if (field && (!field.value || field.dataset.filled === field.value)) {
        field.value = value;
        field.dataset.filled = value;
      }
    }
    this.onchange();
  }

  /** @returns {Record<string, string>} */
  values() {
    const skipped = ["csrfmiddlewaretoken", "revision"];
    return Object.fromEntries([...new FormData(this.form)].filter(([name]) => !skipped.includes(name)).map(([name, value]) => [name, String(value)]));
  }

  /** @param {Record<string, string>} values */
  setValues(values) {
    for (const [name, value] of Object.entries(values)) {
      const field = /** @type {HTMLInputElement | null} */ (this.form.elements.namedItem(name));
      if (field) field.value = value;
    }
  }

  /** @param {number} revision */
  setRevision(revision) {
    /** @type {HTMLInputElement} */ (this.form.elements.namedItem("revision")).value = String(revision);
  }

  /** @param {SubmitEvent} event */
  async submit(event) {
    event.preventDefault();
    const button = /** @type {HTMLButtonElement} */ (event.submitter);
    this.onchange();
    if (!(await this.flush()) || button.value !== "check") return;
    const go = html("input", { type: "hidden", name: "do", value: "check" });
    this.form.append(go);
    this.form.submit();
  }

  /** @param {string} text @param {string} kind */
  say(text, kind) {
    const line = part(this.form, "saved");
    line.textContent = text;
    line.dataset.kind = kind;
  }

  disconnect() {
    this.scope.release();
  }
}
