import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";

import { ClockPair, TalkLog, TalkReader, keptUntil, lengthOf, placeAt, shownMarks } from "../../coachhub/web/static/js/core/talk.js";

const cases = JSON.parse(readFileSync(new URL("./talk_cases.json", import.meta.url), "utf8"));
const stroke = (points, uid = "a", kind = "path") => ({ uid, swing: "s", kind, points, from_us: 0, to_us: 10, label: "", note: "" });

for (const one of cases.timelines) {
  test(`time line: ${one.name}`, () => {
    const reader = new TalkReader(one.events);
    for (const look of one.looks) {
      const state = reader.at(look.ms);
      assert.deepEqual(placeAt(state, look.ms), look.place);
      assert.deepEqual(shownMarks(state).map((mark) => [mark.uid, mark.points.length]), look.marks);
    }
  });
}

test("asking an earlier time again gives what was there then", () => {
  const reader = new TalkReader(cases.timelines[0].events);
  const early = JSON.stringify(reader.at(0));
  reader.at(9_999);
  assert.equal(JSON.stringify(reader.at(0)), early);
});

test("taking back the last part trims takes from the end", () => {
  const cuts = [[1, 0, 4000], [2, 500, 2500]];
  assert.equal(lengthOf(cuts), 6000);
  assert.deepEqual(keptUntil(cuts, 5000), [[1, 0, 4000], [2, 500, 1500]]);
  assert.deepEqual(keptUntil(cuts, 4000), [[1, 0, 4000]]);
  assert.deepEqual(keptUntil(cuts, 0), []);
});

test("a second telling of the last five seconds leaves the first telling in its take but out of the talk", () => {
  const log = new TalkLog();
  log.begin([{ kind: "place", swing: "s", us: 0, rate: 0 }]);
  log.note(9000, { kind: "gone", uid: "x" });
  log.end(10_000);
  log.takeBack(5000);
  log.begin([{ kind: "place", swing: "s", us: 7, rate: 0 }]);
  log.end(3000);
  assert.deepEqual(log.cuts, [[1, 0, 5000], [2, 0, 3000]]);
  assert.equal(log.lengthMs, 8000);
  assert.equal(log.script().events.length, 3);
});

test("playing steadily is one event; a picture that waits is noted again", () => {
  const log = new TalkLog();
  log.begin([{ kind: "place", swing: "s", us: 0, rate: 0.5 }]);
  for (let ms = 16; ms < 1000; ms += 16) log.place(ms, { swing: "s", us: ms * 500, rate: 0.5 });
  assert.equal(log.events.length, 1);
  log.place(1000, { swing: "s", us: 400_000, rate: 0.5 });
  assert.equal(log.events.length, 2);
});

test("a growing freehand line is sent in pieces, thirty a second at most", () => {
  const log = new TalkLog();
  log.begin([]);
  const trail = [];
  for (let ms = 0; ms < 1000; ms += 8) {
    trail.push([ms / 1000, 0.5]);
    log.stroke(ms, stroke(trail));
  }
  assert.ok(log.events.length <= 31, String(log.events.length));
  assert.deepEqual(log.events.slice(1).map((event) => event.kind).filter((kind) => kind !== "more"), []);
  const said = log.events.reduce((sum, event) => sum + (event.points ?? event.mark.points).length, 0);
  assert.equal(said, log.state.growing.points.length);
  log.stroke(1000, null);
  assert.equal(log.state.growing, null);
});

test("drawings are told apart: new, changed, gone", () => {
  const log = new TalkLog();
  log.begin([]);
  log.marks(1, [stroke([[0, 0], [1, 1]], "a"), stroke([[0, 0], [1, 1]], "b")]);
  log.marks(2, [stroke([[0, 0], [1, 0.5]], "a")]);
  log.marks(3, [stroke([[0, 0], [1, 0.5]], "a")]);
  assert.deepEqual(log.events.map((event) => [event.ms, event.kind]), [[1, "put"], [1, "put"], [2, "put"], [2, "gone"]]);
});

test("the sound's clock is read with the least delayed reading", () => {
  const clocks = new ClockPair();
  assert.throws(() => clocks.pageMs(2), RangeError);
  for (const [soundS, pageMs] of [[1, 5012], [1.1, 5103], [1.2, 5240]]) clocks.read(soundS, pageMs);
  assert.equal(clocks.pageMs(2), 6003);
});

/** Readings every 33 ms, each up to a sound buffer of 20 ms late; from `fromMs` on the sound lags by `lagMs`. */
function readings(clocks, untilMs, fromMs = Infinity, lagMs = 0) {
  for (let ms = 0, k = 0; ms <= untilMs; ms += 33, k += 1) {
    const lag = ms >= fromMs ? lagMs : 0;
    clocks.read((ms - lag - ((k * 7) % 20)) / 1000, 5000 + ms);
  }
  return clocks;
}

test("a sound that stumbles is noticed within two seconds, and a late reading is none", () => {
  assert.equal(readings(new ClockPair(), 30_000).slipMs, 0);
  assert.equal(readings(new ClockPair(), 4000, 3500, 80).slipMs, 0);
  assert.ok(Math.abs(readings(new ClockPair(), 5000, 3500, 80).slipMs - 80) <= 5);
  const busy = readings(new ClockPair(), 3000);
  busy.read(1.0, 9000);
  assert.equal(busy.slipMs, 0);
});

test("two stumbles add up", () => {
  const clocks = new ClockPair();
  for (let ms = 0; ms <= 12_000; ms += 33) clocks.read((ms - (ms >= 8000 ? 90 : ms >= 3000 ? 40 : 0)) / 1000, ms);
  assert.ok(Math.abs(clocks.slipMs - 90) <= 1);
});

test("after a stumble only what was noted since moves, and only in its take", () => {
  const log = new TalkLog();
  log.begin([]);
  log.note(900, { kind: "gone", uid: "w" });
  log.end(1000);
  log.begin([{ kind: "place", swing: "s", us: 0, rate: 0 }]);
  for (const ms of [100, 2100, 2900]) log.note(ms, { kind: "gone", uid: String(ms) });
  log.slipped(2000, 80);
  assert.deepEqual(log.events.map((event) => event.ms), [900, 0, 100, 2020, 2820]);
});

test("a zero that turns out earlier moves all of its take, and no other", () => {
  const log = new TalkLog();
  log.begin([{ kind: "place", swing: "s", us: 0, rate: 0 }]);
  log.note(100, { kind: "gone", uid: "x" });
  log.end(1000);
  log.begin([{ kind: "place", swing: "s", us: 0, rate: 0 }]);
  log.note(100, { kind: "gone", uid: "y" });
  log.end(1000, 12);
  assert.deepEqual(log.events.map((event) => event.ms), [0, 100, 0, 112]);
  assert.deepEqual(log.cuts, [[1, 0, 1000], [2, 0, 1012]]);
});
