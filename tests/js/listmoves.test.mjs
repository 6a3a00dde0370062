import assert from "node:assert/strict";
import { test } from "node:test";

import { target } from "../../coachhub/web/static/js/core/listmoves.js";

// As in the WAI-ARIA Authoring Practices for a vertical list: arrows stop at the ends, Home and End reach them.
const cases = [
  ["ArrowDown", -1, 3, 0],
  ["ArrowDown", 0, 3, 1],
  ["ArrowDown", 2, 3, 2],
  ["ArrowUp", 2, 3, 1],
  ["ArrowUp", 0, 3, 0],
  ["ArrowUp", -1, 3, 0],
  ["Home", 2, 3, 0],
  ["End", 0, 3, 2],
  ["ArrowLeft", 1, 3, null],
  ["a", 1, 3, null],
  ["End", -1, 0, null],
];

for (const [key, at, count, to] of cases) {
  test(`${key} at ${at} of ${count} leads to ${to}`, () => assert.equal(target(key, at, count), to));
}
