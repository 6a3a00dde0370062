/** Listeners, timers and observers taken together and released together. */
export class Scope {
  constructor() {
    /** @type {(() => void)[]} */
    this.releases = [];
  }

  /**
   * @param {EventTarget} target
   * @param {string} name
   * @param {(event: any) => void} listener
   * @param {AddEventListenerOptions} [options]
   */
  listen(target, name, listener, options) {
    target.addEventListener(name, listener, options);
    this.releases.push(() => target.removeEventListener(name, listener, options));
  }

  /** @param {() => void} work @param {number} ms */
  every(work, ms) {
    const timer = setInterval(work, ms);
    this.releases.push(() => clearInterval(timer));
  }

  /** @param {() => void} release */
  keep(release) {
    this.releases.push(release);
  }

  release() {
    while (this.releases.length) /** @type {() => void} */ (this.releases.pop())();
  }
}
