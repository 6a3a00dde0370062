// The facts in the header of an MP4 or MOV file (ISO/IEC 14496-12, ISO base media file format), without decoding.

/**
 * @typedef {object} Track
 * @property {number} durationS
 * @property {number | null} frames   null: written in fragments, not counted in the header
 * @property {number | null} fps
 * @property {number} width            pixels, upright
 * @property {number} height
 * @property {string} codec            four characters, "avc1" or "hvc1"
 * @typedef {(start: number, end: number) => Promise<ArrayBuffer>} Read
 */

const LARGEST_HEADER = 64 * 1024 * 1024;

/**
 * The first picture track; null: not such a file, or no picture in it.
 * @param {Read} read @param {number} size @returns {Promise<Track | null>}
 */
export async function readTrack(read, size) {
  const header = await findHeader(read, size);
  if (!header) return null;
  for (const trak of children(header, "trak")) {
    const track = trackOf(trak);
    if (track) return track;
  }
  return null;
}

/** Whether the first bytes are those of an MP4, MOV, WebM or Matroska file. @param {ArrayBuffer} bytes */
export function looksLikeVideo(bytes) {
  if (bytes.byteLength < 12) return false;
  const view = new DataView(bytes);
  if (view.getUint32(0) === 0x1a45dfa3) return true;
  return ["ftyp", "moov", "mdat", "wide", "free", "skip"].includes(fourCharacters(view, 4));
}

/** @param {Read} read @param {number} size @returns {Promise<DataView | null>} */
async function findHeader(read, size) {
  let at = 0;
  for (let steps = 0; at + 8 <= size && steps < 1000; steps += 1) {
    const view = new DataView(await read(at, Math.min(at + 16, size)));
    const { length, head } = lengthOf(view, 0, size - at);
    if (length < head || !/^[\x20-\x7e©]{4}$/.test(fourCharacters(view, 4))) return null;
    if (fourCharacters(view, 4) === "moov") {
      return length > LARGEST_HEADER ? null : new DataView(await read(at + head, Math.min(at + length, size)));
    }
    at += length;
  }
  return null;
}

/** @param {DataView} view @param {number} at @param {number} rest */
function lengthOf(view, at, rest) {
  const short = view.getUint32(at);
  if (short === 0) return { length: rest, head: 8 };
  if (short !== 1) return { length: short, head: 8 };
  if (view.byteLength < at + 16) return { length: 0, head: 16 };
  return { length: Number(view.getBigUint64(at + 8)), head: 16 };
}

/** @param {DataView} view @param {number} at */
function fourCharacters(view, at) {
  return String.fromCharCode(view.getUint8(at), view.getUint8(at + 1), view.getUint8(at + 2), view.getUint8(at + 3));
}

/** @param {DataView} view @param {string} name @returns {DataView[]} */
function children(view, name) {
  const found = [];
  for (let at = 0; at + 8 <= view.byteLength; ) {
    const { length, head } = lengthOf(view, at, view.byteLength - at);
    if (length < head || at + length > view.byteLength) break;
    if (fourCharacters(view, at + 4) === name) {
      found.push(new DataView(view.buffer, view.byteOffset + at + head, length - head));
    }
    at += length;
  }
  return found;
}

/** @param {DataView} view @param {...string} names @returns {DataView | null} */
function inside(view, ...names) {
  /** @type {DataView | null} */
  let here = view;
  for (const name of names) here = here ? (children(here, name)[0] ?? null) : null;
  return here;
}

/** @param {DataView} trak @returns {Track | null} */
function trackOf(trak) {
  const kind = inside(trak, "mdia", "hdlr");
  const times = inside(trak, "mdia", "mdhd");
  const header = inside(trak, "tkhd");
  if (!kind || !times || !header || fourCharacters(kind, 8) !== "vide") return null;
  const { scale, duration } = clockOf(times);
  const counted = framesOf(inside(trak, "mdia", "minf", "stbl", "stts"));
  const description = inside(trak, "mdia", "minf", "stbl", "stsd");
  return {
    durationS: counted ? counted.ticks / scale : duration / scale,
    frames: counted?.frames ?? null,
    fps: counted ? (counted.frames * scale) / counted.ticks : null,
    ...uprightSize(header),
    codec: description && description.byteLength >= 16 ? fourCharacters(description, 12) : "",
  };
}

/** @param {DataView} mdhd */
function clockOf(mdhd) {
  const long = mdhd.getUint8(0) === 1;
  const scale = mdhd.getUint32(long ? 20 : 12) || 1;
  return { scale, duration: long ? Number(mdhd.getBigUint64(24)) : mdhd.getUint32(16) };
}

/** @param {DataView | null} stts @returns {{frames: number, ticks: number} | null} */
function framesOf(stts) {
  if (!stts) return null;
  let frames = 0;
  let ticks = 0;
  const entries = Math.min(stts.getUint32(4), Math.floor((stts.byteLength - 8) / 8));
  for (let entry = 0; entry < entries; entry += 1) {
    const count = stts.getUint32(8 + entry * 8);
    frames += count;
    ticks += count * stts.getUint32(12 + entry * 8);
  }
  return frames > 0 && ticks > 0 ? { frames, ticks } : null;
}

/** Size as it is shown: a matrix that turns by 90° swaps the sides. @param {DataView} tkhd */
function uprightSize(tkhd) {
  const long = tkhd.getUint8(0) === 1;
  const matrix = long ? 52 : 40;
  const isTurned = tkhd.getInt32(matrix) === 0 && tkhd.getInt32(matrix + 4) !== 0;
  const [width, height] = [tkhd.getUint32(matrix + 36) / 65536, tkhd.getUint32(matrix + 40) / 65536];
  return isTurned ? { width: height, height: width } : { width, height };
}
