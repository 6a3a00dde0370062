import assert from "node:assert/strict";
import { test } from "node:test";

import { newUuid } from "../../coachhub/web/static/js/core/ids.js";

test("a random UUID has the version and variant of RFC 9562, section 5.4", () => {
  const all = Array.from({ length: 200 }, () => newUuid());
  for (const uuid of all) assert.match(uuid, /^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
  assert.equal(new Set(all).size, 200);
});
