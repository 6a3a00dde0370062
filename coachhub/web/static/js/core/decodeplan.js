const MB = 1e6;
const BUDGET = { roomy: 48 * MB, small: 28 * MB };
const FEWEST = 2;
const MOST = 6;
// Two groups must fit, else every step over a group's edge would wait for the decoder.
const CEILING = 160 * MB;

/**
 * How many key-frame groups of decoded frames are kept: by the size of the picture, fewer on small devices; 0 where
 * even two are too much for any device.
 * @param {{width: number, height: number, largest: number, isSmall: boolean}} clip  largest: frames of the largest group
 * @returns {number}
 */
export function groupsKept({ width, height, largest, isSmall }) {
  // Decoded pictures are 4:2:0: one byte of luma and half a byte of chroma a pixel.
  const groupBytes = width * height * 1.5 * largest;
  if (groupBytes * FEWEST > CEILING) return 0;
  const fitting = Math.floor((isSmall ? BUDGET.small : BUDGET.roomy) / groupBytes);
  return Math.min(MOST, Math.max(FEWEST, fitting));
}

/**
 * The groups to have, most urgent first: the shown one, then those ahead; standing still, one on either side.
 * @param {{group: number, direction: number, playing: boolean, most: number, groups: number}} now
 * @returns {number[]}
 */
export function groupsWanted({ group, direction, playing, most, groups }) {
  const ahead = Array.from({ length: most }, (_, i) => group + direction * i);
  const order = playing ? ahead : [group, group + direction, group - direction];
  return order.filter((one) => one >= 0 && one < groups).slice(0, most);
}
