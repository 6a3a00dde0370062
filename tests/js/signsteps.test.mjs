import assert from "node:assert/strict";
import { test } from "node:test";

import { nextFrame, nextOf } from "../../coachhub/web/static/js/core/signsteps.js";

test("one after the other, round and round, and nothing where there is nothing", () => {
  assert.deepEqual([nextOf(-1, 3), nextOf(0, 3), nextOf(2, 3)], [0, 1, 0]);
  assert.deepEqual([nextOf(-1, 3, -1), nextOf(0, 3, -1)], [2, 2]);
  assert.equal(nextOf(-1, 0), -1);
});

test("evidence frames come in order of time, each once, and then again", () => {
  const frames = [900, 300, 900, 500];
  assert.equal(nextFrame(frames, null), 300);
  assert.equal(nextFrame(frames, 300), 500);
  assert.equal(nextFrame(frames, 900), 300);
  assert.equal(nextFrame(frames, 77), 300);
  assert.equal(nextFrame([], null), null);
});
