import { newUuid } from "../core/ids.js";
import { isBlocked, judge, reportOf } from "../core/phonecheck.js";
import { alreadyQueued, newItem, sizeWords } from "../core/uploadqueue.js";
import { say } from "../core/wording.js";
import { probe } from "./clip_probe.js";
import { button, html, part } from "./dom.js";
import { Scope } from "./scope.js";

/** @typedef {import("./upload_store.js").UploadStore} UploadStore */
/** @typedef {import("../core/phonecheck.js").Finding} Finding */

const VIEWS = /** @type {const} */ ([["face_on", say("face-on")], ["dtl", say("down-the-line")]]);

/**
 * Turns the plain upload form into a choice of several clips, each looked at before it is sent.
 *
 *   <section data-uploads data-most="6"> <form data-part="picker"> … </form> <ul data-part="chosen"></ul> </section>
 */
export class UploadPicker {
  /** @param {HTMLElement} root @param {UploadStore} store @param {{onKept: (isKept: boolean) => void, act?: string}} options */
  constructor(root, store, options) {
    this.root = root;
    this.store = store;
    this.options = options;
    this.scope = new Scope();
    /** @type {HTMLFormElement} */
    this.form = part(root, "picker");
    this.input = /** @type {HTMLInputElement} */ (this.form.querySelector('input[type="file"]'));
    this.chosen = part(root, "chosen");
  }

  connect() {
    part(this.root, "plain-view").hidden = true;
    part(this.root, "plain-send").hidden = true;
    part(this.root, "file-label").textContent = say("Choose clips");
    this.input.multiple = true;
    this.input.required = false;
    this.scope.listen(this.input, "change", () => void this.choose());
    this.scope.listen(this.form, "submit", (event) => event.preventDefault());
    // On a slow line a clip may have been chosen before this script came.
    void this.choose();
  }

  disconnect() {
    this.scope.release();
  }

  async choose() {
    const files = Array.from(this.input.files ?? []);
    this.input.value = "";
    for (const file of files) await this.offer(file);
  }

  /** @param {File} file */
  async offer(file) {
    const refusal = await this.refusal(file);
    const card = new Card(file, refusal, (view, report) => this.queue(file, view, report), this.options.act);
    this.chosen.append(card.element);
    if (!refusal) await card.look();
  }

  /** @param {File} file @returns {Promise<string>} */
  async refusal(file) {
    const submission = this.root.dataset.submission ?? "";
    const items = (await this.store.items()).filter((item) => item.submission === submission);
    if (alreadyQueued(items, file, submission)) return say("This clip is already on its way, or has arrived.");
    const here = document.querySelectorAll("[data-clip]").length + this.chosen.querySelectorAll("[data-open]").length;
    if (here + items.filter((item) => item.state !== "done").length >= Number(this.root.dataset.most)) return say("A submission has room for six clips. Send this one in the next.");
    return "";
  }

  /** @param {File} file @param {string} view @param {object} report */
  async queue(file, view, report) {
    const { submission = "", user = "" } = this.root.dataset;
    const about = { id: newUuid(), user, submission, view, name: file.name, size: file.size, type: file.type, report };
    this.options.onKept(await this.store.add(newItem(about, Date.now()), file));
  }
}

/** One chosen clip: picture, what was found, from where it was filmed, and the two buttons. */
class Card {
  /** @param {File} file @param {string} refusal @param {(view: string, report: object) => Promise<void>} send @param {string} [act] */
  constructor(file, refusal, send, act = say("Upload")) {
    this.file = file;
    this.send = send;
    this.name = `view-${newUuid()}`;
    this.picture = html("canvas", { "aria-hidden": "true" });
    this.checks = html("ul", { class: "checks", "aria-live": "polite" });
    this.upload = button("", { disabled: "" }, [act]);
    this.drop = button("quiet", { "aria-label": say("Leave out {name}", { name: file.name }) }, [say("Leave it out")]);
    this.views = this.viewChoice();
    this.element = this.build();
    /** @type {object} */
    this.report = {};
    this.isFine = false;
    this.drop.addEventListener("click", () => this.element.remove());
    this.upload.addEventListener("click", () => void this.go());
    if (refusal) this.refuse([{ code: "refused", level: "block", sentence: refusal }]);
    else this.say([{ code: "looking", level: "unknown", sentence: say("Looking at it …") }]);
  }

  build() {
    const head = html("div", { class: "chosen-head" }, [
      this.picture,
      html("div", {}, [html("p", { class: "file-name" }, [this.file.name]), html("p", { class: "soft" }, [sizeWords(this.file.size)]), this.checks]),
    ]);
    return html("li", { "data-open": "" }, [head, this.views, html("div", { class: "actions" }, [this.upload, this.drop])]);
  }

  viewChoice() {
    const choices = VIEWS.map(([value, words]) => {
      const input = html("input", { type: "radio", name: this.name, value });
      input.addEventListener("change", () => this.refresh());
      return html("li", {}, [html("label", {}, [input, ` ${words}`])]);
    });
    return html("fieldset", { class: "field" }, [html("legend", {}, [say("Filmed from where? Choose one to go on.")]), html("ul", { class: "choices" }, choices)]);
  }

  async look() {
    const facts = await probe(this.file, this.picture);
    const findings = judge(facts);
    if (isBlocked(findings)) return this.refuse(findings.filter(({ level }) => level === "block"));
    this.report = reportOf(facts, findings);
    this.isFine = true;
    this.say(findings);
    this.refresh();
  }

  /** @param {Finding[]} findings */
  refuse(findings) {
    this.say(findings);
    this.views.hidden = true;
    this.upload.hidden = true;
    this.element.removeAttribute("data-open");
  }

  /** @param {Finding[]} findings */
  say(findings) {
    const words = { ok: say("Fine:"), warn: say("Advice:"), block: say("Can't be sent:"), unknown: say("Not checked yet:") };
    this.checks.replaceChildren(
      ...findings.map(({ level, sentence }) =>
        html("li", { class: level }, [html("span", { class: "visually-hidden" }, [`${words[level]} `]), sentence]),
      ),
    );
  }

  view() {
    return this.views.querySelector("input:checked")?.value ?? "";
  }

  refresh() {
    this.upload.disabled = !this.isFine || this.view() === "";
  }

  async go() {
    if (this.upload.disabled) return;
    this.upload.disabled = true;
    await this.send(this.view(), this.report);
    this.element.remove();
  }
}
