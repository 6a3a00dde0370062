import assert from "node:assert/strict";
import { test } from "node:test";
import { choicesFor, chosen, maySend } from "../../coachhub/web/static/js/core/sendwhen.js";

test("Wi-Fi is a choice only where the browser tells the kind of network", () => {
  assert.deepEqual(choicesFor(undefined).map(([value]) => value), ["now", "later"]);
  assert.deepEqual(choicesFor("cellular").map(([value]) => value), ["now", "wifi", "later"]);
});

test("what is kept from elsewhere never sends more than was wanted", () => {
  assert.equal(chosen(null, undefined), "now");
  assert.equal(chosen("wifi", undefined), "later");
  assert.equal(chosen("nonsense", "wifi"), "now");
});

test("Wi-Fi waits on a mobile network and goes on a free one", () => {
  assert.equal(maySend("wifi", "cellular"), false);
  assert.equal(maySend("wifi", "wifi"), true);
  assert.equal(maySend("wifi", "ethernet"), true);
  assert.equal(maySend("now", "cellular"), true);
  assert.equal(maySend("later", "wifi"), false);
});
