import { paceAt, toSecond } from "./timemap.js";

/** @typedef {import("./timemap.js").TimeMap} TimeMap */
/** @typedef {"events" | "offset" | "alone"} Lock */
/** @typedef {{lock: Lock, map: TimeMap | null, offsetUs: number}} Pairing */

/** How two swings start out: by their events where enough are shared, else by hand. @param {TimeMap | null} map @returns {Pairing} */
export function paired(map) {
  return { lock: map ? "events" : "offset", map, offsetUs: 0 };
}

/** @param {Pairing} pairing @param {Lock} lock @returns {Pairing} */
export function locked(pairing, lock) {
  if (lock === "events" && !pairing.map) throw new RangeError("lock can't be \"events\": fewer than two events are shared");
  return { ...pairing, lock };
}

/** From now on they keep the distance they have. @param {Pairing} pairing @param {number} firstUs @param {number} secondUs @returns {Pairing} */
export function lockedAsTheyStand(pairing, firstUs, secondUs) {
  return { ...pairing, lock: "offset", offsetUs: Math.round(secondUs - firstUs) };
}

/**
 * Where the second swing is when the first is at `us`; null: they go each alone.
 * @param {Pairing} pairing @param {number} us @returns {number | null}
 */
export function besideUs({ lock, map, offsetUs }, us) {
  if (lock === "events" && map) return toSecond(map, us);
  return lock === "offset" ? us + offsetUs : null;
}

/** @param {Pairing} pairing @param {number} us  how many times faster the second one runs there */
export function besidePace({ lock, map }, us) {
  return lock === "events" && map ? paceAt(map, us) : 1;
}

/**
 * Whether the second clip has a picture of that time, or stands at one of its ends.
 * @param {number} us @param {number} endUs @returns {"" | "before" | "after"}
 */
export function outside(us, endUs) {
  if (us < 0) return "before";
  return us >= endUs ? "after" : "";
}
