/**
 * @typedef {object} ClipIndex  what the server knows about a rendition (analysis/adapters/rendition.py)
 * @property {number} width
 * @property {number} height
 * @property {number[]} times_us
 * @property {number} end_us
 * @property {number[]} offsets  first byte of each frame's sample
 * @property {number[]} sizes  bytes of each frame's sample
 * @property {number[]} keys  frames that need no frame before them
 * @property {string} codec
 * @property {string} description  base64
 */

/**
 * Where each frame's sample lies in the file, and which frames can only be decoded together: a key-frame group is a
 * key frame with all frames up to the next key frame.
 */
export class SampleTable {
  /** @param {Pick<ClipIndex, "offsets" | "sizes" | "keys">} index */
  constructor({ offsets, sizes, keys }) {
    if (offsets.length === 0 || offsets.length !== sizes.length) {
      throw new RangeError(`offsets and sizes must hold one entry a frame, they hold ${offsets.length} and ${sizes.length}`);
    }
    if (keys[0] !== 0) throw new RangeError(`keys must begin with frame 0, they begin with ${keys[0]}`);
    for (let i = 1; i < keys.length; i += 1) {
      if (!(keys[i] > keys[i - 1]) || keys[i] >= sizes.length) {
        throw new RangeError(`keys must rise and stay below ${sizes.length}, entry ${i} is ${keys[i]}`);
      }
    }
    this.offsets = offsets;
    this.sizes = sizes;
    this.keys = keys;
  }

  get groups() {
    return this.keys.length;
  }

  /** @param {number} frame @returns {number} */
  groupOf(frame) {
    let low = 0;
    let high = this.keys.length - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (this.keys[middle] <= frame) low = middle;
      else high = middle - 1;
    }
    return low;
  }

  /** @param {number} group @returns {number[]} */
  framesOf(group) {
    const end = group + 1 < this.keys.length ? this.keys[group + 1] : this.sizes.length;
    return Array.from({ length: end - this.keys[group] }, (_, i) => this.keys[group] + i);
  }

  /** Frames of the largest group. */
  get largest() {
    return Math.max(...this.keys.map((key, i) => (this.keys[i + 1] ?? this.sizes.length) - key));
  }

  /** First byte and the byte after the last. @param {number} group @returns {{start: number, end: number}} */
  bytesOf(group) {
    const frames = this.framesOf(group);
    const start = Math.min(...frames.map((frame) => this.offsets[frame]));
    const end = Math.max(...frames.map((frame) => this.offsets[frame] + this.sizes[frame]));
    return { start, end };
  }
}
