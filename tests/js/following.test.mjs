import assert from "node:assert/strict";
import { test } from "node:test";

import { distance } from "../../coachhub/web/static/js/core/geometry.js";
import { followed } from "../../coachhub/web/static/js/core/following.js";

const ASPECT = 0.5625;
const tracks = {
  t_us: [0, 100, 200, 300],
  joints: { left_wrist: [[0.5, 0.5, 0.9], [0.6, 0.4, 0.9], [0.7, 0.3, 0.1], null] },
  // Points down, then to the right, equally long on the screen.
  shaft: [[0.5, 0.5, 0.5, 0.5 + 0.2 * ASPECT], [0.5, 0.5, 0.7, 0.5], null, null],
};
const ring = { uid: "1", swing: "s", kind: "ellipse", points: [[0.45, 0.45], [0.55, 0.55]], from_us: 0, to_us: 300, label: "", note: "", anchor_us: 0 };

test("a ring goes with the wrist and keeps its size", () => {
  const there = followed({ ...ring, follows: "left_wrist" }, tracks, 100, 20, ASPECT);
  assert.deepEqual(there.points.map((p) => p.map((v) => Number(v.toFixed(6)))), [[0.55, 0.35], [0.65, 0.45]]);
});

test("what is not seen is not drawn, and what follows nothing stays", () => {
  assert.equal(followed({ ...ring, follows: "left_wrist" }, tracks, 200, 20, ASPECT), null);
  assert.equal(followed({ ...ring, follows: "left_wrist" }, tracks, 300, 20, ASPECT), null);
  assert.equal(followed({ ...ring, follows: "left_wrist" }, tracks, 150, 20, ASPECT), null);
  assert.equal(followed(ring, tracks, 200, 20, ASPECT), ring);
  const kept = { ...ring, follows: "left_wrist" };
  assert.equal(followed(kept, null, 100, 20, ASPECT), kept);
});

test("a line on the shaft turns with it and is not stretched", () => {
  const line = { ...ring, kind: "line", follows: "shaft", points: [[0.5, 0.5], [0.5, 0.5 + 0.2 * ASPECT]] };
  const [a, b] = followed(line, tracks, 100, 20, ASPECT).points;
  assert.ok(Math.hypot(a[0] - 0.5, a[1] - 0.5) < 1e-9);
  assert.ok(Math.hypot(b[0] - 0.7, b[1] - 0.5) < 1e-9);
  assert.ok(Math.abs(distance(a, b, ASPECT) - distance(...line.points, ASPECT)) < 1e-9);
});
