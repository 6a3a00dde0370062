// Drawings as data. A drawing ("mark") is anchored in media time and in shares of the picture, so that it means the
// same on every screen. Editing is a pure reducer over operations that carry their inverse.

import { angleDeg, distance, distanceToEllipse, distanceToPath, inside, leanDeg, moved, stepInside } from "./geometry.js";
import { spanInSeconds } from "./timecode.js";
import { say } from "./wording.js";

/** @typedef {import("./geometry.js").Point} Point */
/** @typedef {"line"|"angle"|"ellipse"|"arrow"|"path"|"text"} Kind */
/** @typedef {"thin"|"normal"|"strong"} Weight */
/**
 * @typedef {object} Mark
 * @property {string} uid
 * @property {string} swing  public id of the swing, or of the clip where nothing was measured
 * @property {Kind} kind
 * @property {Point[]} points
 * @property {number} from_us
 * @property {number} to_us
 * @property {string} label  a word beside the drawing (the words themselves for a text)
 * @property {string} note   what the drawing says, for those who can't see it
 * @property {string} [follows]  a joint, or "shaft": the drawing goes with it
 * @property {number | null} [anchor_us]  the frame in which `points` are the drawing's own
 * @property {Weight} [weight]  how thick its line is; "normal" where nothing is said
 * @property {boolean} [is_dashed]
 */
/** @typedef {{do: "add", mark: Mark, at: number} | {do: "remove", uid: string} | {do: "change", uid: string, to: Partial<Mark>}} Operation */
/** @typedef {{marks: Mark[], done: Operation[], undone: Operation[]}} Drawing  `done` and `undone` hold inverses */

export const MOST_MARKS = 60;
export const MOST_POINTS = 400;

/** How many points a kind takes; a path takes any number from two. */
export const POINTS = /** @type {Record<Kind, number>} */ ({ line: 2, arrow: 2, ellipse: 2, angle: 3, text: 1, path: Infinity });

export const KIND_WORDS = /** @type {Record<Kind, string>} */ ({
  line: say("line"), arrow: say("arrow"), ellipse: say("ellipse"), angle: say("angle"), path: say("freehand line"), text: say("text"),
});

/** @param {Mark[]} [marks] @returns {Drawing} */
export function drawing(marks = []) {
  return { marks, done: [], undone: [] };
}

/** @param {Drawing} state @param {Mark} mark @returns {Drawing} */
export function add(state, mark) {
  if (state.marks.length >= MOST_MARKS) throw new RangeError(say("A review holds at most {most} drawings.", { most: MOST_MARKS }));
  return carryOut(state, { do: "add", mark: sound(mark), at: state.marks.length });
}

/** @param {Drawing} state @param {string} uid @returns {Drawing} */
export function remove(state, uid) {
  return find(state, uid) ? carryOut(state, { do: "remove", uid }) : state;
}

/** @param {Drawing} state @param {string} uid @param {Partial<Mark>} to @returns {Drawing} */
export function change(state, uid, to) {
  const mark = find(state, uid);
  if (!mark) return state;
  sound({ ...mark, ...to });
  return carryOut(state, { do: "change", uid, to });
}

/**
 * Move one point, or the whole drawing when `index` is null; nothing leaves the picture.
 * @param {Drawing} state @param {string} uid @param {number | null} index @param {number} dx @param {number} dy
 * @returns {Drawing}
 */
export function nudge(state, uid, index, dx, dy) {
  const mark = find(state, uid);
  if (!mark) return state;
  const touched = index === null ? mark.points : [mark.points[index]];
  const [stepX, stepY] = stepInside(touched, dx, dy);
  if (stepX === 0 && stepY === 0) return state;
  const points = mark.points.map((p, i) => (index === null || i === index ? inside(moved(p, stepX, stepY)) : p));
  return change(state, uid, { points });
}

/**
 * The same drawing at another time: as it lies there, for as long as it showed, within the swing.
 * @param {Mark} mark  as it lies in the shown frame @param {string} uid @param {number} us
 * @param {{start_us: number, end_us: number}} span @returns {Mark}
 */
export function copiedTo(mark, uid, us, span) {
  const whole = mark.from_us <= span.start_us && mark.to_us >= span.end_us;
  const from_us = whole ? mark.from_us : us;
  const to_us = whole ? mark.to_us : Math.max(us, Math.min(us + mark.to_us - mark.from_us, Math.round(span.end_us)));
  return { ...mark, uid, from_us, to_us, ...(mark.follows ? { anchor_us: us } : {}) };
}

/**
 * How thick a pen draws that is pressed like this on the whole; mouse and finger report no pressure of their own.
 * @param {number[]} pressures  0..1, one for each place of the stroke @returns {Weight}
 */
export function weightOf(pressures) {
  if (pressures.length === 0) return "normal";
  const mean = pressures.reduce((sum, one) => sum + one, 0) / pressures.length;
  if (mean < 0.3) return "thin";
  return mean > 0.65 ? "strong" : "normal";
}

/** @param {Drawing} state @returns {Drawing} */
export function undo(state) {
  const last = state.done.at(-1);
  if (!last) return state;
  const { marks, inverse } = applied(state.marks, last);
  return { marks, done: state.done.slice(0, -1), undone: [...state.undone, inverse] };
}

/** @param {Drawing} state @returns {Drawing} */
export function redo(state) {
  const last = state.undone.at(-1);
  if (!last) return state;
  const { marks, inverse } = applied(state.marks, last);
  return { marks, done: [...state.done, inverse], undone: state.undone.slice(0, -1) };
}

