import assert from "node:assert/strict";
import { test } from "node:test";

import { groupsKept, groupsWanted } from "../../coachhub/web/static/js/core/decodeplan.js";

test("a tall clip keeps three groups, a phone two, a small picture more, a giant one none", () => {
  const tall = { width: 720, height: 1280, largest: 10, isSmall: false };
  const kept = [tall, { ...tall, isSmall: true }, { ...tall, width: 360, height: 640 }, { ...tall, largest: 250 }].map(groupsKept);
  assert.deepEqual(kept, [3, 2, 6, 0]);
});

test("no clip that is taken needs more than 160 MB", () => {
  for (const width of [320, 720, 960, 1280]) {
    for (const largest of [1, 10, 30, 60, 250]) {
      const groups = groupsKept({ width, height: 1280, largest, isSmall: false });
      assert.ok(groups * width * 1280 * 1.5 * largest <= 160e6);
    }
  }
});

test("playing looks ahead, standing still looks both ways, the ends cut off", () => {
  const now = { group: 5, direction: 1, playing: true, most: 3, groups: 20 };
  assert.deepEqual(groupsWanted(now), [5, 6, 7]);
  assert.deepEqual(groupsWanted({ ...now, direction: -1 }), [5, 4, 3]);
  assert.deepEqual(groupsWanted({ ...now, playing: false }), [5, 6, 4]);
  assert.deepEqual(groupsWanted({ ...now, playing: false, most: 2, direction: -1 }), [5, 4]);
  assert.deepEqual(groupsWanted({ ...now, group: 19 }), [19]);
  assert.deepEqual(groupsWanted({ ...now, group: 0, direction: -1, playing: false }), [0, 1]);
});
