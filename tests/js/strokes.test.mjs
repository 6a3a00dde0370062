import assert from "node:assert/strict";
import { test } from "node:test";

import {
  POINTS, MOST_MARKS, add, caption, change, copiedTo, drawing, find, hit, inWords, isSpeck, nudge, redo, remove, shownAt, sound, startingPoints, undo, weightOf,
} from "../../coachhub/web/static/js/core/strokes.js";

const TALL = 720 / 1280;
const line = (uid, more = {}) => ({
  uid, swing: "s", kind: "line", points: [[0.2, 0.2], [0.4, 0.6]], from_us: 0, to_us: 500_000, label: "", note: "", ...more,
});
const three = () => ["a", "b", "c"].reduce((state, uid) => add(state, line(uid)), drawing());

test("what was drawn is there, in its order", () => {
  assert.deepEqual(three().marks.map((mark) => mark.uid), ["a", "b", "c"]);
});

test("undoing everything gives the start, redoing everything the end, for any run of edits", () => {
  let seed = 11;
  const random = (n) => { seed = (seed * 16807) % 2147483647; return seed % n; };
  for (let run = 0; run < 40; run += 1) {
    const begin = [line("x"), line("y", { points: [[0.1, 0.1], [0.9, 0.9]] })];
    let state = drawing(begin);
    const seen = [state.marks];
    for (let step = 0; step < 30; step += 1) {
      const uid = state.marks[random(Math.max(1, state.marks.length))]?.uid ?? "none";
      const acts = [
        () => add(state, line(`n${run}-${step}`)), () => remove(state, uid), () => change(state, uid, { label: `l${step}` }),
        () => nudge(state, uid, random(2), 0.01, -0.02), () => nudge(state, uid, null, -0.03, 0.01),
      ];
      const next = acts[random(acts.length)]();
      if (next !== state) seen.push(next.marks);
      state = next;
    }
    for (let i = seen.length - 2; i >= 0; i -= 1) { state = undo(state); assert.deepEqual(state.marks, seen[i]); }
    assert.deepEqual(state.marks, begin);
    assert.equal(undo(state), state);
    for (let i = 1; i < seen.length; i += 1) { state = redo(state); assert.deepEqual(state.marks, seen[i]); }
    assert.equal(redo(state), state);
  }
});

test("the reducer changes nothing that it was given", () => {
  const state = three();
  const before = structuredClone(state);
  for (const act of [() => undo(state), () => remove(state, "b"), () => nudge(state, "a", 0, 0.1, 0.1), () => change(state, "c", { note: "n" })]) act();
  assert.deepEqual(state, before);
});

test("a new edit after an undo ends the redo", () => {
  const state = add(undo(three()), line("d"));
  assert.deepEqual(state.marks.map((mark) => mark.uid), ["a", "b", "d"]);
  assert.equal(redo(state), state);
});

test("a removed drawing comes back to its place", () => {
  assert.deepEqual(undo(remove(three(), "b")).marks.map((mark) => mark.uid), ["a", "b", "c"]);
});

test("a point at the edge can't be pushed out, and a step that goes nowhere is no edit", () => {
  const state = drawing([line("a", { points: [[0, 0.5], [0.3, 0.5]] })]);
  assert.equal(nudge(state, "a", 0, -0.1, 0), state);
  assert.deepEqual(find(nudge(state, "a", null, 0.9, 0), "a").points[1][0], 1);
});

test("broken drawings are refused with what is wrong", () => {
  assert.throws(() => sound(line("a", { kind: "square" })), /kind must be one of/);
  assert.throws(() => sound(line("a", { points: [[0, 0]] })), /can't have 1 points/);
  assert.throws(() => sound(line("a", { points: [[0, 0], [1.2, 0]] })), /within 0..1/);
  assert.throws(() => sound(line("a", { points: [[0, 0], [NaN, 0]] })), /within 0..1/);
  assert.throws(() => sound(line("a", { from_us: 9, to_us: 3 })), /before to_us/);
  assert.throws(() => add(drawing(Array.from({ length: MOST_MARKS }, (_, i) => line(`m${i}`))), line("one more")), /at most/);
});

test("every kind has a first shape that is sound", () => {
  for (const kind of Object.keys(POINTS)) sound(line("a", { kind, points: startingPoints(kind) }));
});

test("a drawing shows from its first to its last time, both included", () => {
  const mark = line("a", { from_us: 100, to_us: 200 });
  assert.deepEqual([99, 100, 150, 200, 201].map((us) => shownAt(mark, us)), [false, true, true, true, false]);
});

test("the nearest drawing within reach is hit, the upper one where two are as near", () => {
  const marks = [line("a"), line("b"), line("c", { points: [[0.8, 0.1], [0.8, 0.9]] })];
  assert.equal(hit(marks, [0.79, 0.5], 0.03, TALL).uid, "c");
  assert.equal(hit(marks, [0.2, 0.2], 0.03, TALL).uid, "b");
  assert.equal(hit(marks, [0.6, 0.9], 0.03, TALL), null);
});

test("an angle says its degrees, a line its lean", () => {
  const right = line("a", { kind: "angle", points: [[0.5, 0.2], [0.5, 0.5], [0.9, 0.5]] });
  assert.equal(caption(right, TALL), "90°");
  assert.equal(caption({ ...right, label: "lead arm" }, TALL), "lead arm 90°");
  assert.equal(caption({ ...right, points: right.points.slice(0, 2) }, TALL), "");
  assert.equal(inWords(right, TALL), "angle, 90°, 0.000 s to 0.500 s");
  assert.equal(inWords(line("a", { points: [[0.1, 0.5], [0.9, 0.5]] }), TALL), "line, 90° from vertical, 0.000 s to 0.500 s");
});

test("a slip of the finger is no drawing", () => {
  assert.ok(isSpeck([[0.5, 0.5], [0.502, 0.501]], TALL));
  assert.ok(!isSpeck([[0.5, 0.5], [0.6, 0.5]], TALL));
});

test("a copy shows as long at the new time, never past the swing, and a whole swing's stays whole", () => {
  const span = { start_us: 0, end_us: 2_000_000.4 };
  assert.deepEqual(copiedTo(line("a", { from_us: 100, to_us: 300_100, weight: "strong" }), "b", 1_000_000, span), line("b", { from_us: 1_000_000, to_us: 1_300_000, weight: "strong" }));
  assert.equal(copiedTo(line("a"), "b", 1_900_000, span).to_us, 2_000_000);
  const whole = copiedTo(line("a", { from_us: 0, to_us: 2_000_001, follows: "nose", anchor_us: 5 }), "b", 70, span);
  assert.deepEqual([whole.from_us, whole.to_us, whole.anchor_us], [0, 2_000_001, 70]);
});

test("a pen that is pressed harder draws a stronger line; without a pen it is the normal one", () => {
  assert.equal(weightOf([]), "normal");
  assert.equal(weightOf([0.5, 0.5]), "normal");
  assert.equal(weightOf([0.1, 0.2, 0.25]), "thin");
  assert.equal(weightOf([0.6, 0.9]), "strong");
});
