import { TalkReader, placeAt, shownMarks } from "../core/talk.js";
import { say } from "../core/wording.js";
import { jsonOf, part } from "./dom.js";
import { Scope } from "./scope.js";

/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */

/**
 * Plays a talk: the sound is the clock, the player of the page shows what the coach showed.
 *
 *   <div data-talk data-timeline="…" data-pinned="…"> … templates/shared/talk.html … </div>
 */
export class TalkReplay {
  /** @param {HTMLElement} root @param {SwingPlayer} player @param {import("./beside.js").Beside | null} [beside] */
  constructor(root, player, beside = null) {
    this.root = root;
    this.player = player;
    this.beside = beside;
    this.scope = new Scope();
    this.sound = /** @type {HTMLAudioElement} */ (part(root, "talk-sound"));
    /** @type {{swings: Record<string, object>, beside: Record<string, import("./swing_player.js").PlayerSwing>}} */
    this.pinned = jsonOf(root.dataset.pinned ?? "");
    /** @type {TalkReader | null} */
    this.reader = null;
    /** The page's own drawings while a talk shows its own. @type {import("../core/strokes.js").Mark[] | null} */
    this.aside = null;
    this.shownId = "";
    this.opening = false;
    this.wanted = -1;
    /** @type {import("../core/talk.js").Pair | null} */
    this.pair = null;
  }

  get isPlaying() {
    return !this.sound.paused;
  }

  connect() {
    const { scope, sound } = this;
    part(this.root, "talk-controls").hidden = false;
    scope.listen(sound, "play", () => void this.start());
    scope.listen(sound, "pause", () => this.rest());
    scope.listen(sound, "ended", () => this.giveBack());
    scope.listen(sound, "seeked", () => { if (this.reader) this.show(); });
    for (const skip of /** @type {NodeListOf<HTMLElement>} */ (this.root.querySelectorAll("[data-talk-skip]"))) {
      scope.listen(skip, "click", () => { sound.currentTime = Math.max(0, sound.currentTime + Number(skip.dataset.talkSkip)); });
    }
    const faster = /** @type {HTMLElement | null} */ (this.root.querySelector("[data-talk-rate]"));
    if (faster) scope.listen(faster, "click", () => this.changeRate(faster));
    // Whoever takes the player in hand has it: the talk stops.
    scope.listen(this.player.stage, "pointerdown", () => this.pause());
    this.connectCaptions();
  }

  connectCaptions() {
    const track = this.sound.textTracks[0];
    if (!track) return;
    track.mode = "hidden";
    const line = part(this.root, "talk-caption");
    this.scope.listen(track, "cuechange", () => {
      const cue = /** @type {VTTCue | undefined} */ (track.activeCues?.[0]);
      line.textContent = cue?.text ?? "";
      line.hidden = !cue;
    });
  }

  /** @param {HTMLElement} faster */
  changeRate(faster) {
    const on = this.sound.playbackRate === 1;
    this.sound.playbackRate = on ? Number(faster.dataset.talkRate) : 1;
    faster.setAttribute("aria-pressed", String(on));
  }

  pause() {
    if (!this.sound.paused) this.sound.pause();
  }

  async start() {
    try {
      this.reader ??= new TalkReader((await fetched(this.root.dataset.timeline ?? "")).events);
    } catch {
      this.say(say("The talk's pictures can't be reached. Load the page again."));
      return;
    }
    if (this.sound.paused) return;
    this.player.engine.pause();
    this.aside ??= this.player.marks;
    this.tick();
  }

  tick() {
    cancelAnimationFrame(this.ticking ?? 0);
    if (this.sound.paused) return;
    this.show();
    this.ticking = requestAnimationFrame(() => this.tick());
  }

  /** What belongs to this moment of the sound. */
  show() {
    if (!this.reader) return;
    this.aside ??= this.player.marks;
    const ms = this.sound.currentTime * 1000;
    const state = this.reader.at(ms);
    const place = placeAt(state, ms);
    if (!place) return;
    this.player.marks = shownMarks({ ...state, growing: null });
    this.player.ghost = state.layers.drawings ? state.growing : null;
    this.showLayers(state.layers);
    if (place.swing !== this.shownId || this.player.swing.id !== place.swing) this.bringUp(place);
    else {
      this.showPair(state.pair);
      this.goTo(place.us);
    }
  }

  /** @param {import("../core/talk.js").Pair | null} pair */
  showPair(pair) {
    if (!this.beside || pair === this.pair) return;
    const before = this.pair;
    this.pair = pair;
    const swing = pair && this.pinned.beside[pair.second];
    if (!pair || !swing) this.beside.close();
    else if (before && pair.other_us !== undefined && pair.other_us !== before.other_us) void this.beside.showOther(pair.other_us);
    else void this.beside.open({ ...pair, swing });
  }

  /** @param {import("../core/talk.js").Layers} layers */
  showLayers(layers) {
    this.player.body.shows.body = layers.body;
    this.player.body.shows.shaft = layers.shaft;
  }

  /** @param {import("../core/talk.js").Place} place */
  bringUp(place) {
    if (this.opening) return;
    const known = this.player.data.swings.find((/** @type {{id: string}} */ swing) => swing.id === place.swing);
    if (!known) return;
    this.opening = true;
    this.wanted = -1;
    this.player.showOwn({ ...known, ...this.pinned.swings[place.swing] }, place.us).finally(() => {
      this.opening = false;
      this.shownId = place.swing;
      // Another swing on the left takes the one beside it away.
      this.pair = null;
    });
  }

  /** @param {number} us */
  goTo(us) {
    if (this.opening) return;
    const { frames } = this.player.engine;
    const frame = frames.frameAt(Math.min(Math.max(us, this.player.span.start_us), this.player.span.end_us));
    if (frame === this.wanted && this.player.frame === frame) this.player.redraw();
    else {
      this.wanted = frame;
      void this.player.showFrame(frame);
    }
  }

  rest() {
    cancelAnimationFrame(this.ticking ?? 0);
  }

  /** The page's own drawings and numbers come back. */
  giveBack() {
    if (!this.aside) return;
    this.player.marks = this.aside;
    this.player.ghost = null;
    this.aside = null;
    this.shownId = "";
    if (this.pair) this.beside?.close();
    this.pair = null;
    if (this.pair) this.beside?.close();
    this.pair = null;
    const own = this.player.fresh(this.player.swing);
    if (own) void this.player.showOwn(own, this.player.us);
  }

  /** @param {string} text */
  say(text) {
    const line = part(this.root, "talk-trouble");
    line.textContent = text;
    line.hidden = !text;
  }

  disconnect() {
    this.pause();
    this.rest();
    this.giveBack();
    this.scope.release();
  }
}

/** @param {string} address */
async function fetched(address) {
  const answer = await fetch(address);
  if (!answer.ok) throw new Error(`${answer.status} for ${address}`);
  return answer.json();
}
