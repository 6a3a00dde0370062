/** The sound of a clip as its index has it: lowest and highest sample of each step. @typedef {{start_us: number, step_us: number, peaks: [number, number][]}} Sound */

/** Quieter than this all along is silence, and noise is not blown up to look like something. */
const SILENT = 0.01;

/**
 * How loud each column of the time line is, 0..1 of the clip's loudest; null for silence.
 * @param {Sound | null | undefined} sound @param {import("./timeline.js").Span} span @param {number} columns
 * @returns {number[] | null}
 */
export function loudness(sound, span, columns) {
  if (!sound || sound.peaks.length === 0 || span.end_us <= span.start_us) return null;
  const sizes = sound.peaks.map(([low, high]) => Math.max(Math.abs(low), Math.abs(high)));
  const most = sizes.reduce((one, other) => Math.max(one, other), 0);
  if (most < SILENT) return null;
  const width = (span.end_us - span.start_us) / columns;
  return Array.from({ length: columns }, (_, column) => {
    const from = (span.start_us + column * width - sound.start_us) / sound.step_us;
    const to = Math.max(Math.ceil(from + width / sound.step_us), Math.floor(from) + 1);
    return sizes.slice(Math.max(0, Math.floor(from)), Math.max(0, to)).reduce((one, other) => Math.max(one, other), 0) / most;
  });
}

/** A filled shape around the middle, one column a unit wide and two units high. @param {number[]} sizes  0..1 @returns {string} */
export function wavePath(sizes) {
  const upper = sizes.map((size, x) => `${x} ${(1 - size).toFixed(3)}`);
  const lower = sizes.map((size, x) => `${x} ${(1 + size).toFixed(3)}`).reverse();
  return `M${[...upper, ...lower].join("L")}Z`;
}
