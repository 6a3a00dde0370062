import assert from "node:assert/strict";
import { test } from "node:test";

import { MasterClock } from "../../coachhub/web/static/js/core/masterclock.js";

test("an eighth of the speed backwards goes 2 ms of the clip back in 16 ms", () => {
  const clock = new MasterClock();
  clock.start(500_000, -0.125);
  assert.equal(clock.read(1000), 500_000);
  assert.equal(clock.read(1016), 498_000);
});

test("a new speed counts from here on", () => {
  const clock = new MasterClock();
  clock.start(0, 1);
  clock.read(0);
  clock.read(50);
  clock.rate = 0.5;
  assert.equal(clock.read(100), 75_000);
});

test("it stands while a picture is missing and doesn't catch up", () => {
  const clock = new MasterClock();
  clock.start(0, 1);
  clock.read(0);
  clock.hold(true);
  assert.equal(clock.read(90), 0);
  clock.hold(false);
  assert.equal(clock.read(100), 10_000);
});

test("a page that was hidden doesn't leap", () => {
  const clock = new MasterClock();
  clock.start(0, 1);
  clock.read(0);
  assert.equal(clock.read(60_000), 100_000);
});
