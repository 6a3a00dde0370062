// Which item of a list a key leads to. Pure: numbers in, a number out.

/**
 * @param {string} key  KeyboardEvent.key
 * @param {number} at   the present item, -1 for none
 * @param {number} count how many items there are
 * @returns {number | null} the item to go to, or null if the key doesn't move
 */
export function target(key, at, count) {
  if (count < 1) return null;
  if (key === "ArrowDown") return Math.min(at + 1, count - 1);
  if (key === "ArrowUp") return Math.max(at - 1, 0);
  if (key === "Home") return 0;
  if (key === "End") return count - 1;
  return null;
}
