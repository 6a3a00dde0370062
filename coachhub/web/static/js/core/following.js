// Drawings that go with a joint or with the shaft: their points are those of one frame, and move as that thing moves.

import { jointWords } from "./jointwords.js";
import { say } from "./wording.js";

/** @typedef {import("./geometry.js").Point} Point */
/** @typedef {import("./strokes.js").Mark} Mark */
/** @typedef {{joints: Record<string, (number[] | null)[]>, shaft: (number[] | null)[], t_us: number[]}} Tracks */
/** @typedef {{at: Point, along: Point | null}} Anchor  a place, and for the shaft the way it points, in shares of the picture */

export const SHAFT = "shaft";
const SIDED = ["shoulder", "elbow", "wrist", "hip", "knee", "ankle"];
const SEEN = 0.4;

/**
 * The mark as it lies at a time; null where what it follows is not seen then.
 * @param {Mark} mark @param {Tracks | null} tracks @param {number} us @param {number} withinUs @param {number} aspect
 * @returns {Mark | null}
 */
export function followed(mark, tracks, us, withinUs, aspect) {
  if (!mark.follows || !tracks) return mark;
  const from = anchorAt(mark.follows, tracks, mark.anchor_us ?? mark.from_us, withinUs);
  const to = anchorAt(mark.follows, tracks, us, withinUs);
  if (!from || !to) return null;
  const points = mark.points.map((p) => carried(p, from, to, aspect));
  return { ...mark, points };
}

/**
 * What a drawing can go with, as a choice: value and words. Without tracks there is nothing to go with.
 * @param {string} hand @param {Tracks | null} tracks @returns {[string, string][]}
 */
export function thingsToFollow(hand, tracks) {
  const stays = /** @type {[string, string]} */ (["", say("stays in its place")]);
  if (!tracks) return [stays];
  const sides = hand === "left" ? { lead: "right", trail: "left" } : { lead: "left", trail: "right" };
  const joints = Object.entries(sides).flatMap(([side, own]) =>
    SIDED.map((joint) => /** @type {[string, string]} */ ([`${own}_${joint}`, say("goes with the {joint}", { joint: jointWords(side, joint) })])));
  const all = [stays, /** @type {[string, string]} */ ([SHAFT, say("goes with the shaft")]), /** @type {[string, string]} */ (["nose", say("goes with the head")]), ...joints];
  return all.filter(([value]) => value === "" || (value === SHAFT ? tracks.shaft?.some(Boolean) : value in tracks.joints));
}

/**
 * @param {string} what  a joint's name, or "shaft" @param {Tracks} tracks @param {number} us @param {number} withinUs
 * @returns {Anchor | null}
 */
export function anchorAt(what, tracks, us, withinUs) {
  const row = nearest(tracks.t_us, us);
  if (row < 0 || Math.abs(tracks.t_us[row] - us) > withinUs) return null;
  if (what === SHAFT) {
    const ends = tracks.shaft?.[row];
    return ends ? { at: [ends[0], ends[1]], along: [ends[2] - ends[0], ends[3] - ends[1]] } : null;
  }
  const point = tracks.joints[what]?.[row];
  return point && point[2] >= SEEN ? { at: [point[0], point[1]], along: null } : null;
}

/**
 * Moved as the anchor moved; for the shaft also turned as it turned. Never stretched: a foreshortened shaft is no zoom.
 * @param {Point} p @param {Anchor} from @param {Anchor} to @param {number} aspect @returns {Point}
 */
function carried(p, from, to, aspect) {
  const [dx, dy] = [p[0] - from.at[0], (p[1] - from.at[1]) / aspect];
  const turn = from.along && to.along ? angle(to.along, aspect) - angle(from.along, aspect) : 0;
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
  return [to.at[0] + dx * cos - dy * sin, to.at[1] + (dx * sin + dy * cos) * aspect];
}

/** @param {Point} way @param {number} aspect */
function angle([x, y], aspect) {
  return Math.atan2(y / aspect, x);
}

/** @param {number[]} times @param {number} us */
export function nearest(times, us) {
  let low = 0;
  let high = times.length - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (times[middle] < us) low = middle + 1;
    else high = middle;
  }
  return low > 0 && us - times[low - 1] < times[low] - us ? low - 1 : low;
}
