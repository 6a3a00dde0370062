// Which joints of a frame can be put right, and where a dragged one ends up.

import { jointWords } from "./jointwords.js";
import { say } from "./wording.js";

/** @typedef {import("./geometry.js").Point} Point */
/** @typedef {{joints: Record<string, (number[] | null)[]>, t_us: number[]}} Tracks */

const SIDED = ["shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "foot_index"];

/**
 * Joints by name and in the words of lead and trail, hands first: those go wrong most.
 * @param {string} hand @returns {[string, string][]}
 */
export function jointsOf(hand) {
  const sides = hand === "left" ? { lead: "right", trail: "left" } : { lead: "left", trail: "right" };
  const order = ["wrist", "elbow", ...SIDED.filter((joint) => joint !== "wrist" && joint !== "elbow")];
  const sided = order.flatMap((joint) => Object.entries(sides).map(([side, own]) =>
    /** @type {[string, string]} */ ([`${own}_${joint}`, jointWords(side, joint)])));
  return [...sided, ["nose", say("nose")]];
}

/**
 * Where the joints are in one row of the tracks; also uncertain ones, which are those to put right.
 * @param {Tracks} tracks @param {number} row @param {string[]} names @returns {Map<string, Point>}
 */
export function placesIn(tracks, row, names) {
  const found = /** @type {Map<string, Point>} */ (new Map());
  for (const name of names) {
    const point = tracks.joints[name]?.[row];
    if (point) found.set(name, [point[0], point[1]]);
  }
  return found;
}

/**
 * The joint under a point, or null where none is near enough.
 * @param {Map<string, Point>} places @param {Point} p @param {number} reach shares of the width @param {number} aspect
 * @returns {string | null}
 */
export function jointAt(places, p, reach, aspect) {
  let best = reach;
  /** @type {string | null} */
  let found = null;
  for (const [name, q] of places) {
    const away = Math.hypot(p[0] - q[0], (p[1] - q[1]) / aspect);
    if (away <= best) [found, best] = [name, away];
  }
  return found;
}
