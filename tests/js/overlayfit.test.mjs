import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";

import { fitOver, stanceAt } from "../../coachhub/web/static/js/core/overlayfit.js";

/** @param {number} footX @param {number} footY @param {number} topY */
function standing(footX, footY, topY) {
  const still = (x, y) => Array.from({ length: 10 }, () => [x, y, 0.9]);
  return {
    t_us: Array.from({ length: 10 }, (_, i) => i * 10_000),
    joints: {
      left_ankle: still(footX + 0.1, footY), right_ankle: still(footX - 0.1, footY), left_shoulder: still(footX, topY),
    },
  };
}

test("feet come to lie on feet and the shoulders are equally far from them", () => {
  const [small, large] = [{ width: 360, height: 640 }, { width: 720, height: 1280 }];
  const first = stanceAt(standing(0.5, 0.9, 0.3), 40_000, small);
  const second = stanceAt(standing(0.4, 0.8, 0.6), 40_000, large);
  assert.ok(Math.abs(first.tall - 0.6 * 640) < 1e-9);
  const fit = fitOver(first, small, second, large, false);
  assert.ok(fit.byFeet);
  assert.ok(Math.abs(fit.scale - 384 / 256) < 1e-9);
  assert.ok(Math.abs(fit.scale * 0.4 * 720 + fit.dx - 180) < 1e-9);
  assert.ok(Math.abs(fit.scale * 0.8 * 1280 + fit.dy - 576) < 1e-9);
});

test("a left-hander is turned over first", () => {
  const size = { width: 360, height: 640 };
  const first = stanceAt(standing(0.3, 0.9, 0.3), 0, size);
  const second = stanceAt(standing(0.6, 0.9, 0.3), 0, size);
  const fit = fitOver(first, size, second, size, true);
  assert.ok(Math.abs(fit.scale - 1) < 1e-9);
  assert.ok(Math.abs((360 - 0.6 * 360) + fit.dx - 0.3 * 360) < 1e-9);
});

test("without feet the second fills the height", () => {
  const tracks = standing(0.5, 0.9, 0.3);
  tracks.joints.left_ankle.fill(null);
  tracks.joints.right_ankle = tracks.joints.right_ankle.map(([x, y]) => [x, y, 0.2]);
  assert.equal(stanceAt(tracks, 0, { width: 360, height: 640 }), null);
  assert.equal(stanceAt(null, 0, { width: 360, height: 640 }), null);
  const fit = fitOver(null, { width: 360, height: 640 }, null, { width: 720, height: 1280 }, false);
  assert.deepEqual(fit, { scale: 0.5, dx: 0, dy: 0, flip: false, byFeet: false });
});

test("the film lays them over each other as the browser does", () => {
  const cases = JSON.parse(readFileSync(new URL("./overlay_cases.json", import.meta.url), "utf8"));
  const size = ([width, height]) => ({ width, height });
  for (const one of cases) {
    const [a, b] = [size(one.first_size), size(one.second_size)];
    const fit = fitOver(stanceAt(one.first, one.first_us, a), a, stanceAt(one.second, one.second_us, b), b, one.flip);
    for (const name of ["scale", "dx", "dy"]) assert.ok(Math.abs(fit[name] - one.fit[name]) < 1e-6, `${one.name}: ${name}`);
    assert.equal(fit.byFeet, one.fit.by_feet, one.name);
  }
});
