import assert from "node:assert/strict";
import { test } from "node:test";
import { attitude, brightness, frameWords, greys, joined, levelWords, lightWords, movedBox, rateWords } from "../../coachhub/web/static/js/core/filmchecks.js";

test("upright is beta 90, flat on the table is beta 0 (W3C Device Orientation)", () => {
  const upright = attitude(90, 0);
  assert.ok(Math.abs(upright.roll) < 1e-6 && Math.abs(upright.lean) < 1e-6);
  assert.ok(Math.abs(Math.abs(attitude(0, 0).lean) - 90) < 1e-6);
  assert.ok(Math.abs(Math.abs(attitude(80, 0).lean) - 10) < 1e-6);
});

test("rolled like a steering wheel by 10 degrees: gravity keeps its length and turns by as much", () => {
  // Gravity (sin 10, -cos 10, 0): sin(beta) = cos 10, so beta = 80, and cos(beta) sin(gamma) = sin 10, so gamma = 90.
  const held = attitude(80, 90);
  assert.ok(Math.abs(held.roll - 10) < 1e-6 && Math.abs(held.lean) < 1e-6);
  assert.equal(levelWords(held).level, "warn");
  assert.match(levelWords(held).sentence, /10°/);
});

test("a phone that says nothing gets advice by eye", () => {
  assert.equal(levelWords(attitude(null, null)).level, "unknown");
  assert.equal(rateWords(undefined).level, "unknown");
  assert.equal(lightWords(null).level, "unknown");
  assert.equal(frameWords(null).level, "unknown");
});

test("rates and light in words", () => {
  assert.equal(rateWords(30).level, "warn");
  assert.equal(rateWords(60).level, "ok");
  assert.equal(lightWords(brightness(greys(new Uint8ClampedArray([10, 10, 10, 255])))).level, "warn");
  assert.ok(Math.abs(brightness(greys(new Uint8ClampedArray([255, 255, 255, 255]))) - 1) < 1e-6);
});

test("the box of what moved, and what it says of the edges", () => {
  const width = 20;
  const still = new Float32Array(20 * 40).fill(100);
  const moved = still.slice();
  for (let y = 10; y < 30; y++) for (let x = 5; x < 15; x++) moved[y * width + x] = 200;
  moved[0] = 255;  // one noisy point
  const box = movedBox(still, moved, width);
  assert.deepEqual(box, { left: 0.25, right: 0.75, top: 0.25, bottom: 0.75 });
  assert.equal(frameWords(box).level, "ok");
  assert.match(frameWords({ ...box, top: 0 }).sentence, /over the top of/);
  assert.match(frameWords({ ...box, top: 0.6 }).sentence, /nearer/);
  assert.deepEqual(joined(null, box), box);
  assert.equal(movedBox(still, still, width), null);
});
