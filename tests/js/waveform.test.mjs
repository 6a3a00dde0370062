import assert from "node:assert/strict";
import { test } from "node:test";

import { loudness, wavePath } from "../../coachhub/web/static/js/core/waveform.js";

const quiet = Array.from({ length: 100 }, () => [-0.1, 0.1]);
const click = quiet.map((one, i) => (i === 60 ? [-0.8, 0.3] : one));
const sound = { start_us: 0, step_us: 10_000, peaks: click };
const span = { start_us: 0, end_us: 1_000_000 };

test("the loudest column stands at the time of the click, the others in proportion", () => {
  const sizes = loudness(sound, span, 50);
  assert.equal(sizes.length, 50);
  assert.equal(sizes[30], 1);
  assert.equal(sizes[10], 0.125);
});

test("a stretch of the clip shows its own part, and sound that begins later stands later", () => {
  const part = loudness(sound, { start_us: 500_000, end_us: 700_000 }, 20);
  assert.equal(part.indexOf(1), 10);
  const late = loudness({ ...sound, start_us: 200_000 }, { start_us: 0, end_us: 1_200_000 }, 60);
  assert.equal(late.indexOf(1), 40);
  assert.deepEqual(late.slice(0, 9), Array(9).fill(0));
});

test("finer than the steps no column is empty", () => {
  assert.ok(loudness(sound, { start_us: 100_000, end_us: 200_000 }, 40).every((size) => size === 0.125));
});

test("silence and clips without sound show nothing", () => {
  assert.equal(loudness(null, span, 10), null);
  assert.equal(loudness({ ...sound, peaks: [[0, 0.005]] }, span, 10), null);
  assert.equal(loudness({ ...sound, peaks: [] }, span, 10), null);
});

test("the shape goes there above and back below", () => {
  assert.equal(wavePath([0, 1]), "M0 1.000L1 0.000L1 2.000L0 1.000Z");
});
