// A coach's hello on the camp's plan: {% module "js/pages/hello.js" %} in templates/organiser/plan.html.
import { HelloRecorder } from "../behaviours/hello_recorder.js";

const LOOK_AGAIN_MS = 4000;

for (const form of /** @type {NodeListOf<HTMLFormElement>} */ (document.querySelectorAll("form[data-hello]"))) {
  new HelloRecorder(form).connect();
}

// Being made ready takes seconds; nobody who writes or records is disturbed.
if (document.querySelector("[data-look-again]")) setTimeout(lookAgain, LOOK_AGAIN_MS);

function lookAgain() {
  const isBusy = document.activeElement?.matches("input, textarea, select") || document.querySelector("[data-hello].is-busy");
  if (isBusy) setTimeout(lookAgain, LOOK_AGAIN_MS);
  else location.reload();
}
