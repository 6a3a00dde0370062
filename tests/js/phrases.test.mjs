import assert from "node:assert/strict";
import { test } from "node:test";

import { putIn } from "../../coachhub/web/static/js/core/phrases.js";

test("a sentence is put in at the caret with room around it", () => {
  assert.deepEqual(putIn("", "Wait at the top.", 0, 0), { text: "Wait at the top.", caret: 16 });
  assert.deepEqual(putIn("Good.", "Wait.", 5, 5), { text: "Good. Wait.", caret: 11 });
  assert.deepEqual(putIn("Good. End.", "Wait.", 6, 6), { text: "Good. Wait. End.", caret: 11 });
  assert.deepEqual(putIn("Good. xx\nEnd.", "Wait.", 6, 8), { text: "Good. Wait.\nEnd.", caret: 11 });
});
