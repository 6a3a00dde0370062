import { toMicros } from "./timecode.js";

/** @typedef {{name: string, label: string, t_us: number, se_us: number, corrected?: boolean}} SwingEvent */
/** @typedef {{start_us: number, end_us: number}} Span */

export const RATES = [1, 0.5, 0.25, 0.125];

/**
 * The stretch of a clip that the scrub bar covers: all of it for its only swing, else the swing with some room.
 * @param {Span} swing @param {number} swingsInClip @param {number} clipEndUs @returns {Span}
 */
export function stretch(swing, swingsInClip, clipEndUs) {
  if (swingsInClip <= 1) return { start_us: 0, end_us: clipEndUs };
  const room = toMicros(0.25);
  return { start_us: Math.max(0, swing.start_us - room), end_us: Math.min(clipEndUs, swing.end_us + room) };
}

/** Where a time stands on the bar, 0..1. @param {number} us @param {Span} span @returns {number} */
export function shareOf(us, span) {
  const length = span.end_us - span.start_us;
  return length > 0 ? Math.min(1, Math.max(0, (us - span.start_us) / length)) : 0;
}

/** The time under a place on the bar. @param {number} share 0..1 @param {Span} span @returns {number} */
export function timeAt(share, span) {
  return span.start_us + Math.min(1, Math.max(0, share)) * (span.end_us - span.start_us);
}

/**
 * The event that a pointer on the bar means: the nearest within reach, or null.
 * @param {SwingEvent[]} events @param {number} us @param {number} reachUs @returns {SwingEvent | null}
 */
export function grasped(events, us, reachUs) {
  const near = events.filter((event) => Math.abs(event.t_us - us) <= reachUs);
  return near.sort((a, b) => Math.abs(a.t_us - us) - Math.abs(b.t_us - us))[0] ?? null;
}

/** @param {SwingEvent[]} events @returns {SwingEvent[]} */
export function inOrder(events) {
  return events.slice().sort((a, b) => a.t_us - b.t_us);
}

/**
 * The next event after the shown frame (direction 1) or before it (-1), by frame so that standing on one moves on.
 * @param {SwingEvent[]} events @param {number} frame @param {1 | -1} direction
 * @param {(us: number) => number} frameOf
 * @returns {SwingEvent | null}
 */
export function neighbour(events, frame, direction, frameOf) {
  const ordered = inOrder(events);
  if (direction > 0) return ordered.find((event) => frameOf(event.t_us) > frame) ?? null;
  return ordered.reverse().find((event) => frameOf(event.t_us) < frame) ?? null;
}

/**
 * The times at which a replay halts between two positions: the earliest not yet passed, or null.
 * @param {number[]} stopsUs @param {number} fromUs @param {number} toUs @returns {number | null}
 */
export function nextStop(stopsUs, fromUs, toUs) {
  const between = stopsUs.filter((us) => us > fromUs && us <= toUs);
  return between.length ? Math.min(...between) : null;
}

/** One step slower or faster. @param {number} rate @param {1 | -1} direction 1 = faster @returns {number} */
export function otherRate(rate, direction) {
  const at = RATES.indexOf(rate);
  return RATES[Math.min(RATES.length - 1, Math.max(0, (at < 0 ? 0 : at) - direction))];
}
