import { Desk } from "../behaviours/desk.js";

const root = /** @type {HTMLElement | null} */ (document.querySelector("[data-desk]"));
if (root) new Desk(root).connect();
