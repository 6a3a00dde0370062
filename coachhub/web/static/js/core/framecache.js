/** @typedef {{close: () => void}} Picture  a decoded frame; it holds memory until it is closed */

/**
 * Decoded frames by key-frame group, never more than `most` groups: the least recently used one leaves, and its
 * frames are closed.
 */
export class FrameCache {
  /** @param {number} most */
  constructor(most) {
    if (!(most >= 1)) throw new RangeError(`most must be at least 1 group, it is ${most}`);
    this.most = most;
    /** Least recently used first. @type {Map<number, Map<number, Picture>>} */
    this.groups = new Map();
  }

  /** Frames that are held now. */
  get held() {
    let count = 0;
    for (const pictures of this.groups.values()) count += pictures.size;
    return count;
  }

  /** @param {number} group */
  has(group) {
    return this.groups.has(group);
  }

  /** Room is made before the first frame comes, so that the bound holds while a group fills. @param {number} group */
  open(group) {
    this.drop(group);
    for (const oldest of this.groups.keys()) {
      if (this.groups.size < this.most) break;
      this.drop(oldest);
    }
    this.groups.set(group, new Map());
  }

  /**
   * Takes the frame, or closes it when nobody waits for its group any more.
   * @param {number} group @param {number} frame @param {Picture} picture @returns {boolean} whether it was taken
   */
  put(group, frame, picture) {
    const pictures = this.groups.get(group);
    if (!pictures) {
      picture.close();
      return false;
    }
    pictures.get(frame)?.close();
    pictures.set(frame, picture);
    return true;
  }

  /** @param {number} group @param {number} frame @returns {Picture | undefined} */
  get(group, frame) {
    return this.groups.get(group)?.get(frame);
  }

  /** @param {number} group */
  touch(group) {
    const pictures = this.groups.get(group);
    if (!pictures) return;
    this.groups.delete(group);
    this.groups.set(group, pictures);
  }

  /** @param {number} group */
  drop(group) {
    for (const picture of this.groups.get(group)?.values() ?? []) picture.close();
    this.groups.delete(group);
  }

  clear() {
    for (const group of [...this.groups.keys()]) this.drop(group);
  }
}
