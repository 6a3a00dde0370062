// The student's pages: {% module "js/pages/student.js" %}. Each part works on its own where the others are missing.
import { KeptClips } from "../behaviours/kept_clips.js";
import { LivePage } from "../behaviours/live_page.js";
import { keepGuide, rememberPerson } from "../behaviours/phone_person.js";
import { SendChoice } from "../behaviours/send_choice.js";
import { UploadList } from "../behaviours/upload_list.js";
import { UploadPicker } from "../behaviours/upload_picker.js";
import { UploadRunner } from "../behaviours/upload_runner.js";
import { UploadStore } from "../behaviours/upload_store.js";
import { say } from "../core/wording.js";

for (const root of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-live]"))) {
  new LivePage(root).connect();
}

const uploads = /** @type {HTMLElement | null} */ (document.querySelector("[data-uploads]"));
if (uploads) void startUploads(uploads);

/** @param {HTMLElement} root */
async function startUploads(root) {
  const store = await new UploadStore().open();
  const { user = "", endpoint = "" } = root.dataset;
  const token = /** @type {HTMLInputElement | null} */ (root.querySelector('input[name="csrfmiddlewaretoken"]'));
  rememberPerson(user);
  void keepGuide("/guide-worker.js");
  const choice = new SendChoice();
  choice.show(root);
  const kept = /** @type {HTMLElement | null} */ (document.querySelector("[data-kept]"));
  if (kept) new KeptClips(kept, store, user).connect();
  const runner = new UploadRunner(store, { user, endpoint, csrf: token?.value ?? "", choice });
  const list = new UploadList(root, store, runner);
  if (root.querySelector('[data-part="picker"]')) {
    new UploadPicker(root, store, { onKept: (isKept) => void (list.forgotten ||= !isKept) }).connect();
  }
  document.addEventListener("upload:sent", (event) => tellBeside(root, /** @type {CustomEvent} */ (event).detail));
  list.connect();
  runner.connect();
}

/** @param {HTMLElement} root @param {{ok: boolean, sentence: string}} said */
function tellBeside(root, said) {
  const note = document.createElement("p");
  note.className = said.ok ? "notice" : "notice bad";
  note.setAttribute("role", "status");
  note.textContent = said.sentence;
  root.before(note);
}
