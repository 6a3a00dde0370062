import assert from "node:assert/strict";
import { test } from "node:test";

import { rateOf } from "../../coachhub/web/static/js/core/framerate.js";
import { isBlocked, judge, reportOf } from "../../coachhub/web/static/js/core/phonecheck.js";

const GOOD = {
  size: 9_000_000, isVideo: true, durationS: 4.2, fps: { value: 239.7, sure: "counted" }, width: 1080, height: 1920,
  luma: 0.45, canShow: true,
};

/** @param {object} more */
const levels = (more) => Object.fromEntries(judge({ ...GOOD, ...more }).map(({ code, level }) => [code, level]));

test("a good clip: all well, and one thing that only the site can see", () => {
  const findings = judge(GOOD);
  assert.equal(isBlocked(findings), false);
  assert.deepEqual(findings.map(({ level }) => level), ["ok", "ok", "ok", "ok", "ok", "unknown"]);
  assert.match(findings.at(-1).sentence, /whole body is in the picture.* checked after it arrives/);
  assert.match(findings[1].sentence, /240 pictures a second/);
});

// The limits of the site: 60 s, 500 MB (MiB as counted there), 4096 pixels.
for (const [code, more] of /** @type {[string, object][]} */ ([
  ["too_long", { durationS: 60.01 }], ["too_big", { size: 500 * 1024 * 1024 + 1 }], ["empty", { size: 0 }],
  ["no_video", { isVideo: false }], ["too_many_pixels", { width: 10_000, height: 10_000 }],
])) {
  test(`${code} blocks`, () => {
    assert.equal(levels(more)[code], "block");
    assert.equal(isBlocked(judge({ ...GOOD, ...more })), true);
  });
}

test("exactly at the limits nothing blocks", () => {
  assert.equal(isBlocked(judge({ ...GOOD, durationS: 60, size: 500 * 1024 * 1024, width: 2160, height: 4096 })), false);
});

for (const [code, more] of /** @type {[string, object][]} */ ([
  ["slow_rate", { fps: { value: 29.97, sure: "counted" } }], ["sideways", { width: 1920, height: 1080 }],
  ["small", { width: 270, height: 480 }], ["dark", { luma: 0.1 }], ["glare", { luma: 0.95 }], ["short", { durationS: 0.6 }],
])) {
  test(`${code} warns and does not block`, () => {
    assert.equal(levels(more)[code], "warn");
    assert.equal(isBlocked(judge({ ...GOOD, ...more })), false);
  });
}

test("what the phone can't find out is said to be unchecked", () => {
  const found = levels({ durationS: null, fps: null, width: null, height: null, luma: null, canShow: false });
  assert.deepEqual(new Set(Object.values(found)), new Set(["unknown"]));
  assert.equal(Object.keys(found).length, 5);
});

test("a rate that the screen limits is no reason for a warning", () => {
  assert.equal(levels({ fps: { value: 30, sure: "at_least" } }).rate_unknown, "unknown");
  assert.equal(levels({ fps: { value: 59.9, sure: "at_least" } }).rate, "ok");
});

test("the report names what was not well", () => {
  const facts = { ...GOOD, luma: 0.05 };
  assert.deepEqual(reportOf(facts, judge(facts)).codes, ["dark", "after_arrival"]);
  assert.equal(reportOf(facts, judge(facts)).fps_sure, "counted");
});

/** @param {number} fps @param {number} count */
const steady = (fps, count) => Array.from({ length: count }, (_, index) => index / fps);

test("an even row of shown pictures is the rate", () => {
  const rate = rateOf(steady(30, 20));
  assert.equal(rate?.sure, "measured");
  assert.ok(Math.abs((rate?.value ?? 0) - 30) < 1e-9);
});

test("240 pictures a second on a 60 Hz screen: at least 60", () => {
  const rate = rateOf(steady(60, 40));
  assert.equal(rate?.sure, "at_least");
  assert.equal(Math.round(rate?.value ?? 0), 60);
});

test("a stuttering row is a lower bound only", () => {
  const uneven = steady(50, 60).filter((_, index) => index % 3 !== 1);
  assert.equal(rateOf(uneven)?.sure, "at_least");
});

test("too few pictures say nothing", () => {
  assert.equal(rateOf(steady(30, 5)), null);
});
