const TRIES = 60;
const REST_MS = 1000;

/**
 * Fetches parts of one private file by the Range header (RFC 9110, section 14), through a lost network and over the
 * end of its address.
 */
export class PartFetch {
  /** @param {string} address @param {{renew: () => Promise<string | null>, waiting: (waits: boolean) => void}} hooks */
  constructor(address, hooks) {
    this.address = address;
    this.hooks = hooks;
    this.stop = new AbortController();
  }

  end() {
    this.stop.abort();
  }

  /** @param {number} start @param {number} end  the byte after the last @returns {Promise<Uint8Array>} */
  async fetch(start, end) {
    let answer = await this.ask(start, end);
    if (answer.status === 403) {
      this.address = (await this.hooks.renew()) ?? this.address;
      answer = await this.ask(start, end);
    }
    if (!answer.ok) throw new Error(`${answer.status} for a part of the clip`);
    const bytes = new Uint8Array(await answer.arrayBuffer());
    // A server may answer with the whole file.
    return answer.status === 206 ? bytes : bytes.subarray(start, end);
  }

  /** @param {number} start @param {number} end @returns {Promise<Response>} */
  async ask(start, end) {
    for (let left = TRIES; ; left -= 1) {
      try {
        const answer = await fetch(this.address, { headers: { Range: `bytes=${start}-${end - 1}` }, signal: this.stop.signal });
        if (left < TRIES) this.hooks.waiting(false);
        return answer;
      } catch (problem) {
        if (left <= 1 || this.stop.signal.aborted) throw problem;
        this.hooks.waiting(true);
        await new Promise((resolve) => { setTimeout(resolve, REST_MS); });
      }
    }
  }
}
