import { get } from "./server.js";

const QUIET_MS = 2500;

/**
 * Has the first pictures of the coach's next desk at hand: fetched one after the other into the browser's own cache,
 * once this desk is at rest, and not where the person saves data. The addresses stay good for long enough.
 *
 *   new LookAhead("/coach/desk/…/ahead/").connect();
 */
export class LookAhead {
  /** @param {string} address */
  constructor(address) {
    this.address = address;
    this.stop = new AbortController();
  }

  connect() {
    const line = /** @type {{connection?: {saveData?: boolean}}} */ (navigator).connection;
    if (line?.saveData) return;
    this.timer = setTimeout(() => void this.fetchAll(), QUIET_MS);
  }

  disconnect() {
    clearTimeout(this.timer);
    this.stop.abort();
  }

  async fetchAll() {
    try {
      const { media } = await get(this.address);
      for (const one of media) await this.fetchOne(one);
      document.documentElement.dataset.ahead = String(media.length);
    } catch (problem) {
      console.info("nothing is fetched ahead", problem);
    }
  }

  /** Read to its end, else the cache drops it. @param {string} address */
  async fetchOne(address) {
    const answer = await fetch(address, { priority: "low", signal: this.stop.signal });
    await answer.arrayBuffer();
  }
}
