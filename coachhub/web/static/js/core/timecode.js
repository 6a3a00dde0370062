// Media time is counted in integer microseconds; people read seconds.

import { decimal, say } from "./wording.js";

const US_PER_S = 1_000_000;

/** @param {number} seconds @returns {number} */
export function toMicros(seconds) {
  return Math.round(seconds * US_PER_S);
}

/** @param {number} us @returns {number} */
export function toSeconds(us) {
  return us / US_PER_S;
}

/**
 * "1.234 s", with the true minus sign.
 * @param {number} us
 * @param {number} [digits]
 * @returns {string}
 */
export function inSeconds(us, digits = 3) {
  const text = Math.abs(us / US_PER_S).toFixed(digits);
  return `${us < 0 && Number(text) !== 0 ? "−" : ""}${decimal(Math.abs(us / US_PER_S), digits)} s`;
}

/**
 * "2:05" for recordings.
 * @param {number} ms
 * @returns {string}
 */
export function inMinutes(ms) {
  const seconds = Math.floor(Math.max(0, ms) / 1000);
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}

/**
 * "1.200 s to 1.500 s", or one time where both are equal.
 * @param {number} fromUs
 * @param {number} toUs
 * @returns {string}
 */
export function spanInSeconds(fromUs, toUs) {
  return fromUs === toUs ? inSeconds(fromUs) : say("{from} to {to}", { from: inSeconds(fromUs), to: inSeconds(toUs) });
}

/**
 * "×1", "×½" … as they stand on the buttons.
 * @param {number} rate
 * @returns {string}
 */
export function rateLabel(rate) {
  const fractions = new Map([[0.5, "½"], [0.25, "¼"], [0.125, "⅛"]]);
  return `×${fractions.get(rate) ?? rate}`;
}

/**
 * The same in words, for those who listen.
 * @param {number} rate
 * @returns {string}
 */
export function rateWords(rate) {
  const words = new Map([[1, say("full speed")], [0.5, say("half speed")], [0.25, say("a quarter of the speed")], [0.125, say("an eighth of the speed")]]);
  return words.get(rate) ?? say("{rate} times the speed", { rate });
}
