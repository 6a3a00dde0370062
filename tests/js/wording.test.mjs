import assert from "node:assert/strict";
import { afterEach, test } from "node:test";

import { timeWords } from "../../coachhub/web/static/js/core/uploadqueue.js";
import { inSeconds } from "../../coachhub/web/static/js/core/timecode.js";
import { decimal, locale, say } from "../../coachhub/web/static/js/core/wording.js";

afterEach(() => { delete globalThis.SITE_WORDS; });

function german() {
  globalThis.SITE_WORDS = { language: "de", said: { "Saved {time}": "{time} gespeichert", "about {minutes} minutes left": "noch etwa {minutes} Minuten" } };
}

test("without other words the sentence itself is said, its gaps filled", () => {
  assert.equal(say("Saved {time}", { time: "8:00" }), "Saved 8:00");
  assert.equal(decimal(1.25, 1), (1.25).toFixed(1));
  assert.equal(locale(), undefined);
});

test("the page's language says it, and what it lacks stays English", () => {
  german();
  assert.equal(say("Saved {time}", { time: "8:00" }), "8:00 gespeichert");
  assert.equal(say("Deleted."), "Deleted.");
  assert.equal(timeWords(130), "noch etwa 2 Minuten");
  assert.equal(locale(), "de");
});

test("a gap that nobody fills, and words that look like a gap, stay as they are", () => {
  assert.equal(say("{a} and {b}", { a: "{b}" }), "{b} and {b}");
});

test("numbers have the language's decimal mark, and no groups", () => {
  german();
  assert.equal(decimal(1234.5, 2), "1234,50");
  assert.equal(inSeconds(-1_234_000), "−1,234 s");
});
