// The rules of the upload queue, without browser or network: what moves next, when to try again, what to say.

import { decimal, say } from "./wording.js";

/**
 * @typedef {"waiting" | "moving" | "paused" | "failed" | "done"} QueueState
 * @typedef {object} QueueItem
 * @property {string} id
 * @property {string} user         whose phone page it was: another person on the same phone never sends it
 * @property {string} submission   empty: kept without signal, until somebody says where it belongs
 * @property {string} view
 * @property {string} name
 * @property {number} size         bytes
 * @property {string} type
 * @property {object} report       what the phone found before sending
 * @property {number} addedAt      ms
 * @property {string} uploadUrl    empty until the server has made one
 * @property {number} sent         bytes
 * @property {QueueState} state
 * @property {number} tries        failures in a row
 * @property {number} nextAt       ms; not before
 * @property {string} problem      a sentence, empty when all is well
 * @property {string} leaseBy      the tab that moves it
 * @property {number} leaseUntil   ms
 */

export const CHUNK_BYTES = 512 * 1024;
export const LEASE_MS = 20_000;
const FIRST_WAIT_MS = 1_000;
const LONGEST_WAIT_MS = 60_000;

/**
 * @param {Pick<QueueItem, "id" | "user" | "submission" | "view" | "name" | "size" | "type" | "report">} about
 * @param {number} now
 * @returns {QueueItem}
 */
export function newItem(about, now) {
  if (!(about.size > 0)) throw new RangeError(`size must be above 0 bytes, not ${about.size}`);
  return {
    ...about, addedAt: now, uploadUrl: "", sent: 0, state: about.submission ? "waiting" : "paused", tries: 0, nextAt: 0, problem: "",
    leaseBy: "", leaseUntil: 0,
  };
}

/** @param {QueueItem} item @param {string} tab @param {number} now */
export function isFree(item, tab, now) {
  return item.leaseBy === "" || item.leaseBy === tab || item.leaseUntil <= now;
}

/**
 * The item to move now, the oldest first; null: nothing may move at the moment.
 * One that says "moving" without a living lease was left behind by a closed tab.
 * @param {QueueItem[]} items @param {{user: string, tab: string, now: number}} who
 * @returns {QueueItem | null}
 */
export function nextItem(items, { user, tab, now }) {
  const own = items.filter((item) => item.user === user);
  if (own.some((item) => item.state === "moving" && item.leaseBy !== tab && item.leaseUntil > now)) return null;
  const ready = own.filter(
    (item) => (item.state === "waiting" || item.state === "moving") && item.nextAt <= now && isFree(item, tab, now),
  );
  return ready.sort((a, b) => a.addedAt - b.addedAt || (a.id < b.id ? -1 : 1))[0] ?? null;
}

/**
 * When to look again: the earliest moment at which a waiting item may move.
 * @param {QueueItem[]} items @param {string} user @param {number} now @returns {number | null} ms from now
 */
export function nextLook(items, user, now) {
  const times = items
    .filter((item) => item.user === user && (item.state === "waiting" || item.state === "moving"))
    .map((item) => Math.max(item.nextAt, item.state === "moving" ? item.leaseUntil : 0) - now);
  return times.length ? Math.max(0, Math.min(...times)) : null;
}

/** @param {QueueItem} item @param {string} tab @param {number} now @returns {QueueItem} */
export function leased(item, tab, now) {
  return { ...item, state: "moving", leaseBy: tab, leaseUntil: now + LEASE_MS };
}

/** @param {QueueItem} item @param {number} sent @param {number} now @returns {QueueItem} */
export function advanced(item, sent, now) {
  const tries = sent > item.sent ? 0 : item.tries;
  return { ...item, sent, tries, problem: "", leaseUntil: now + LEASE_MS };
}

/**
 * Full-jittered growing wait: many phones that lost the same network don't come back in one moment.
 * @param {number} tries  failures in a row, from 1
 * @param {number} random  0..1
 */
export function waitMs(tries, random) {
  const ceiling = Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** Math.min(tries, 16));
  return Math.round(ceiling * (0.5 + random / 2));
}

/**
 * What a failed request means. Status 0: no answer came.
 * @param {number} status @param {string} [said]  the server's own sentence
 * @returns {{action: "again" | "anew" | "stop", problem: string}}
 */
export function meaningOf(status, said = "") {
  if (status === 0) return { action: "again", problem: say("No connection. It goes on by itself.") };
  // A page instead of the protocol's answer: the request was sent on to the sign-in page.
  if (status === 401 || (status >= 200 && status < 400)) {
    return { action: "again", problem: say("You were signed out. Sign in again; it then goes on by itself.") };
  }
  if (status === 404 || status === 410) {
    return { action: "anew", problem: say("The half-sent file had run out; it starts anew.") };
  }
  if (status === 409 || status === 423 || status === 460) {
    return { action: "again", problem: say("A piece did not arrive whole; it is sent again.") };
  }
  if (status === 507) {
    return { action: "again", problem: say("The site has no room at the moment. It is tried again; nothing is lost.") };
  }
  if (status === 429 || status >= 500) return { action: "again", problem: say("The site is busy. It goes on by itself.") };
  return { action: "stop", problem: sentenceOf(said) || say("The site refused this file ({status}).", { status }) };
}

/**
 * The server says its reason as JSON with a sentence; a short plain text will do as well, a page of HTML will not.
 * @param {string} said
 */
