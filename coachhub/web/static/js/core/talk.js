// A talk-through as data: sound in takes, what the coach did beside it, and which parts of the takes count.
// Times of an event are milliseconds of its take's sound; the server joins the parts into one time line.

/** @typedef {import("./strokes.js").Mark} Mark */
/** @typedef {{swing: string, us: number, rate: number}} Place  rate 0 stands, below 0 runs backwards */
/** @typedef {import("../behaviours/beside.js").BesideState & {other_us?: number}} Pair  `other_us`: the other swing stepped alone */
/** @typedef {{body: boolean, shaft: boolean, drawings: boolean}} Layers */
/**
 * @typedef {{kind: "place"} & Place
 *   | {kind: "put", mark: Mark}
 *   | {kind: "gone", uid: string}
 *   | {kind: "grow", mark: Mark | null}
 *   | {kind: "more", points: import("./geometry.js").Point[]}
 *   | {kind: "pair", pair: Pair | null}
 *   | {kind: "other", us: number}
 *   | {kind: "layers"} & Layers
 *   | {kind: "clear"}} Deed
 */
/** @typedef {Deed & {ms: number}} Happening */
/** @typedef {Happening & {take: number}} LoggedDeed */
/** @typedef {[take: number, fromMs: number, toMs: number]} Cut */
/** @typedef {{place: Place | null, placedMs: number, marks: Mark[], growing: Mark | null, pair: Pair | null, layers: Layers}} TalkState */

export const LONGEST_MS = 600_000;
/** A sound clock that lags this far behind where it was, in every reading of so long, has stumbled for good. */
export const SLIP_SEEN_MS = 1000;
const LEAST_SLIP_MS = 15;
const LEAST_READINGS = 10;
/** A stroke that grows is noted this often; the eye sees no more. */
export const STROKE_EVERY_MS = 33;
/** What is shown may differ by this much from what the last noted place foretells before it is noted again. */
export const STRAY_US = 25_000;

/** @param {Cut[]} cuts */
export function lengthOf(cuts) {
  return cuts.reduce((sum, [, from, to]) => sum + to - from, 0);
}

/**
 * The cuts with the end taken back, for "say the last part again".
 * @param {Cut[]} cuts @param {number} keepMs  from the beginning @returns {Cut[]}
 */
export function keptUntil(cuts, keepMs) {
  /** @type {Cut[]} */
  const kept = [];
  let left = keepMs;
  for (const [take, from, to] of cuts) {
    const ms = Math.min(left, to - from);
    if (ms > 0) kept.push([take, from, from + ms]);
    left -= ms;
    if (left <= 0) break;
  }
  return kept;
}

/** @returns {TalkState} */
export function blank() {
  return { place: null, placedMs: 0, marks: [], growing: null, pair: null, layers: { body: true, shaft: true, drawings: true } };
}

/** @param {TalkState} state @param {Happening} deed @returns {TalkState} */
export function after(state, deed) {
  switch (deed.kind) {
    case "place": return { ...state, place: { swing: deed.swing, us: deed.us, rate: deed.rate }, placedMs: deed.ms };
    case "put": return { ...state, marks: [...without(state.marks, deed.mark.uid), deed.mark], growing: null };
    case "gone": return { ...state, marks: without(state.marks, deed.uid) };
    case "grow": return { ...state, growing: deed.mark };
    case "more": return { ...state, growing: state.growing && { ...state.growing, points: [...state.growing.points, ...deed.points] } };
    case "pair": return { ...state, pair: deed.pair };
    case "other": return { ...state, pair: state.pair && { ...state.pair, other_us: deed.us } };
    case "layers": return { ...state, layers: { body: deed.body, shaft: deed.shaft, drawings: deed.drawings } };
    case "clear": return { ...blank(), place: state.place, placedMs: state.placedMs };
  }
}

/** @param {Mark[]} marks @param {string} uid */
function without(marks, uid) {
  return marks.filter((mark) => mark.uid !== uid);
}

/** Where the picture stands: what was noted, carried on at its rate. @param {TalkState} state @param {number} ms @returns {Place | null} */
export function placeAt(state, ms) {
  if (!state.place) return null;
  const { swing, us, rate } = state.place;
  return { swing, us: Math.round(us + Math.max(0, ms - state.placedMs) * 1000 * rate), rate };
}

/** A time line that can be asked forwards cheaply and anywhere at all. */
export class TalkReader {
  /** @param {Happening[]} events  in order of time */
  constructor(events) {
    this.events = events;
    this.next = 0;
    this.state = blank();
    this.readMs = -1;
  }

  rewind() {
    this.next = 0;
    this.state = blank();
    this.readMs = -1;
  }

  /** @param {number} ms @returns {TalkState} */
  at(ms) {
    if (ms < this.readMs) this.rewind();
    this.readMs = ms;
    while (this.next < this.events.length && this.events[this.next].ms <= ms) {
      this.state = after(this.state, this.events[this.next]);
      this.next += 1;
    }
    return this.state;
  }
}

/** What the coach does while the microphone is on, as short as it can be said. */
export class TalkLog {
  /** @param {LoggedDeed[]} [events] @param {Cut[]} [cuts]  of an earlier visit */
  constructor(events = [], cuts = []) {
    this.events = events;
    this.cuts = cuts.slice();
    this.take = cuts.reduce((most, [take]) => Math.max(most, take), events.reduce((most, event) => Math.max(most, event.take), 0));
    this.running = false;
    this.state = blank();
    this.strokeMs = -Infinity;
  }

