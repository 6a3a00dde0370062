// One golfer over another: both stand on the same spot, as tall as each other. Everything in pixels of either picture.

/** @typedef {{joints: Record<string, ([number, number, number] | null)[]>, t_us: number[]}} Tracks */
/** @typedef {{width: number, height: number}} Size */
/** @typedef {{x: number, y: number, tall: number}} Stance  middle of the feet, and from there to the shoulders */
/** @typedef {{scale: number, dx: number, dy: number, flip: boolean, byFeet: boolean}} Fit  first = scale * second + (dx, dy) */

const SEEN = 0.5;
const FEET = ["left_ankle", "right_ankle", "left_heel", "right_heel"];
const SHOULDERS = ["left_shoulder", "right_shoulder"];
// Frames around the wanted one; a single one may miss a joint.
const AROUND = 3;

/**
 * Where a golfer stands at a time, or null where the feet or the shoulders are not seen.
 * @param {Tracks | null} tracks @param {number} us @param {Size} size @returns {Stance | null}
 */
export function stanceAt(tracks, us, size) {
  if (!tracks || tracks.t_us.length === 0) return null;
  const at = nearestRow(tracks.t_us, us);
  const feet = middle(tracks, FEET, at, size);
  const top = middle(tracks, SHOULDERS, at, size);
  if (!feet || !top) return null;
  const tall = Math.hypot(feet[0] - top[0], feet[1] - top[1]);
  return tall > 0 ? { x: feet[0], y: feet[1], tall } : null;
}

/**
 * How the second picture lies over the first. Without both stances it fills the first picture's height.
 * @param {Stance | null} first @param {Size} firstSize @param {Stance | null} second @param {Size} secondSize @param {boolean} flip
 * @returns {Fit}
 */
export function fitOver(first, firstSize, second, secondSize, flip) {
  if (!first || !second) {
    const scale = firstSize.height / secondSize.height;
    return { scale, dx: (firstSize.width - secondSize.width * scale) / 2, dy: 0, flip, byFeet: false };
  }
  const scale = first.tall / second.tall;
  const x = flip ? secondSize.width - second.x : second.x;
  return { scale, dx: first.x - scale * x, dy: first.y - scale * second.y, flip, byFeet: true };
}

/** @param {number[]} times @param {number} us */
function nearestRow(times, us) {
  let best = 0;
  for (let i = 1; i < times.length; i += 1) if (Math.abs(times[i] - us) < Math.abs(times[best] - us)) best = i;
  return best;
}

/** @param {Tracks} tracks @param {string[]} names @param {number} at @param {Size} size @returns {[number, number] | null} */
function middle(tracks, names, at, size) {
  const points = [];
  for (const name of names) {
    for (let row = at - AROUND; row <= at + AROUND; row += 1) {
      const point = tracks.joints[name]?.[row];
      if (point && point[2] >= SEEN) points.push(point);
    }
  }
  if (points.length === 0) return null;
  const sum = points.reduce(([x, y], point) => [x + point[0], y + point[1]], [0, 0]);
  return [(sum[0] / points.length) * size.width, (sum[1] / points.length) * size.height];
}