function sentenceOf(said) {
  const text = said.trim();
  if (text.startsWith("{")) return sentenceIn(text);
  return text.length > 0 && text.length <= 400 && !text.startsWith("<") ? text : "";
}

/** @param {string} json */
function sentenceIn(json) {
  try {
    return String(JSON.parse(json).sentence ?? "");
  } catch {
    return "";
  }
}

/**
 * @param {QueueItem} item @param {number} status @param {string} said @param {number} now @param {number} random
 * @returns {QueueItem}
 */
export function failed(item, status, said, now, random) {
  const { action, problem } = meaningOf(status, said);
  const freed = { ...item, problem, leaseBy: "", leaseUntil: 0, tries: item.tries + 1 };
  if (action === "stop") return { ...freed, state: "failed" };
  const anew = action === "anew" ? { uploadUrl: "", sent: 0 } : {};
  // A fresh upload that is gone again and again has another reason than time.
  if (action === "anew" && item.uploadUrl === "") {
    return { ...freed, state: "failed", problem: say("The site does not take clips for this any more. Load the page again.") };
  }
  return { ...freed, ...anew, state: "waiting", nextAt: now + waitMs(freed.tries, random) };
}

/** @param {QueueItem} item @returns {QueueItem} */
export function paused(item) {
  return { ...item, state: "paused", leaseBy: "", leaseUntil: 0, problem: "" };
}

/** Going on by hand, or because the network came back, waits for nothing. @param {QueueItem} item @returns {QueueItem} */
export function resumed(item) {
  return { ...item, state: "waiting", nextAt: 0, tries: 0, problem: "" };
}

/** @param {QueueItem} item @returns {QueueItem} */
export function finished(item) {
  return { ...item, state: "done", sent: item.size, problem: "", leaseBy: "", leaseUntil: 0 };
}

/** @param {QueueItem[]} items @param {{name: string, size: number}} file @param {string} submission */
export function alreadyQueued(items, file, submission) {
  return items.some(
    (item) =>
      item.submission === submission && item.name === file.name && item.size === file.size && item.state !== "failed",
  );
}

/** Whether nothing of a submission is on its way any more. @param {QueueItem[]} items @param {string} submission */
export function allArrived(items, submission) {
  return items.every((item) => item.submission !== submission || item.state === "done");
}

/** Bytes a second over the last quarter of a minute; one number jumps too much to be read. */
export class Speed {
  /** @param {number} [windowMs] */
  constructor(windowMs = 15_000) {
    this.windowMs = windowMs;
    /** @type {{at: number, sent: number}[]} */
    this.samples = [];
  }

  /** @param {number} at ms @param {number} sent bytes so far */
  add(at, sent) {
    const last = this.samples.at(-1);
    if (last && sent < last.sent) this.samples = [];
    this.samples.push({ at, sent });
    while (this.samples.length > 2 && at - this.samples[0].at > this.windowMs) this.samples.shift();
  }

  /** @returns {number | null} */
  bytesPerSecond() {
    const first = this.samples[0];
    const last = this.samples.at(-1);
    if (!first || !last || last.at - first.at < 500) return null;
    return ((last.sent - first.sent) / (last.at - first.at)) * 1000;
  }
}

/** @param {QueueItem} item */
export function percentOf(item) {
  return item.size ? Math.floor((100 * Math.min(item.sent, item.size)) / item.size) : 0;
}

/** @param {number} bytes */
export function sizeWords(bytes) {
  if (bytes < 1000) return say("{bytes} bytes", { bytes });
  if (bytes < 1_000_000) return `${Math.round(bytes / 1000)} kB`;
  return `${decimal(bytes / 1_000_000, bytes < 10_000_000 ? 1 : 0)} MB`;
}

/** @param {number} seconds */
export function timeWords(seconds) {
  if (!Number.isFinite(seconds)) return "";
  if (seconds < 10) return say("a few seconds left");
  if (seconds < 90) return say("about {seconds} seconds left", { seconds: Math.round(seconds / 10) * 10 });
  const minutes = Math.round(seconds / 60);
  if (minutes < 90) return say("about {minutes} minutes left", { minutes });
  return say("about {hours} hours left", { hours: Math.round(minutes / 60) });
}

/** @param {QueueItem} item @param {number | null} bytesPerSecond */
export function movingWords(item, bytesPerSecond) {
  const share = say("{percent} % of {size}", { percent: percentOf(item), size: sizeWords(item.size) });
  if (!bytesPerSecond) return share;
  const left = timeWords((item.size - item.sent) / bytesPerSecond);
  return [share, say("{size} a second", { size: sizeWords(Math.round(bytesPerSecond)) }), left].filter(Boolean).join(", ");
}

/** @param {QueueItem} item @param {boolean} online @param {number | null} bytesPerSecond */
export function stateWords(item, online, bytesPerSecond) {
  if (item.state === "done") return say("Arrived");
  if (item.state === "failed") return item.problem;
  if (item.state === "paused") return say("Paused at {percent} %", { percent: percentOf(item) });
  if (!online) return say("No connection. {percent} % is there; it goes on by itself.", { percent: percentOf(item) });
  if (item.state === "moving" && !item.problem) return movingWords(item, bytesPerSecond);
  if (item.problem) return item.problem;
  return item.sent ? say("Waits at {percent} %", { percent: percentOf(item) }) : say("Waits for its turn");
}
