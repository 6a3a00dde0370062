import assert from "node:assert/strict";
import { test } from "node:test";

import { FrameCache } from "../../coachhub/web/static/js/core/framecache.js";

/** Counts what is open, apart from what the cache says. */
function pictures() {
  const count = { open: 0, closedTwice: 0 };
  const make = () => {
    let open = true;
    count.open += 1;
    return { close() { if (open) count.open -= 1; else count.closedTwice += 1; open = false; } };
  };
  return { count, make };
}

test("the least recently used group leaves and its frames are closed", () => {
  const { count, make } = pictures();
  const cache = new FrameCache(2);
  for (const group of [0, 1]) {
    cache.open(group);
    for (let i = 0; i < 10; i += 1) cache.put(group, group * 10 + i, make());
  }
  cache.touch(0);
  cache.open(2);
  assert.deepEqual([0, 1, 2].map((group) => cache.has(group)), [true, false, true]);
  assert.deepEqual([count.open, cache.held], [10, 10]);
});

test("frames of a group that left while it was decoded are closed at once", () => {
  const { count, make } = pictures();
  const cache = new FrameCache(1);
  cache.open(0);
  cache.open(5);
  assert.equal(cache.put(0, 3, make()), false);
  assert.equal(count.open, 0);
});

test("a frame that comes twice is held once", () => {
  const { count, make } = pictures();
  const cache = new FrameCache(1);
  cache.open(0);
  cache.put(0, 3, make());
  const second = make();
  cache.put(0, 3, second);
  assert.equal(cache.get(0, 3), second);
  assert.equal(count.open, 1);
});

test("over ten thousand random uses the bound holds and every frame is closed exactly once", () => {
  let seed = 5;
  const random = (most) => { seed = (seed * 16807) % 2147483647; return seed % most; };
  const { count, make } = pictures();
  const cache = new FrameCache(3);
  let worst = 0;
  for (let i = 0; i < 10_000; i += 1) {
    const group = random(5);
    const act = random(60);
    if (act === 0) cache.open(group);
    else if (act < 10) cache.touch(group);
    else cache.put(group, group * 10 + random(10), make());
    worst = Math.max(worst, count.open);
    assert.equal(count.open, cache.held);
  }
  assert.ok(worst > 20 && worst <= 30, `worst ${worst}`);
  cache.clear();
  assert.deepEqual(count, { open: 0, closedTwice: 0 });
});

test("a cache of nothing is refused", () => {
  assert.throws(() => new FrameCache(0), /most must be at least 1/);
});
