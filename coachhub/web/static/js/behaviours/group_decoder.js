/** @typedef {import("../core/sampletable.js").SampleTable} SampleTable */

const STALLED_MS = 5000;

/** Decodes one key-frame group after another. A decoder that the browser took back is replaced by a new one. */
export class GroupDecoder {
  /**
   * @param {VideoDecoderConfig} config @param {SampleTable} table @param {ArrayLike<number>} startsUs
   * @param {(picture: VideoFrame) => void} onpicture
   */
  constructor(config, table, startsUs, onpicture) {
    this.config = config;
    this.table = table;
    this.startsUs = startsUs;
    this.onpicture = onpicture;
    /** @type {VideoDecoder | null} */
    this.decoder = null;
  }

  end() {
    this.abandon();
    if (this.decoder && this.decoder.state !== "closed") this.decoder.close();
    this.decoder = null;
  }

  /** Lets go of the group in work: its decode() answers false. */
  abandon() {
    if (this.decoder?.state === "configured") this.decoder.reset();
  }

  /** @param {number} group @param {Uint8Array} bytes @returns {Promise<boolean>} whether all of it came out */
  async decode(group, bytes) {
    try {
      return await this.once(group, bytes);
    } catch (problem) {
      console.warn("decoding a group again", problem);
      if (this.decoder && this.decoder.state !== "closed") this.decoder.close();
      this.decoder = null;
      return this.once(group, bytes);
    }
  }

  /** @param {number} group @param {Uint8Array} bytes @returns {Promise<boolean>} */
  async once(group, bytes) {
    const decoder = this.configured();
    for (const chunk of this.chunks(group, bytes)) decoder.decode(chunk);
    try {
      await withinTime(decoder.flush());
    } catch (problem) {
      if (/** @type {Error} */ (problem).name === "AbortError") return false;
      throw problem;
    }
    return true;
  }

  configured() {
    if (!this.decoder || this.decoder.state === "closed") {
      // What went wrong arrives with flush() as well.
      this.decoder = new VideoDecoder({ output: (picture) => this.onpicture(picture), error: () => {} });
    }
    if (this.decoder.state === "unconfigured") this.decoder.configure(this.config);
    return this.decoder;
  }

  /** @param {number} group @param {Uint8Array} bytes */
  chunks(group, bytes) {
    const { start } = this.table.bytesOf(group);
    return this.table.framesOf(group).map((frame, i) => {
      const from = this.table.offsets[frame] - start;
      const data = bytes.subarray(from, from + this.table.sizes[frame]);
      return new EncodedVideoChunk({ type: i === 0 ? "key" : "delta", timestamp: this.startsUs[frame], data });
    });
  }
}

/** @param {Promise<void>} work @returns {Promise<void>} */
async function withinTime(work) {
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;
  const late = new Promise((_, reject) => {
    timer = setTimeout(() => reject(new Error("the decoder gives no more pictures")), STALLED_MS);
  });
  try {
    await Promise.race([work, late]);
  } finally {
    clearTimeout(timer);
  }
}
