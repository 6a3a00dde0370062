// A button beside each <input data-copy> that copies its value; without script the field itself can be marked and copied.
//   {% module "js/behaviours/copy_link.js" %}

import { say } from "../core/wording.js";

/** @type {NodeListOf<HTMLInputElement>} */
const fields = document.querySelectorAll("input[data-copy]");
for (const field of fields) {
  if (!navigator.clipboard) break;
  const button = document.createElement("button");
  button.type = "button";
  button.className = "quiet small";
  button.textContent = say("Copy");
  button.setAttribute("aria-label", say("Copy: {what}", { what: field.getAttribute("aria-label") ?? "" }));
  button.addEventListener("click", async () => {
    try {
      await navigator.clipboard.writeText(field.value);
      button.textContent = say("Copied");
    } catch {
      field.focus();
      field.select();
    }
  });
  field.after(button);
}
