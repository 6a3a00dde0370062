import assert from "node:assert/strict";
import { test } from "node:test";

import { inMinutes, inSeconds, rateLabel, spanInSeconds, toMicros, toSeconds } from "../../coachhub/web/static/js/core/timecode.js";
import { grasped, inOrder, neighbour, nextStop, otherRate, shareOf, stretch, timeAt } from "../../coachhub/web/static/js/core/timeline.js";

const events = [{ name: "impact", label: "impact", t_us: 1_500_000, se_us: 0 }, { name: "top", label: "top", t_us: 1_200_000, se_us: 0 }];
const frameOf = (us) => Math.round(us / 16_667);

test("seconds and minutes as people read them", () => {
  assert.equal(inSeconds(1_234_567), "1.235 s");
  assert.equal(inSeconds(-20_000), "−0.020 s");
  assert.equal(inSeconds(-1, 2), "0.00 s");
  assert.equal(inMinutes(125_900), "2:05");
  assert.equal(spanInSeconds(5, 5), "0.000 s");
  assert.deepEqual([1, 0.5, 0.25, 0.125].map(rateLabel), ["×1", "×½", "×¼", "×⅛"]);
  assert.equal(toSeconds(toMicros(1.2345678)), 1.234568);
});

test("next and previous event, and standing on one moves on", () => {
  const name = (frame, way) => neighbour(events, frame, way, frameOf)?.name ?? null;
  assert.deepEqual([name(0, 1), name(72, 1), name(90, 1)], ["top", "impact", null]);
  assert.deepEqual([name(149, -1), name(90, -1), name(72, -1)], ["impact", "top", null]);
  assert.deepEqual(inOrder(events).map((event) => event.name), ["top", "impact"]);
  assert.equal(events[0].name, "impact");
});

test("the bar covers the whole clip of one swing, and one of several with some room", () => {
  const swing = { start_us: 3_000_000, end_us: 5_000_000 };
  assert.deepEqual(stretch(swing, 1, 9_000_000), { start_us: 0, end_us: 9_000_000 });
  assert.deepEqual(stretch(swing, 2, 5_100_000), { start_us: 2_750_000, end_us: 5_100_000 });
  assert.equal(shareOf(4_000_000, swing), 0.5);
  assert.deepEqual([shareOf(0, swing), shareOf(9e9, swing)], [0, 1]);
});

test("a replay halts at the first stop not yet passed, once", () => {
  assert.equal(nextStop([300, 100, 200], 100, 250), 200);
  assert.equal(nextStop([300, 100, 200], 50, 400), 100);
  assert.equal(nextStop([300], 300, 400), null);
});

test("slower and faster stop at the ends", () => {
  assert.equal(otherRate(1, 1), 1);
  assert.equal(otherRate(0.5, -1), 0.25);
  assert.equal(otherRate(0.125, -1), 0.125);
});

test("a place on the bar and its time belong together", () => {
  const span = { start_us: 200_000, end_us: 1_200_000 };
  for (const share of [0, 0.25, 1]) assert.equal(shareOf(timeAt(share, span), span), share);
  assert.equal(timeAt(-3, span), 200_000);
  assert.equal(timeAt(7, span), 1_200_000);
});

test("a hand grasps the nearest event within its reach, or none", () => {
  assert.equal(grasped(events, 1_480_000, 50_000)?.name, "impact");
  assert.equal(grasped(events, 1_349_999, 200_000)?.name, "top");
  assert.equal(grasped(events, 1_350_001, 200_000)?.name, "impact");
  assert.equal(grasped(events, 1_350_000, 100_000), null);
  assert.equal(grasped([], 0, 1e9), null);
});
