// Two swings side by side: the same event at the same moment. The same rules and numbers as analysis/timemap.py, which
// tests/js/timemap.test.mjs holds this against; here in microseconds.

/** @typedef {{name: string, t_us: number, se_us?: number | null}} TimedEvent */
/**
 * @typedef {object} TimeMap  straight between shared events, rising, invertible
 * @property {string[]} events  those that carry it, at least two
 * @property {number[]} firstUs
 * @property {number[]} secondUs
 * @property {string[]} leftOut  events of either swing that don't carry it
 */

/** In the order of a swing. */
export const EVENTS = [
  "address", "takeaway", "shaft_parallel_back", "lead_arm_parallel_back", "top", "lead_arm_parallel_down",
  "delivery_shaft_parallel", "impact", "shaft_parallel_through", "finish",
];
// Two events of one swing that lie closer than this can't carry a segment of the map.
const LEAST_STEP_US = 1000;

/**
 * @param {TimedEvent[]} first @param {TimedEvent[]} second
 * @returns {TimeMap | null} null where fewer than two events are shared
 */
export function timeMap(first, second) {
  const [one, other] = [byName(first), byName(second)];
  const shared = EVENTS.filter((name) => one.has(name) && other.has(name));
  const kept = inOrder(shared, one, other);
  if (kept.length < 2) return null;
  const known = EVENTS.filter((name) => one.has(name) || other.has(name));
  return {
    events: kept,
    firstUs: kept.map((name) => timeOf(one, name)),
    secondUs: kept.map((name) => timeOf(other, name)),
    leftOut: known.filter((name) => !kept.includes(name)),
  };
}

/** Seconds of the second swing for one of the first, over all shared events. @param {TimeMap} map */
export function paceOf({ firstUs, secondUs }) {
  const last = firstUs.length - 1;
  return (secondUs[last] - secondUs[0]) / (firstUs[last] - firstUs[0]);
}

/** @param {TimeMap} map @param {number} us  of the first swing's clip @returns {number} of the second's */
export function toSecond(map, us) {
  return carried(us, map.firstUs, map.secondUs, paceOf(map));
}

/** @param {TimeMap} map @param {number} us  of the second swing's clip @returns {number} of the first's */
export function toFirst(map, us) {
  return carried(us, map.secondUs, map.firstUs, 1 / paceOf(map));
}

/** How many times faster the second swing runs at a time of the first. @param {TimeMap} map @param {number} us */
export function paceAt(map, us) {
  const { firstUs, secondUs } = map;
  const at = firstUs.findIndex((start, i) => i + 1 < firstUs.length && us >= start && us < firstUs[i + 1]);
  if (at < 0) return paceOf(map);
  return (secondUs[at + 1] - secondUs[at]) / (firstUs[at + 1] - firstUs[at]);
}

/** @param {number} us @param {number[]} from @param {number[]} to @param {number} pace  outside the shared events */
function carried(us, from, to, pace) {
  const last = from.length - 1;
  if (us <= from[0]) return to[0] + pace * (us - from[0]);
  if (us >= from[last]) return to[last] + pace * (us - from[last]);
  const at = from.findIndex((start, i) => us >= start && us < from[i + 1]);
  return to[at] + ((to[at + 1] - to[at]) * (us - from[at])) / (from[at + 1] - from[at]);
}

/** @param {TimedEvent[]} events @returns {Map<string, TimedEvent>} */
function byName(events) {
  return new Map(events.filter((event) => Number.isFinite(event.t_us)).map((event) => [event.name, event]));
}

/** @param {Map<string, TimedEvent>} events @param {string} name */
function timeOf(events, name) {
  return /** @type {TimedEvent} */ (events.get(name)).t_us;
}

/**
 * The surest events first, each kept only if it stands in order with those kept before it.
 * @param {string[]} names @param {Map<string, TimedEvent>} one @param {Map<string, TimedEvent>} other
 */
function inOrder(names, one, other) {
  /** @type {string[]} */
  let kept = [];
  const surest = names.slice().sort((a, b) => doubt(a, one, other) - doubt(b, one, other) || EVENTS.indexOf(a) - EVENTS.indexOf(b));
  for (const name of surest) {
    const trial = [...kept, name].sort((a, b) => EVENTS.indexOf(a) - EVENTS.indexOf(b));
    if ([one, other].every((events) => rises(trial.map((event) => timeOf(events, event))))) kept = trial;
  }
  return kept;
}

/** @param {string} name @param {Map<string, TimedEvent>} one @param {Map<string, TimedEvent>} other */
function doubt(name, one, other) {
  const errors = [one, other].map((events) => events.get(name)?.se_us);
  // Not infinity: two unknown ones must compare as equal.
  return errors.every((error) => Number.isFinite(error)) ? Math.hypot(...errors.map(Number)) : Number.MAX_VALUE;
}

/** @param {number[]} times */
function rises(times) {
  return times.every((us, i) => i === 0 || us - times[i - 1] >= LEAST_STEP_US);
}
