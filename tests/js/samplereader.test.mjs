import assert from "node:assert/strict";
import { test } from "node:test";

import { SampleReader, plannedRequest } from "../../coachhub/web/static/js/core/samplereader.js";
import { SampleTable } from "../../coachhub/web/static/js/core/sampletable.js";

/** Ten frames a group, `size` bytes a frame, and `gap` bytes of sound after each group. */
function table({ groups = 6, size = 1000, gap = 500 } = {}) {
  const [offsets, sizes, keys] = [[], [], []];
  let at = 48;
  for (let group = 0; group < groups; group += 1) {
    keys.push(group * 10);
    for (let i = 0; i < 10; i += 1) { offsets.push(at); sizes.push(size); at += size; }
    at += gap;
  }
  const file = Uint8Array.from({ length: at }, (_, i) => (i * 31) % 251);
  return { table: new SampleTable({ offsets, sizes, keys }), file };
}

/** A reader with a list of the requests it made. */
function reading(made, kept) {
  const asked = [];
  const reader = new SampleReader(made.table, async (start, end) => { asked.push([start, end]); return made.file.subarray(start, end); }, kept);
  return { reader, asked };
}

const never = () => false;

test("groups are found from frames, the last one may be short", () => {
  const short = new SampleTable({ offsets: [5, 6, 7, 8], sizes: [1, 1, 1, 1], keys: [0, 3] });
  assert.deepEqual([0, 1, 2, 3].map((frame) => short.groupOf(frame)), [0, 0, 0, 1]);
  assert.deepEqual([short.framesOf(0), short.framesOf(1), short.largest], [[0, 1, 2], [3], 3]);
  assert.deepEqual(short.bytesOf(0), { start: 5, end: 8 });
});

test("an index that can't be right is refused by name", () => {
  const good = { offsets: [0, 1], sizes: [1, 1], keys: [0] };
  assert.throws(() => new SampleTable({ ...good, sizes: [1] }), /offsets and sizes/);
  assert.throws(() => new SampleTable({ ...good, keys: [1] }), /keys must begin with frame 0/);
  assert.throws(() => new SampleTable({ ...good, keys: [0, 2] }), /stay below 2/);
});

test("one request brings the neighbours in the direction of play, over the sound between them", () => {
  const made = table();
  assert.deepEqual(plannedRequest(made.table, 2, 1, never), { start: 48 + 2 * 10_500, end: 48 + 6 * 10_500 - 500, groups: [2, 3, 4, 5] });
  assert.deepEqual(plannedRequest(made.table, 2, -1, never), { start: 48, end: 48 + 3 * 10_500 - 500, groups: [2, 1, 0] });
});

test("a request ends at what is there, at a wide gap, and when there is enough", () => {
  assert.deepEqual(plannedRequest(table().table, 0, 1, (group) => group === 2).groups, [0, 1]);
  assert.deepEqual(plannedRequest(table({ gap: 100_000 }).table, 0, 1, never).groups, [0]);
  // 20 samples of 12 800 bytes are 256 000 bytes: below 256 KiB, so one more group comes along.
  assert.deepEqual(plannedRequest(table({ size: 12_800, gap: 0 }).table, 0, 1, never).groups, [0, 1, 2]);
});

test("every group has its own bytes, asked for once, in any order", async () => {
  const made = table();
  const { reader, asked } = reading(made);
  const order = [3, 0, 5, 1, 4, 2];
  const all = await Promise.all(order.map((group) => reader.read(group, 1)));
  order.forEach((group, i) => {
    const { start, end } = made.table.bytesOf(group);
    assert.deepEqual(all[i], made.file.slice(start, end));
  });
  assert.deepEqual(asked, [[48 + 3 * 10_500, 48 + 6 * 10_500 - 500], [48, 48 + 3 * 10_500 - 500]]);
});

test("kept bytes have a bound, and what left is asked for again", async () => {
  const made = table({ groups: 100, size: 2000 });
  const { reader, asked } = reading(made, 300_000);
  for (let group = 0; group < 100; group += 1) {
    await reader.read(group, 1);
    const held = [...reader.kept.values()].reduce((sum, bytes) => sum + bytes.length, 0);
    assert.ok(held <= 300_000, `${held} bytes held`);
  }
  const before = asked.length;
  await reader.read(0, 1);
  assert.equal(asked.length, before + 1);
});

test("a failed request fails the reading and can be tried again", async () => {
  const made = table();
  let fails = true;
  const reader = new SampleReader(made.table, async (start, end) => {
    if (fails) throw new Error("gone");
    return made.file.subarray(start, end);
  });
  await assert.rejects(reader.read(1, 1), /gone/);
  fails = false;
  assert.equal((await reader.read(1, 1)).length, 10_000);
});

test("an answer of another length is refused", async () => {
  const reader = new SampleReader(table().table, async () => new Uint8Array(7));
  await assert.rejects(reader.read(0, 1), /bytes must be/);
});