  get lengthMs() {
    return lengthOf(this.cuts);
  }

  /** A new take begins with everything that is on screen, so that any part of it can stand alone. @param {Deed[]} screen @returns {number} its number */
  begin(screen) {
    this.take += 1;
    this.running = true;
    this.state = blank();
    this.strokeMs = -Infinity;
    for (const deed of screen) this.note(0, deed);
    return this.take;
  }

  /** @param {number} ms  of the take's sound @param {number} [lateMs]  how much too early all of its times were noted */
  end(ms, lateMs = 0) {
    this.running = false;
    for (const event of this.events) {
      if (event.take === this.take && event.ms > 0) event.ms = Math.max(0, Math.round(event.ms + lateMs));
    }
    const whole = Math.round(ms + lateMs);
    if (whole > 0) this.cuts.push([this.take, 0, whole]);
  }

  /** The sound stumbled: what was noted since came later than it is heard. @param {number} sinceMs @param {number} byMs  + = the sound lags more */
  slipped(sinceMs, byMs) {
    const moved = (/** @type {number} */ ms) => (ms > sinceMs ? Math.max(0, Math.round(ms - byMs)) : ms);
    for (const event of this.events) {
      if (event.take === this.take && event.ms > 0) event.ms = moved(event.ms);
    }
    this.state = { ...this.state, placedMs: moved(this.state.placedMs) };
    this.strokeMs = moved(this.strokeMs);
  }

  /** Take back the last part. @param {number} ms */
  takeBack(ms) {
    this.cuts = keptUntil(this.cuts, Math.max(0, this.lengthMs - ms));
  }

  /** @param {number} ms @param {Deed} deed */
  note(ms, deed) {
    const event = /** @type {LoggedDeed} */ ({ ...deed, ms: Math.max(0, Math.round(ms)), take: this.take });
    this.state = after(this.state, event);
    this.events.push(event);
  }

  /** @param {number} ms @param {Place} place  as it is on screen now @param {number} [allowedUs]  how far it may stray unnoted */
  place(ms, place, allowedUs = place.rate === 0 ? 0 : STRAY_US) {
    const told = placeAt(this.state, ms);
    const same = told && told.swing === place.swing && told.rate === place.rate;
    if (same && Math.abs(told.us - place.us) <= allowedUs) return;
    this.note(ms, { kind: "place", ...place });
  }

  /** @param {number} ms @param {Mark | null} mark  the stroke under the pen, null when it is let go */
  stroke(ms, mark) {
    const { growing } = this.state;
    if (!mark) {
      if (growing) this.note(ms, { kind: "grow", mark: null });
      return;
    }
    if (growing && ms - this.strokeMs < STROKE_EVERY_MS) return;
    this.strokeMs = ms;
    const isLonger = growing?.kind === "path" && mark.kind === "path" && mark.points.length >= growing.points.length && mark.from_us === growing.from_us;
    if (!isLonger) this.note(ms, { kind: "grow", mark: { ...mark, points: [...mark.points] } });
    else if (mark.points.length > growing.points.length) this.note(ms, { kind: "more", points: mark.points.slice(growing.points.length) });
  }

  /** @param {number} ms @param {Mark[]} marks  all that there are now */
  marks(ms, marks) {
    const known = new Map(this.state.marks.map((mark) => [mark.uid, mark]));
    for (const mark of marks) {
      const old = known.get(mark.uid);
      if (!old || JSON.stringify(old) !== JSON.stringify(mark)) this.note(ms, { kind: "put", mark });
      known.delete(mark.uid);
    }
    for (const uid of known.keys()) this.note(ms, { kind: "gone", uid });
  }

  /** What the server is sent: events outside every cut are of no use to anybody. */
  script() {
    const used = new Set(this.cuts.map(([take]) => take));
    return { cuts: this.cuts, events: this.events.filter((event) => used.has(event.take)) };
  }
}

/**
 * The sound's clock and the page's. A page reads the sound's clock late, by more on a busy machine; the reading with the
 * least delay is the true one.
 */
export class ClockPair {
  constructor() {
    this.apartMs = Infinity;
    this.slipMs = 0;
    /** @type {{pageMs: number, apartMs: number}[]} */
    this.lately = [];
  }

  /** @param {number} soundS @param {number} pageMs  read together */
  read(soundS, pageMs) {
    const apartMs = pageMs - soundS * 1000;
    this.apartMs = Math.min(this.apartMs, apartMs);
    this.lately = this.lately.filter((one) => one.pageMs > pageMs - SLIP_SEEN_MS);
    this.lately.push({ pageMs, apartMs });
    if (this.lately.length < LEAST_READINGS) return;
    const slipMs = Math.min(...this.lately.map((one) => one.apartMs)) - this.apartMs;
    if (Math.abs(slipMs - this.slipMs) >= LEAST_SLIP_MS) this.slipMs = slipMs;
  }

  /** @param {number} soundS @returns {number} milliseconds of the page's clock */
  pageMs(soundS) {
    if (this.apartMs === Infinity) throw new RangeError("the two clocks must be read before they are compared");
    return soundS * 1000 + this.apartMs;
  }
}

/** The marks of a state that are to be seen, the growing one last. @param {TalkState} state @returns {Mark[]} */
export function shownMarks(state) {
  if (!state.layers.drawings) return [];
  return state.growing ? [...without(state.marks, state.growing.uid), state.growing] : state.marks;
}
