import assert from "node:assert/strict";
import { test } from "node:test";

import { looksLikeVideo, readTrack } from "../../coachhub/web/static/js/core/boxes.js";

// Boxes written by hand after ISO/IEC 14496-12; files of an independent writer are read in test_boxes.py.
/** @param {string} name @param {...Uint8Array} parts */
function box(name, ...parts) {
  const length = 8 + parts.reduce((sum, part) => sum + part.length, 0);
  const out = new Uint8Array(length);
  new DataView(out.buffer).setUint32(0, length);
  out.set([...name].map((letter) => letter.charCodeAt(0)), 4);
  let at = 8;
  for (const part of parts) { out.set(part, at); at += part.length; }
  return out;
}

/** @param {...number} numbers */
function words(...numbers) {
  const out = new Uint8Array(numbers.length * 4);
  numbers.forEach((number, index) => new DataView(out.buffer).setUint32(index * 4, number >>> 0));
  return out;
}

const ONE = 0x10000;
/** @param {boolean} isTurned */
function file(isTurned, stts = words(0, 2, 90, 10, 10, 20)) {
  const matrix = isTurned ? [0, ONE, 0, -ONE, 0, 0, 0, 0, 0x40000000] : [ONE, 0, 0, 0, ONE, 0, 0, 0, 0x40000000];
  const tkhd = box("tkhd", words(0, 0, 0, 1, 0, 1000, 0, 0, 0, 0), words(...matrix), words(1920 * ONE, 1080 * ONE));
  const mdhd = box("mdhd", words(0, 0, 0, 600, 1100, 0));
  const hdlr = box("hdlr", words(0, 0), new TextEncoder().encode("vide"), words(0, 0, 0, 0));
  const stsd = box("stsd", words(0, 1), box("hvc1", words(0)));
  const stbl = box("stbl", stsd, box("stts", stts));
  const trak = box("trak", tkhd, box("mdia", mdhd, hdlr, box("minf", stbl)));
  const bytes = new Uint8Array([...box("ftyp", words(0, 0)), ...box("mdat", new Uint8Array(50)), ...box("moov", trak)]);
  /** @param {number} start @param {number} end */
  const read = async (start, end) => bytes.slice(start, end).buffer;
  return { bytes, read };
}

test("frames, length, rate, codec", async () => {
  const { bytes, read } = file(false);
  const track = await readTrack(read, bytes.length);
  // 90 frames of 10 ticks and 10 of 20 at 600 ticks a second.
  assert.deepEqual(track, { durationS: 1100 / 600, frames: 100, fps: (100 * 600) / 1100, width: 1920, height: 1080, codec: "hvc1" });
});

test("a turned track has its sides swapped", async () => {
  const { bytes, read } = file(true);
  const track = await readTrack(read, bytes.length);
  assert.deepEqual([track?.width, track?.height], [1080, 1920]);
});

test("a fragmented file has no count in its header", async () => {
  const { bytes, read } = file(false, words(0, 0));
  const track = await readTrack(read, bytes.length);
  assert.deepEqual([track?.frames, track?.fps, track?.durationS], [null, null, 1100 / 600]);
});

test("rubbish, an endless box, a cut file and lying counts end with null or without harm", async () => {
  const { bytes } = file(false);
  for (const bad of [
    new Uint8Array(40), new Uint8Array(0), new TextEncoder().encode("not a video at all, just words"),
    bytes.slice(0, 30), words(1, 0x6d6f6f76, 0, 4), words(0xffffffff, 0x6d6f6f76),
  ]) {
    const read = async (/** @type {number} */ start, /** @type {number} */ end) => bad.slice(start, end).buffer;
    assert.equal(await readTrack(read, bad.length), null);
  }
  const liar = file(false, words(0, 0xffffffff, 5, 10));
  assert.equal((await readTrack(liar.read, liar.bytes.length))?.frames, 5);
});

test("a video is known by its first bytes", () => {
  assert.equal(looksLikeVideo(file(false).bytes.buffer), true);
  assert.equal(looksLikeVideo(words(0x1a45dfa3, 0, 0).buffer), true);
  assert.equal(looksLikeVideo(new TextEncoder().encode("#EXTM3U\nsegment.ts\n").buffer), false);
  assert.equal(looksLikeVideo(new ArrayBuffer(3)), false);
});
