/**
 * When each frame of a clip is shown, in whole microseconds from the first frame.
 *
 * Nothing here assumes a constant rate: a frame is shown from its own time until that of the next one.
 */
export class FrameTimes {
  /**
   * @param {ArrayLike<number>} startsUs  rising presentation times, one a frame
   * @param {number} [endUs]  when the last frame ends; default: one median frame interval later
   */
  constructor(startsUs, endUs) {
    if (startsUs.length === 0) throw new RangeError("startsUs must hold at least one time, it holds none");
    this.startsUs = Float64Array.from(startsUs);
    for (let i = 1; i < this.startsUs.length; i += 1) {
      if (!(this.startsUs[i] > this.startsUs[i - 1])) {
        throw new RangeError(`startsUs must rise, but frame ${i} is at ${this.startsUs[i]} after ${this.startsUs[i - 1]}`);
      }
    }
    const last = this.startsUs[this.startsUs.length - 1];
    this.endUs = endUs !== undefined && endUs > last ? endUs : last + medianStep(this.startsUs);
  }

  get count() {
    return this.startsUs.length;
  }

  /** @param {number} frame @returns {number} */
  startOf(frame) {
    return this.startsUs[this.clamp(frame)];
  }

  /** @param {number} frame @returns {number} */
  endOf(frame) {
    const at = this.clamp(frame);
    return at + 1 < this.count ? this.startsUs[at + 1] : this.endUs;
  }

  /**
   * The time to seek to: players round, and only the middle of a frame is safe from both neighbours.
   * @param {number} frame
   * @returns {number}
   */
  middleOf(frame) {
    return (this.startOf(frame) + this.endOf(frame)) / 2;
  }

  /**
   * The frame on screen at a time.
   * @param {number} us
   * @returns {number}
   */
  frameAt(us) {
    let low = 0;
    let high = this.count - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (this.startsUs[middle] <= us) low = middle;
      else high = middle - 1;
    }
    return low;
  }

  /**
   * The frame whose own time is nearest: for events, which fall between frames.
   * @param {number} us
   * @returns {number}
   */
  nearest(us) {
    const at = this.frameAt(us);
    const next = this.clamp(at + 1);
    return Math.abs(this.startsUs[next] - us) < Math.abs(us - this.startsUs[at]) ? next : at;
  }

  /** @param {number} frame @returns {number} */
  clamp(frame) {
    return Math.min(this.count - 1, Math.max(0, Math.round(frame)));
  }

  /** Frames a second over the whole clip. */
  get meanRate() {
    const spanUs = this.startsUs[this.count - 1] - this.startsUs[0];
    return spanUs > 0 ? ((this.count - 1) * 1e6) / spanUs : 0;
  }
}

/** @param {Float64Array} startsUs */
function medianStep(startsUs) {
  if (startsUs.length < 2) return 33_333;
  const steps = Float64Array.from({ length: startsUs.length - 1 }, (_, i) => startsUs[i + 1] - startsUs[i]).sort();
  return steps[steps.length >> 1];
}
