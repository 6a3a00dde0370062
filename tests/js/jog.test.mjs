import assert from "node:assert/strict";
import { test } from "node:test";

import { WheelJog, draggedFrames } from "../../coachhub/web/static/js/core/jog.js";

const turn = (deltaY, deltaMode = 0, deltaX = 0) => ({ deltaX, deltaY, deltaMode });

test("small movements of a touchpad add up to frames", () => {
  const jog = new WheelJog();
  assert.deepEqual([15, 15, 15, 15, 15, 15].map((px) => jog.frames(turn(px))), [0, 0, 1, 0, 0, 1]);
});

test("turning back starts afresh", () => {
  const jog = new WheelJog();
  jog.frames(turn(39));
  assert.deepEqual([jog.frames(turn(-20)), jog.frames(turn(-20))], [0, -1]);
});

test("lines, pages and sideways turns count too", () => {
  const jog = new WheelJog();
  assert.deepEqual([jog.frames(turn(2, 1)), jog.frames(turn(-1, 2)), jog.frames(turn(3, 0, 80))], [1, -10, 2]);
});

test("a drag is eight pixels a frame either way", () => {
  assert.deepEqual([7, 8, 41, -7, -80].map(draggedFrames), [0, 1, 5, 0, -10]);
});
