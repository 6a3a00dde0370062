import { Scope } from "./scope.js";

/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */

/**
 * The student's way through an answer: moments and drawings to jump to, and voice notes that bring up their swing.
 *
 *   <div data-replay> player, <button data-go-swing="…" data-go-us="…">, <audio data-go-swing="…" data-go-us="…"> </div>
 */
export class Replay {
  /** @param {HTMLElement} root @param {SwingPlayer} player */
  constructor(root, player) {
    this.root = root;
    this.player = player;
    this.scope = new Scope();
  }

  connect() {
    for (const link of /** @type {NodeListOf<HTMLElement>} */ (this.root.querySelectorAll("[data-go-us]"))) {
      if (link instanceof HTMLMediaElement) this.connectVoice(link);
      else this.scope.listen(link, "click", () => this.bringUp(link));
    }
  }

  disconnect() {
    this.scope.release();
  }

  /** @param {HTMLElement} link */
  bringUp(link) {
    this.player.select(link.dataset.goSwing ?? "", Number(link.dataset.goUs));
    this.player.stage.scrollIntoView({ block: "nearest" });
  }

  /** @param {HTMLMediaElement} voice */
  connectVoice(voice) {
    this.scope.listen(voice, "play", () => {
      if (voice.currentTime < 0.2 && voice.dataset.goSwing) this.bringUp(voice);
    });
  }
}
