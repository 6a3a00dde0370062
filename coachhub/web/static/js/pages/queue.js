// The coach's queue: {% module "js/pages/queue.js" %} in templates/coach/queue.html.
import { ListKeys } from "../behaviours/list_keys.js";

const list = /** @type {HTMLElement | null} */ (document.querySelector("[data-list-keys]"));
const help = /** @type {HTMLElement | null} */ (document.querySelector("[data-keys-help]"));
if (list && help) new ListKeys(list, help).connect();
