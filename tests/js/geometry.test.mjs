import assert from "node:assert/strict";
import { test } from "node:test";

import {
  angleDeg, barbs, distance, distanceToEllipse, distanceToSegment, ellipsePoints, leanDeg, simplified, stepInside,
} from "../../coachhub/web/static/js/core/geometry.js";

const near = (a, b, tolerance = 1e-9) => assert.ok(Math.abs(a - b) <= tolerance, `${a} is not ${b}`);
const TALL = 720 / 1280;

test("angles are those of the picture, not of the unit square", () => {
  // 45 degrees in pixels: 100 px right, 100 px up, on a 720 x 1280 picture.
  near(angleDeg([0.5 + 100 / 720, 0.5 - 100 / 1280], [0.5, 0.5], [0.5 + 100 / 720, 0.5], TALL), 45);
  near(angleDeg([0.6, 0.5], [0.5, 0.5], [0.4, 0.5], TALL), 180);
});

test("the angle of a 3-4-5 triangle (Euclid I.48: its largest angle is right)", () => {
  near(angleDeg([3, 0], [0, 0], [0, 4], 1), 90);
  near(angleDeg([0, 0], [3, 0], [0, 4], 1), (Math.acos(3 / 5) * 180) / Math.PI);
});

test("an angle agrees with the law of cosines on many triangles", () => {
  for (let i = 1; i < 60; i += 1) {
    const [a, v, b] = [[(i * 7 % 13) / 13, (i * 5 % 11) / 11], [(i * 3 % 17) / 17, 0.4], [0.9, (i * 2 % 19) / 19]];
    const [p, q, r] = [distance(v, a, TALL), distance(v, b, TALL), distance(a, b, TALL)];
    near(angleDeg(a, v, b, TALL), (Math.acos((p * p + q * q - r * r) / (2 * p * q)) * 180) / Math.PI, 1e-6);
  }
});

test("an arm without length has no angle", () => {
  assert.ok(Number.isNaN(angleDeg([0.5, 0.5], [0.5, 0.5], [0.1, 0.2], TALL)));
});

test("a line's lean: 0 upright, 90 level, the same both ways", () => {
  near(leanDeg([0.5, 0.1], [0.5, 0.9], TALL), 0);
  near(leanDeg([0.1, 0.5], [0.9, 0.5], TALL), 90);
  near(leanDeg([0.1, 0.2], [0.4, 0.9], TALL), leanDeg([0.4, 0.9], [0.1, 0.2], TALL));
});

test("distance to a segment: foot inside, and beyond both ends", () => {
  near(distanceToSegment([0.5, 0.3], [0, 0], [1, 0], 1), 0.3);
  near(distanceToSegment([-0.3, 0.4], [0, 0], [1, 0], 1), 0.5);
  near(distanceToSegment([1.3, 0.4], [0, 0], [1, 0], 1), 0.5);
  near(distanceToSegment([0.3, 0.4], [0, 0], [0, 0], 1), 0.5);
});

test("points of an ellipse satisfy its equation, and the rim is what counts", () => {
  for (const [x, y] of ellipsePoints([0.2, 0.3], [0.6, 0.9], 40)) near(((x - 0.4) / 0.2) ** 2 + ((y - 0.6) / 0.3) ** 2, 1);
  near(distanceToEllipse([0.5, 0.5], [0, 0], [1, 1], 1), 0.5, 0.003);
});

test("a step is cut so that no point leaves the picture and the shape stays as it is", () => {
  assert.deepEqual(stepInside([[0.1, 0.5], [0.9, 0.5]], 0.5, 0), [0.09999999999999998, 0]);
  assert.deepEqual(stepInside([[0.1, 0.5]], -0.5, 0.2), [-0.1, 0.2]);
});

test("a freehand path keeps its corners and never strays further than the tolerance", () => {
  const path = [];
  for (let i = 0; i <= 50; i += 1) path.push([i / 100, 0.2 + (i % 2) * 0.0005]);
  for (let i = 1; i <= 50; i += 1) path.push([0.5, 0.2 + i / 100]);
  const kept = simplified(path, 0.002, 1);
  assert.equal(kept.length, 3);
  for (const p of path) {
    const away = Math.min(...kept.slice(1).map((q, i) => distanceToSegment(p, kept[i], q, 1)));
    assert.ok(away <= 0.002);
  }
});

test("both barbs of an arrow have the wanted length and lie behind the tip", () => {
  for (const barb of barbs([0.2, 0.8], [0.6, 0.4], 0.05, TALL)) {
    near(distance(barb, [0.6, 0.4], TALL), 0.05);
    assert.ok(distance(barb, [0.2, 0.8], TALL) < distance([0.6, 0.4], [0.2, 0.8], TALL));
  }
});
