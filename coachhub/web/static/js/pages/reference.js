// One reference of the library: {% module "js/pages/reference.js" %} in templates/coach/library/one.html.
import { FilmSender } from "../behaviours/film_sender.js";

const LOOK_AGAIN_MS = 4000;

const film = /** @type {HTMLElement | null} */ (document.querySelector("[data-film]"));
if (film) new FilmSender(film).connect();

// Being made ready takes seconds; nobody is in the middle of writing while there is no film to write about.
if (document.querySelector("[data-look-again]") && !film) {
  setTimeout(() => { if (!document.activeElement?.matches("input, textarea, select")) location.reload(); }, LOOK_AGAIN_MS);
}
