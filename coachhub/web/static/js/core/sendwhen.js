// When this phone may send: at once, only with Wi-Fi, or when somebody says so. Without browser or network.

import { say } from "./wording.js";

/** @typedef {"now" | "wifi" | "later"} SendWhen */

const FREE = ["wifi", "ethernet"];

/**
 * Only some browsers tell what kind of network it is; the others get a plain "later".
 * @param {string | undefined} type  of `navigator.connection`
 * @returns {[SendWhen, string][]}
 */
export function choicesFor(type) {
  /** @type {[SendWhen, string][]} */
  const wifi = type ? [["wifi", say("only with Wi-Fi")]] : [];
  return [["now", say("as soon as there is a connection")], ...wifi, ["later", say("not now, when I say so")]];
}

/** What is kept may be old or from another browser. @param {unknown} kept @param {string | undefined} type @returns {SendWhen} */
export function chosen(kept, type) {
  if (kept === "later") return "later";
  if (kept === "wifi") return type ? "wifi" : "later";
  return "now";
}

/** @param {SendWhen} when @param {string | undefined} type */
export function maySend(when, type) {
  if (when === "later") return false;
  return when === "now" || FREE.includes(type ?? "");
}