/** @param {Drawing} state @param {string} uid @returns {Mark | undefined} */
export function find(state, uid) {
  return state.marks.find((mark) => mark.uid === uid);
}

/** @param {Drawing} state @param {Operation} operation @returns {Drawing} */
function carryOut(state, operation) {
  const { marks, inverse } = applied(state.marks, operation);
  return { marks, done: [...state.done, inverse], undone: [] };
}

/**
 * @param {Mark[]} marks
 * @param {Operation} operation
 * @returns {{marks: Mark[], inverse: Operation}}
 */
function applied(marks, operation) {
  if (operation.do === "add") {
    const at = Math.min(operation.at, marks.length);
    return { marks: [...marks.slice(0, at), operation.mark, ...marks.slice(at)], inverse: { do: "remove", uid: operation.mark.uid } };
  }
  const at = marks.findIndex((mark) => mark.uid === operation.uid);
  if (at < 0) throw new RangeError(`uid must name a drawing at hand, not ${operation.uid}`);
  const old = marks[at];
  if (operation.do === "remove") {
    return { marks: marks.filter((mark) => mark !== old), inverse: { do: "add", mark: old, at } };
  }
  const before = Object.fromEntries(Object.keys(operation.to).map((key) => [key, old[/** @type {keyof Mark} */ (key)]]));
  const next = marks.map((mark) => (mark === old ? { ...mark, ...operation.to } : mark));
  return { marks: next, inverse: { do: "change", uid: operation.uid, to: before } };
}

/**
 * The mark itself, if it is one; the server checks the same again.
 * @param {Mark} mark
 * @returns {Mark}
 */
export function sound(mark) {
  const wanted = POINTS[mark.kind];
  if (wanted === undefined) throw new RangeError(`kind must be one of ${Object.keys(POINTS).join(", ")}, not ${mark.kind}`);
  const n = mark.points.length;
  if (wanted === Infinity ? n < 2 || n > MOST_POINTS : n !== wanted) throw new RangeError(`a ${mark.kind} can't have ${n} points`);
  for (const [x, y] of mark.points) {
    if (!(x >= 0 && x <= 1 && y >= 0 && y <= 1)) throw new RangeError(`points must lie within 0..1, not ${x}, ${y}`);
  }
  if (!(mark.from_us >= 0 && mark.to_us >= mark.from_us)) throw new RangeError(`from_us must come before to_us, not ${mark.from_us}..${mark.to_us}`);
  return mark;
}

/** @param {Mark} mark @param {number} us @returns {boolean} */
export function shownAt(mark, us) {
  return us >= mark.from_us && us <= mark.to_us;
}

/**
 * The mark under a point: the nearest within reach, the topmost where several are as near.
 * @param {Mark[]} marks @param {Point} p @param {number} reach shares of the width @param {number} aspect
 * @returns {Mark | null}
 */
export function hit(marks, p, reach, aspect) {
  /** @type {Mark | null} */
  let found = null;
  let best = reach;
  for (const mark of marks) {
    const away = awayFrom(mark, p, aspect);
    if (away <= best) [found, best] = [mark, away];
  }
  return found;
}

/** @param {Mark} mark @param {Point} p @param {number} aspect */
function awayFrom(mark, p, aspect) {
  if (mark.kind === "ellipse") return distanceToEllipse(p, mark.points[0], mark.points[1], aspect);
  return distanceToPath(p, mark.points, aspect);
}

/**
 * What stands beside the drawing: its own label, and for an angle the degrees.
 * @param {Mark} mark @param {number} aspect @returns {string}
 */
export function caption(mark, aspect) {
  // While it is being drawn an angle has one arm only.
  if (mark.kind !== "angle" || mark.points.length < 3) return mark.label;
  const degrees = angleDeg(mark.points[0], mark.points[1], mark.points[2], aspect);
  const shown = Number.isNaN(degrees) ? "" : `${Math.round(degrees)}°`;
  return mark.label ? `${mark.label} ${shown}` : shown;
}

/**
 * One line that says what a drawing is, where it stands, and when.
 * @param {Mark} mark @param {number} aspect @returns {string}
 */
export function inWords(mark, aspect) {
  const what = mark.kind === "text" ? say("text “{label}”", { label: mark.label }) : [KIND_WORDS[mark.kind], detail(mark, aspect)].filter(Boolean).join(", ");
  return `${what}, ${spanInSeconds(mark.from_us, mark.to_us)}`;
}

/** @param {Mark} mark @param {number} aspect */
function detail(mark, aspect) {
  if (mark.kind === "line") return say("{degrees}° from vertical", { degrees: Math.round(leanDeg(mark.points[0], mark.points[1], aspect)) });
  return caption(mark, aspect);
}

/**
 * A first shape in the middle of the picture, for those who place by button instead of drawing.
 * @param {Kind} kind @returns {Point[]}
 */
export function startingPoints(kind) {
  const shapes = /** @type {Record<Kind, Point[]>} */ ({
    line: [[0.5, 0.35], [0.5, 0.65]],
    arrow: [[0.4, 0.6], [0.55, 0.45]],
    ellipse: [[0.38, 0.4], [0.62, 0.6]],
    angle: [[0.5, 0.35], [0.5, 0.55], [0.65, 0.45]],
    path: [[0.4, 0.55], [0.5, 0.45], [0.6, 0.55]],
    text: [[0.4, 0.5]],
  });
  return shapes[kind];
}

/** Too short to be meant. @param {Point[]} points @param {number} aspect */
export function isSpeck(points, aspect) {
  return points.length > 1 && points.every((p) => distance(p, points[0], aspect) < 0.008);
}
