/** @typedef {import("./sampletable.js").SampleTable} SampleTable */
/** @typedef {{start: number, end: number, groups: number[]}} Request  bytes start to end - 1 */
/** @typedef {(start: number, end: number) => Promise<Uint8Array>} FetchPart */

const ENOUGH_BYTES = 256 * 1024;
const GAP_BYTES = 64 * 1024;
const KEPT_BYTES = 6 * 1024 * 1024;

/**
 * One request for the asked group and its neighbours in the direction of play, so that few requests bring many groups:
 * on until there are enough bytes, a group that is there already, or a gap that isn't worth carrying.
 * @param {SampleTable} table @param {number} group @param {number} direction 1 or -1
 * @param {(group: number) => boolean} isThere
 * @returns {Request}
 */
export function plannedRequest(table, group, direction, isThere) {
  let { start, end } = table.bytesOf(group);
  const groups = [group];
  for (let next = group + direction; next >= 0 && next < table.groups && end - start < ENOUGH_BYTES; next += direction) {
    const bytes = table.bytesOf(next);
    const gap = Math.max(bytes.start - end, start - bytes.end);
    if (isThere(next) || gap > GAP_BYTES) break;
    start = Math.min(start, bytes.start);
    end = Math.max(end, bytes.end);
    groups.push(next);
  }
  return { start, end, groups };
}

/** Brings the encoded bytes of key-frame groups, several with one request, and keeps the last used few. */
export class SampleReader {
  /** @param {SampleTable} table @param {FetchPart} fetchPart @param {number} [keptBytes] */
  constructor(table, fetchPart, keptBytes = KEPT_BYTES) {
    this.table = table;
    this.fetchPart = fetchPart;
    this.keptBytes = keptBytes;
    /** @type {Map<number, Uint8Array>} */
    this.kept = new Map();
    /** @type {Map<number, Promise<void>>} */
    this.coming = new Map();
  }

  /**
   * The bytes of a group, from `table.bytesOf(group).start` on.
   * @param {number} group @param {number} direction 1 or -1: which neighbours come along
   * @returns {Promise<Uint8Array>}
   */
  async read(group, direction) {
    for (;;) {
      const bytes = this.kept.get(group);
      if (bytes) return this.used(group, bytes);
      await (this.coming.get(group) ?? this.bring(plannedRequest(this.table, group, direction, (other) => this.isThere(other))));
    }
  }

  /** @param {number} group */
  isThere(group) {
    return this.kept.has(group) || this.coming.has(group);
  }

  /** @param {Request} request @returns {Promise<void>} */
  bring(request) {
    const coming = this.fetchPart(request.start, request.end)
      .then((bytes) => this.keep(request, bytes))
      .finally(() => request.groups.forEach((group) => this.coming.delete(group)));
    for (const group of request.groups) this.coming.set(group, coming);
    return coming;
  }

  /** @param {Request} request @param {Uint8Array} bytes */
  keep(request, bytes) {
    if (bytes.length !== request.end - request.start) {
      throw new RangeError(`bytes must be ${request.end - request.start} of the clip, ${bytes.length} came`);
    }
    // The asked one last: it is the last to go.
    for (const group of request.groups.toReversed()) {
      const { start, end } = this.table.bytesOf(group);
      this.used(group, bytes.slice(start - request.start, end - request.start));
    }
    this.forget();
  }

  /** @param {number} group @param {Uint8Array} bytes */
  used(group, bytes) {
    this.kept.delete(group);
    this.kept.set(group, bytes);
    return bytes;
  }

  forget() {
    let total = 0;
    for (const bytes of this.kept.values()) total += bytes.length;
    for (const [group, bytes] of this.kept) {
      if (total <= this.keptBytes || this.kept.size === 1) return;
      this.kept.delete(group);
      total -= bytes.length;
    }
  }
}
