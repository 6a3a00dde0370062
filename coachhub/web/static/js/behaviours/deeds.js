import { tell } from "./dom.js";

/**
 * What the coach does at the player, as one stream, for whoever records it, replays it or shows it elsewhere.
 *
 * Each deed is a `player:deed` event on the player's section. Its detail is
 *
 *   { kind, at_ms, ... }   at_ms: performance.now() when it was done
 *
 *   kind "pos"     { us, rate }        Play, pause, step, jump and change of speed. At the deed the shown time of the clip
 *                                      is exactly `us`; until the next deed it runs on at `rate` (0 stands, negative runs
 *                                      backwards).
 *   kind "clip"    { swing }           Another swing is shown (public id); a "pos" follows.
 *   kind "switch"  { name, on }        Body lines, shaft or drawings shown or hidden.
 *   kind "beside"  { state }           What stands beside it, whole, after each change of it; null: nothing. The state is
 *                                      {second, words, lock, offset_us, time_map, layout, opacity, is_mirrored}.
 *   kind "other"   { us }              The other swing was stepped alone, to this time of its own clip.
 *   kind "live"    { mark }            A drawing as it grows under the hand (core/strokes.js, Mark), whole each time; null:
 *                                      it was let go.
 *   kind "mark"    { marks }           The drawings after one was added, changed or removed, all of them.
 *   kind "pick"    { uid }             A drawing was picked, or none.
 *
 *   section.addEventListener("player:deed", (event) => log.push(event.detail));
 *
 * `now()` of the player gives the same things as they stand, for the beginning of a recording.
 */
export class Deeds {
  /** @param {HTMLElement} root  the player's section */
  constructor(root) {
    this.root = root;
    this.last = "";
  }

  /**
   * The same thing twice in a row is one deed.
   * @param {string} kind @param {Record<string, unknown>} what
   */
  did(kind, what) {
    const key = JSON.stringify([kind, what]);
    if (key === this.last) return;
    this.last = key;
    tell(this.root, "player:deed", { kind, at_ms: performance.now(), ...what });
  }
}
