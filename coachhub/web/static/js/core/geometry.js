// Points are shares of the picture: [0..1 of its width, 0..1 of its height]. Angles and lengths need the picture's
// true form, so those functions take its aspect (width / height).

/** @typedef {[number, number]} Point */

/** @param {Point} p @returns {Point} */
export function inside(p) {
  return [Math.min(1, Math.max(0, p[0])), Math.min(1, Math.max(0, p[1]))];
}

/** @param {Point} p @param {number} dx @param {number} dy @returns {Point} */
export function moved(p, dx, dy) {
  return [p[0] + dx, p[1] + dy];
}

/**
 * The largest part of a step that keeps every point in the picture, so that a shape never gets squashed at the edge.
 * @param {Point[]} points
 * @param {number} dx
 * @param {number} dy
 * @returns {Point}
 */
export function stepInside(points, dx, dy) {
  const xs = points.map((p) => p[0]);
  const ys = points.map((p) => p[1]);
  return [held(dx, -Math.min(...xs), 1 - Math.max(...xs)), held(dy, -Math.min(...ys), 1 - Math.max(...ys))];
}

/** @param {number} value @param {number} low @param {number} high */
function held(value, low, high) {
  return Math.min(Math.max(value, Math.min(0, low)), Math.max(0, high));
}

/**
 * Distance in shares of the picture's width.
 * @param {Point} a @param {Point} b @param {number} aspect @returns {number}
 */
export function distance(a, b, aspect) {
  return Math.hypot(a[0] - b[0], (a[1] - b[1]) / aspect);
}

/**
 * The angle at `vertex` between the two arms, 0..180 degrees as the eye sees it.
 * @param {Point} a @param {Point} vertex @param {Point} b @param {number} aspect @returns {number}
 */
export function angleDeg(a, vertex, b, aspect) {
  const [ax, ay] = [a[0] - vertex[0], (a[1] - vertex[1]) / aspect];
  const [bx, by] = [b[0] - vertex[0], (b[1] - vertex[1]) / aspect];
  if ((ax === 0 && ay === 0) || (bx === 0 && by === 0)) return NaN;
  return (Math.abs(Math.atan2(ax * by - ay * bx, ax * bx + ay * by)) * 180) / Math.PI;
}

/**
 * How far a line leans from the vertical, 0..90 degrees.
 * @param {Point} a @param {Point} b @param {number} aspect @returns {number}
 */
export function leanDeg(a, b, aspect) {
  return (Math.atan2(Math.abs(a[0] - b[0]), Math.abs(a[1] - b[1]) / aspect) * 180) / Math.PI;
}

/**
 * @param {Point} p @param {Point} a @param {Point} b @param {number} aspect @returns {number}
 */
export function distanceToSegment(p, a, b, aspect) {
  const [vx, vy] = [b[0] - a[0], (b[1] - a[1]) / aspect];
  const [wx, wy] = [p[0] - a[0], (p[1] - a[1]) / aspect];
  const length2 = vx * vx + vy * vy;
  const share = length2 === 0 ? 0 : Math.min(1, Math.max(0, (wx * vx + wy * vy) / length2));
  return Math.hypot(wx - share * vx, wy - share * vy);
}

/**
 * Distance to the rim of the ellipse that fills the box between two corners; sampled, good to about a pixel.
 * @param {Point} p @param {Point} a @param {Point} b @param {number} aspect @returns {number}
 */
export function distanceToEllipse(p, a, b, aspect) {
  return distanceToPath(p, ellipsePoints(a, b, 48), aspect);
}

/** @param {Point} a @param {Point} b @param {number} n @returns {Point[]} */
export function ellipsePoints(a, b, n) {
  const [cx, cy] = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
  const [rx, ry] = [Math.abs(a[0] - b[0]) / 2, Math.abs(a[1] - b[1]) / 2];
  return Array.from({ length: n + 1 }, (_, i) => {
    const turn = (2 * Math.PI * i) / n;
    return [cx + rx * Math.cos(turn), cy + ry * Math.sin(turn)];
  });
}

/** @param {Point} p @param {Point[]} path @param {number} aspect @returns {number} */
export function distanceToPath(p, path, aspect) {
  if (path.length === 1) return distance(p, path[0], aspect);
  let best = Infinity;
  for (let i = 1; i < path.length; i += 1) best = Math.min(best, distanceToSegment(p, path[i - 1], path[i], aspect));
  return best;
}

/**
 * Leave out the points of a freehand path that lie within `tolerance` of the line through their neighbours
 * (Ramer 1972, Douglas & Peucker 1973).
 * @param {Point[]} path @param {number} tolerance @param {number} aspect @returns {Point[]}
 */
export function simplified(path, tolerance, aspect) {
  if (path.length <= 2) return path.slice();
  const [first, last] = [path[0], path[path.length - 1]];
  let worst = 0;
  let split = 0;
  for (let i = 1; i < path.length - 1; i += 1) {
    const away = distanceToSegment(path[i], first, last, aspect);
    if (away > worst) [worst, split] = [away, i];
  }
  if (worst <= tolerance) return [first, last];
  const left = simplified(path.slice(0, split + 1), tolerance, aspect);
  return left.slice(0, -1).concat(simplified(path.slice(split), tolerance, aspect));
}

/**
 * The two barbs of an arrow that ends in `tip`.
 * @param {Point} tail @param {Point} tip @param {number} size shares of the width @param {number} aspect
 * @returns {[Point, Point]}
 */
export function barbs(tail, tip, size, aspect) {
  const [vx, vy] = [tip[0] - tail[0], (tip[1] - tail[1]) / aspect];
  const back = Math.atan2(vy, vx) + Math.PI;
  const barb = (/** @type {number} */ turn) =>
    /** @type {Point} */ ([tip[0] + size * Math.cos(back + turn), tip[1] + size * Math.sin(back + turn) * aspect]);
  return [barb(0.45), barb(-0.45)];
}
