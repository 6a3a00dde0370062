import assert from "node:assert/strict";
import { test } from "node:test";

import { FrameTimes } from "../../coachhub/web/static/js/core/frametimes.js";

const even = Array.from({ length: 150 }, (_, i) => Math.round((i * 1e6) / 60));

test("a frame is on screen from its own time until the next one's", () => {
  const frames = new FrameTimes([0, 10, 40, 50]);
  assert.deepEqual([0, 9, 10, 39, 40, 49, 50, 999, -5].map((us) => frames.frameAt(us)), [0, 0, 1, 1, 2, 2, 3, 3, 0]);
});

test("the time to seek to lies strictly inside each frame, also at a variable rate", () => {
  let seed = 7;
  const random = () => { seed = (seed * 16807) % 2147483647; return seed / 2147483647; };
  const times = [0];
  for (let i = 1; i < 400; i += 1) times.push(times[i - 1] + 2000 + Math.floor(random() * 60_000));
  const frames = new FrameTimes(times);
  for (let i = 0; i < frames.count; i += 1) {
    assert.ok(frames.middleOf(i) > frames.startOf(i) && frames.middleOf(i) < frames.endOf(i));
    assert.equal(frames.frameAt(frames.middleOf(i)), i);
  }
});

test("the search agrees with counting one by one", () => {
  const frames = new FrameTimes(even);
  for (let us = 0; us < 2_600_000; us += 3331) {
    const slow = even.filter((start) => start <= us).length - 1;
    assert.equal(frames.frameAt(us), slow);
  }
});

test("an event between two frames belongs to the nearer one", () => {
  const frames = new FrameTimes([0, 10, 20]);
  assert.deepEqual([4, 6, 14, 16, 99].map((us) => frames.nearest(us)), [0, 1, 1, 2, 2]);
});

test("the last frame ends a usual step later, or when it is told", () => {
  assert.equal(new FrameTimes([0, 10, 20]).endUs, 30);
  assert.equal(new FrameTimes([0, 10, 20], 27).endUs, 27);
});

test("steps past the ends stay inside", () => {
  const frames = new FrameTimes(even);
  assert.deepEqual([frames.clamp(-3), frames.clamp(1e9)], [0, 149]);
  assert.ok(Math.abs(frames.meanRate - 60) < 0.01);
});

test("times that don't rise, and none at all, are refused by name", () => {
  assert.throws(() => new FrameTimes([0, 10, 10]), /startsUs must rise, but frame 2/);
  assert.throws(() => new FrameTimes([]), /at least one time/);
});
