import assert from "node:assert/strict";
import { test } from "node:test";

import * as queue from "../../coachhub/web/static/js/core/uploadqueue.js";

const NOW = 1_000_000;
const ME = { user: "me", tab: "tab-1", now: NOW };

/** @param {object} [more] */
function item(more = {}) {
  const made = queue.newItem(
    { id: "a", user: "me", submission: "s1", view: "dtl", name: "swing.mov", size: 2_000_000, type: "video/quicktime", report: {} },
    NOW - 5000,
  );
  return { ...made, ...more };
}

test("an empty file never enters the queue", () => {
  assert.throws(() => item(queue.newItem({ ...item(), size: 0 }, NOW)), /size must be above 0 bytes, not 0/);
});

test("the oldest waiting item of this person moves first", () => {
  const items = [
    item({ id: "late", addedAt: NOW - 1 }), item({ id: "early", addedAt: NOW - 9000 }),
    item({ id: "hers", user: "she", addedAt: 0 }), item({ id: "held", state: "paused", addedAt: 0 }),
    item({ id: "over", state: "done", addedAt: 0 }), item({ id: "not yet", nextAt: NOW + 1, addedAt: 0 }),
  ];
  assert.equal(queue.nextItem(items, ME)?.id, "early");
});

test("one tab at a time moves something; a closed tab's item is taken over when its lease ran out", () => {
  const others = queue.leased(item({ id: "moving" }), "tab-2", NOW);
  assert.equal(queue.nextItem([others, item({ id: "free" })], ME), null);
  const later = { ...ME, now: NOW + queue.LEASE_MS + 1 };
  assert.equal(queue.nextItem([others], later)?.id, "moving");
  assert.equal(queue.nextLook([others], "me", NOW), queue.LEASE_MS);
});

test("a lost connection waits longer each time, at most a minute, and never stops", () => {
  let one = item({ state: "moving" });
  const waits = [];
  for (let round = 0; round < 12; round += 1) {
    one = queue.failed(one, 0, "", NOW, 1);
    waits.push(one.nextAt - NOW);
    assert.equal(one.state, "waiting");
  }
  assert.deepEqual(waits.slice(0, 6), [2000, 4000, 8000, 16000, 32000, 60000]);
  assert.equal(Math.max(...waits), 60_000);
  assert.equal(queue.waitMs(3, 0), 4000);
});

test("bytes that arrive forgive earlier failures; the same count does not", () => {
  const tried = item({ state: "moving", tries: 4, sent: 1000 });
  assert.equal(queue.advanced(tried, 1000, NOW).tries, 4);
  assert.equal(queue.advanced(tried, 1001, NOW).tries, 0);
});

// Status codes of the tus protocol 1.0 and of HTTP (RFC 9110).
for (const [status, state] of /** @type {[number, string][]} */ ([
  [0, "waiting"], [409, "waiting"], [423, "waiting"], [460, "waiting"], [500, "waiting"], [503, "waiting"],
  [507, "waiting"], [429, "waiting"], [401, "waiting"], [403, "failed"], [413, "failed"], [415, "failed"], [200, "waiting"],
])) {
  test(`status ${status} leaves the item ${state}`, () => {
    const after = queue.failed(item({ uploadUrl: "/uploads/x", sent: 5 }), status, "", NOW, 0.5);
    assert.equal(after.state, state);
    assert.notEqual(after.problem, "");
    assert.equal(after.sent, 5);
  });
}

test("an upload that ran out on the server starts anew, but only once", () => {
  const anew = queue.failed(item({ uploadUrl: "/uploads/x", sent: 5 }), 404, "", NOW, 0.5);
  assert.deepEqual([anew.state, anew.uploadUrl, anew.sent], ["waiting", "", 0]);
  assert.equal(queue.failed(anew, 404, "", NOW, 0.5).state, "failed");
});

test("the server's sentence is shown, its HTML is not", () => {
  assert.equal(queue.meaningOf(413, "This clip is larger than 500 MB.").problem, "This clip is larger than 500 MB.");
  const json = JSON.stringify({ code: "quota", sentence: "Your videos fill all the room." });
  assert.equal(queue.meaningOf(413, json).problem, "Your videos fill all the room.");
  assert.equal(queue.meaningOf(403, "{broken").problem, "The site refused this file (403).");
  assert.equal(queue.meaningOf(403, "<!doctype html><p>x").problem, "The site refused this file (403).");
});

test("pause and go on", () => {
  const held = queue.paused(queue.leased(item({ sent: 1_000_000 }), "tab-1", NOW));
  assert.deepEqual([held.state, held.leaseBy], ["paused", ""]);
  assert.equal(queue.stateWords(held, true, null), "Paused at 50 %");
  assert.equal(queue.nextItem([held], ME), null);
  assert.equal(queue.nextItem([queue.resumed(held)], ME)?.id, "a");
});

test("all have arrived only when nothing of the submission is left", () => {
  const done = queue.finished(item());
  assert.equal(queue.allArrived([done, item({ id: "b", submission: "s2" })], "s1"), true);
  assert.equal(queue.allArrived([done, item({ id: "b", state: "paused" })], "s1"), false);
  assert.equal(queue.allArrived([done, item({ id: "b", state: "failed" })], "s1"), false);
});

test("the same file twice for one submission is noticed", () => {
  const items = [item()];
  assert.equal(queue.alreadyQueued(items, { name: "swing.mov", size: 2_000_000 }, "s1"), true);
  assert.equal(queue.alreadyQueued(items, { name: "swing.mov", size: 2_000_000 }, "s2"), false);
  assert.equal(queue.alreadyQueued(items, { name: "swing.mov", size: 2_000_001 }, "s1"), false);
});

test("speed over the last quarter of a minute, and what is left in words", () => {
  const speed = new queue.Speed();
  assert.equal(speed.bytesPerSecond(), null);
  for (let second = 0; second <= 40; second += 1) speed.add(second * 1000, second < 20 ? second * 10 : 200 + (second - 20) * 100_000);
  assert.equal(speed.bytesPerSecond(), 100_000);
  const words = queue.movingWords(item({ sent: 1_000_000 }), 100_000);
  assert.equal(words, "50 % of 2.0 MB, 100 kB a second, a few seconds left".replace("a few seconds", "about 10 seconds"));
});

test("a restart from zero does not give a negative speed", () => {
  const speed = new queue.Speed();
  speed.add(0, 500_000);
  speed.add(1000, 0);
  speed.add(2000, 100_000);
  assert.equal(speed.bytesPerSecond(), 100_000);
});

test("words for sizes and times", () => {
  assert.deepEqual([999, 1000, 999_499, 1_500_000, 52_000_000].map(queue.sizeWords), ["999 bytes", "1 kB", "999 kB", "1.5 MB", "52 MB"]);
  assert.deepEqual([3, 44, 300, 7200].map(queue.timeWords), ["a few seconds left", "about 40 seconds left", "about 5 minutes left", "about 2 hours left"]);
});
