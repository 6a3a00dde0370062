// The filming guide, with and without signal: {% module "js/pages/film.js" %}.
import { FilmChecklist } from "../behaviours/film_checklist.js";
import { KeptClips } from "../behaviours/kept_clips.js";
import { personHere } from "../behaviours/phone_person.js";
import { UploadPicker } from "../behaviours/upload_picker.js";
import { UploadStore } from "../behaviours/upload_store.js";
import { say } from "../core/wording.js";

const list = /** @type {HTMLElement | null} */ (document.querySelector("[data-checklist]"));
if (list) new FilmChecklist(list).connect();

const keeping = /** @type {HTMLElement | null} */ (document.querySelector("[data-keeping]"));
const user = personHere();
if (keeping && user) void startKeeping(keeping, user);

/** @param {HTMLElement} root @param {string} user */
async function startKeeping(root, user) {
  const store = await new UploadStore().open();
  root.hidden = false;
  root.dataset.user = user;
  const note = /** @type {HTMLElement | null} */ (document.querySelector("[data-nobody]"));
  if (note) note.hidden = true;
  new UploadPicker(root, store, { onKept: () => {}, act: say("Keep on this phone") }).connect();
  const kept = /** @type {HTMLElement | null} */ (document.querySelector("[data-kept]"));
  if (kept) new KeptClips(kept, store, user).connect();
}
