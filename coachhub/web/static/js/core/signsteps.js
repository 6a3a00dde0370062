/** What the keys on the stage do with the sign at hand. @type {Record<string, string>} */
export const VERDICT_KEYS = { y: "agree", n: "not_this", c: "cant_tell" };

/**
 * The next of some things, round and round. @param {number} at  -1 before the first @param {number} count @param {1 | -1} way
 * @returns {number} -1 where there is nothing
 */
export function nextOf(at, count, way = 1) {
  if (count === 0) return -1;
  return at < 0 && way < 0 ? count - 1 : (at + way + count) % count;
}

/**
 * The evidence frame to show next: the one after the shown time, or the first again; each once, in order of time.
 * @param {number[]} framesUs @param {number | null} shownUs  the one that was shown last, null before the first
 * @returns {number | null}
 */
export function nextFrame(framesUs, shownUs) {
  const ordered = [...new Set(framesUs)].sort((a, b) => a - b);
  if (ordered.length === 0) return null;
  return ordered[nextOf(shownUs === null ? -1 : ordered.indexOf(shownUs), ordered.length)];
}
