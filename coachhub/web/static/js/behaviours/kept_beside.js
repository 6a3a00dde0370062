import { Scope } from "./scope.js";

/** @typedef {import("./beside.js").Beside} Beside */
/** @typedef {import("./beside.js").Wanted} Wanted */
/** @typedef {import("./swing_player.js").PlayerSwing} PlayerSwing */
/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */
/** @typedef {Omit<Wanted, "swing"> & {uid: string, first: PlayerSwing, second: PlayerSwing, at_us: number}} Kept */

/**
 * Comparisons that were kept with an answer, shown as they were kept: <button data-show-kept="uid">.
 */
export class KeptBeside {
  /**
   * @param {ParentNode & EventTarget} root @param {SwingPlayer} player @param {Beside} beside @param {Kept[]} kept
   * @param {{isPinned: boolean}} how  pinned: with the events and lines of the kept readouts
   */
  constructor(root, player, beside, kept, { isPinned }) {
    this.root = root;
    this.player = player;
    this.beside = beside;
    this.kept = kept;
    this.isPinned = isPinned;
    this.scope = new Scope();
    /** @type {(kept: Kept) => void} */
    this.onshow = () => {};
  }

  connect() {
    this.scope.listen(this.root, "click", (event) => {
      const link = /** @type {HTMLElement | null} */ (/** @type {Element} */ (event.target).closest("[data-show-kept]"));
      if (link) void this.show(link.dataset.showKept ?? "");
    });
    this.dress();
  }

  /** The buttons are for those with script. */
  dress() {
    for (const link of /** @type {NodeListOf<HTMLElement>} */ (this.root.querySelectorAll("[data-show-kept]"))) link.hidden = false;
  }

  disconnect() {
    this.scope.release();
  }

  /** @param {string} uid */
  async show(uid) {
    const kept = this.kept.find((one) => one.uid === uid);
    if (!kept) return;
    if (this.isPinned) await this.player.showOwn(kept.first, kept.at_us);
    else await this.player.select(kept.first.id, kept.at_us);
    const { first, second, uid: _, at_us: __, ...how } = kept;
    await this.beside.open({ ...how, swing: second });
    this.player.stage.scrollIntoView({ block: "nearest" });
    this.onshow(kept);
  }
}
