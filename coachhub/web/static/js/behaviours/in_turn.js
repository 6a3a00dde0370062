// A line that has just come back carries one thing after the other: what the desk saves goes out in turn.

const LONGEST_WAIT_MS = 20_000;
/** @type {Promise<unknown>} */
let last = Promise.resolve();

/**
 * Does the work when what was asked for before is through, or has taken too long.
 * @template T @param {() => Promise<T>} work @returns {Promise<T>}
 */
export function inTurn(work) {
  const before = last;
  const mine = Promise.race([before, new Promise((resolve) => { setTimeout(resolve, LONGEST_WAIT_MS); })]).then(work);
  last = mine.catch(() => {});
  return mine;
}
