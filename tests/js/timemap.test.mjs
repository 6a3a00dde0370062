import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";

import { besidePace, besideUs, locked, lockedAsTheyStand, outside, paired } from "../../coachhub/web/static/js/core/pairing.js";
import { paceAt, paceOf, timeMap, toFirst, toSecond } from "../../coachhub/web/static/js/core/timemap.js";

const cases = JSON.parse(readFileSync(new URL("./timemap_cases.json", import.meta.url), "utf-8"));

test("forty maps are those of the measuring package to a microsecond", () => {
  let maps = 0;
  let worst = 0;
  for (const known of cases) {
    const found = timeMap(known.first, known.second);
    if (known.map === null) {
      assert.equal(found, null);
      continue;
    }
    maps += 1;
    assert.deepEqual(found.events, known.map.events);
    assert.deepEqual(found.leftOut, known.map.left_out);
    assert.ok(Math.abs(paceOf(found) - known.map.pace) < 1e-9);
    known.asked_us.forEach((us, i) => {
      worst = Math.max(worst, Math.abs(toSecond(found, us) - known.to_second_us[i]), Math.abs(toFirst(found, us) - known.to_first_us[i]));
    });
  }
  assert.ok(maps > 30, `${maps} of ${cases.length} cases have a map`);
  assert.ok(worst < 1, `worst difference ${worst} us`);
});

const first = [{ name: "top", t_us: 1_000_000 }, { name: "impact", t_us: 1_250_000 }];
const second = [{ name: "top", t_us: 3_000_000 }, { name: "impact", t_us: 4_000_000 }];

test("the second runs as fast as its events want it", () => {
  const map = timeMap(first, second);
  assert.equal(paceAt(map, 1_100_000), 4);
  assert.equal(toSecond(map, 1_125_000), 3_500_000);
  assert.equal(timeMap(first, second.slice(1)), null);
});

test("a pair is locked by events, by hand, or not at all", () => {
  const pair = paired(timeMap(first, second));
  assert.equal(besideUs(pair, 1_000_000), 3_000_000);
  assert.equal(besidePace(pair, 1_000_000), 4);
  const byHand = lockedAsTheyStand(pair, 500_000, 700_000);
  assert.equal(besideUs(byHand, 1_000_000), 1_200_000);
  assert.equal(besidePace(byHand, 1_000_000), 1);
  assert.equal(besideUs(locked(byHand, "alone"), 1_000_000), null);
  assert.equal(besideUs(locked(byHand, "events"), 1_250_000), 4_000_000);
  assert.equal(paired(null).lock, "offset");
  assert.throws(() => locked(paired(null), "events"), /fewer than two events/);
});

test("what lies outside the second clip is said", () => {
  assert.deepEqual([outside(-1, 10), outside(0, 10), outside(9, 10), outside(10, 10)], ["before", "", "", "after"]);
});
