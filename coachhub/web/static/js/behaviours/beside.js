import { locked, lockedAsTheyStand, paired } from "../core/pairing.js";
import { timeMap } from "../core/timemap.js";
import { decimal, say } from "../core/wording.js";
import { BesidePane } from "./beside_pane.js";
import { maybePart, part, tell } from "./dom.js";
import { OverCanvas } from "./over_canvas.js";
import { Scope } from "./scope.js";
import { Tandem } from "./tandem.js";

/** @typedef {import("../core/pairing.js").Lock} Lock */
/** @typedef {import("./swing_player.js").PlayerSwing} PlayerSwing */
/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */
/** @typedef {{events: string[], first_us: number[], second_us: number[]}} PlainMap  as the server sends it */
/**
 * @typedef {object} BesideState  enough to set it up again elsewhere
 * @property {string} second  id of the other swing, or of its clip
 * @property {string} words
 * @property {Lock} lock
 * @property {number} offset_us
 * @property {PlainMap | {}} time_map
 * @property {"beside" | "over"} layout
 * @property {number} opacity  per cent
 * @property {boolean} is_mirrored
 */
/** @typedef {Partial<BesideState> & {swing: PlayerSwing}} Wanted  what is left out is found from the two swings */

/**
 * Another swing beside the player's, or over it: opened, locked, stepped alone, mirrored, taken away.
 *
 *   const beside = new Beside(player); beside.connect();
 *   await beside.open({ swing, words: "3 June, iron", is_mirrored: false }); beside.setLock("offset"); beside.close();
 *
 * `player:beside` on the player's section tells each change, with the state or null.
 */
export class Beside {
  /** @param {SwingPlayer} player */
  constructor(player) {
    this.player = player;
    this.root = player.root;
    this.scope = new Scope();
    this.pane = new BesidePane(player.root);
    this.tandem = new Tandem(player, this.pane);
    this.over = new OverCanvas(part(player.root, "over"), player, this.pane);
    this.controls = part(player.root, "beside-controls");
    this.opacity = part(player.root, "beside-opacity");
    this.mirrored = part(player.root, "beside-mirror");
    /** @type {BesideState | null} */
    this.state = null;
    this.opening = 0;
    /** Asks for the same swing with fresh addresses. @type {() => Promise<PlayerSwing | null>} */
    this.refresh = async () => null;
    /** Another swing is the first one now. */
    this.onswing = () => this.close();
  }

  connect() {
    const { scope, root } = this;
    const press = (/** @type {string} */ name, /** @type {() => void} */ work) => scope.listen(part(root, name), "click", work);
    for (const [name, frames] of /** @type {[string, number][]} */ ([["beside-back-ten", -10], ["beside-back", -1], ["beside-forward", 1], ["beside-forward-ten", 10]])) {
      press(name, () => this.stepAlone(frames));
    }
    press("beside-lock-here", () => this.lockHere());
    press("beside-close", () => this.close());
    for (const choice of this.choices("lock")) scope.listen(choice, "change", () => this.setLock(/** @type {Lock} */ (choice.value)));
    for (const choice of this.choices("layout")) scope.listen(choice, "change", () => this.setLayout(/** @type {"beside" | "over"} */ (choice.value)));
    scope.listen(this.opacity, "input", () => this.setOpacity(Number(this.opacity.value)));
    scope.listen(this.mirrored, "change", () => this.setMirrored(this.mirrored.checked));
    this.pane.onframe = () => this.over.paint();
    this.pane.onengine = () => this.over.paint();
    this.pane.shows = () => this.player.body.shows;
    scope.listen(root, "change", (event) => { if (event.target.dataset.switch) this.pane.redraw(); });
    this.pane.renew = async () => (await this.refresh())?.src ?? null;
    scope.listen(root, "player:swing", () => this.onswing());
    scope.listen(root, "player:events", () => this.mapAnew());
  }

  disconnect() {
    this.close();
    this.scope.release();
  }

  /** @param {"lock" | "layout"} what @returns {NodeListOf<HTMLInputElement>} */
  choices(what) {
    return this.root.querySelectorAll(`[data-beside-${what}]`);
  }

  /** @param {Wanted} wanted */
  async open(wanted) {
    this.opening += 1;
    const mine = this.opening;
    this.say("");
    await this.player.ready;
    await this.pane.open(wanted.swing);
    if (mine !== this.opening) return;
    const map = wanted.time_map ? asMap(wanted.time_map) : timeMap(this.player.swing.events, wanted.swing.events);
    const pairing = paired(map);
    const lock = wanted.lock === "events" && !map ? "offset" : wanted.lock ?? pairing.lock;
    this.state = {
      second: wanted.swing.id,
      words: wanted.words ?? wanted.swing.label,
      lock,
      offset_us: wanted.offset_us ?? 0,
      time_map: asPlain(map),
      layout: wanted.layout ?? "beside",
      opacity: wanted.opacity ?? 50,
      is_mirrored: wanted.is_mirrored ?? false,
    };
    this.tandem.pairing = { lock, map, offsetUs: this.state.offset_us };
    this.dress();
    this.tandem.connect();
    if (lock === "alone") await this.pane.show(0);
    this.changed();
  }

  /** An event was corrected: what holds the two together moves along. */
  mapAnew() {
    if (!this.state || !this.pane.swing) return;
    const map = timeMap(this.player.swing.events, this.pane.swing.events);
    this.tandem.pair({ ...this.tandem.pairing, map, lock: map || this.state.lock !== "events" ? this.state.lock : "offset" });
    this.change({ time_map: asPlain(map), lock: this.tandem.pairing.lock });
  }

  close() {
    this.opening += 1;
    if (!this.state) return;
    this.tandem.disconnect();
    this.over.show(false, 0);
    this.pane.close();
    this.state = null;
    this.root.classList.remove("has-beside", "has-over");
    this.controls.hidden = true;
    part(this.root, "name-here").hidden = true;
    this.changed();
  }

  dress() {
    const { state, root } = this;
    if (!state) return;
    this.controls.hidden = false;
    root.classList.add("has-beside");
    root.classList.toggle("has-over", state.layout === "over");
    for (const choice of this.choices("lock")) {
      choice.checked = choice.value === state.lock;
      choice.disabled = choice.value === "events" && !this.tandem.pairing.map;
    }
    for (const choice of this.choices("layout")) choice.checked = choice.value === state.layout;
    this.opacity.value = String(state.opacity);
    part(root, "beside-opacity-field").hidden = state.layout !== "over";
    this.mirrored.checked = state.is_mirrored;
    this.pane.mirror(state.is_mirrored);
    const byFeet = this.over.place(state.is_mirrored);
    this.over.show(state.layout === "over", state.opacity);
    if (state.layout === "over" && !byFeet) this.say(say("The feet are not seen in both, so the pictures only share their height."));
    part(root, "name-here").hidden = false;
    part(root, "name-here").textContent = this.player.swing.label;
    part(root, "name-there").textContent = state.words;
  }

  /** @param {Partial<BesideState>} to */
  change(to) {
    if (!this.state) return;
    this.state = { ...this.state, ...to };
    this.dress();
    this.changed();
  }

  /** @param {Lock} lock */
  setLock(lock) {
    this.tandem.pair(locked(this.tandem.pairing, lock));
    this.say(lock === "alone" ? say("Each moves alone now.") : "");
    this.change({ lock });
  }

  lockHere() {
    const { player, pane } = this;
    this.tandem.pairing = lockedAsTheyStand(this.tandem.pairing, player.us, pane.us);
    this.say(say("Locked as they stand: {seconds} s between the two clips.", { seconds: decimal(this.tandem.pairing.offsetUs / 1e6, 3) }));
    this.change({ lock: "offset", offset_us: this.tandem.pairing.offsetUs });
  }

  /** @param {number} frames  who steps the other one alone wants it elsewhere than the lock puts it */
  async stepAlone(frames) {
    if (!this.state) return;
    this.player.engine.pause();
    if (this.state.lock !== "alone") this.setLock("alone");
    await this.pane.engine.step(frames);
    this.player.deeds.did("other", { us: this.pane.us });
  }

  /** @param {number} us  of the other clip */
  showOther(us) {
    return this.pane.show(this.pane.frames.nearest(us));
  }

  /** @param {"beside" | "over"} layout */
  setLayout(layout) {
    this.say("");
    this.change({ layout });
  }

  /** @param {number} opacity */
  setOpacity(opacity) {
    this.change({ opacity });
  }

  /** @param {boolean} is_mirrored */
  setMirrored(is_mirrored) {
    this.change({ is_mirrored });
  }

  changed() {
    this.player.deeds.did("beside", { state: this.state });
    tell(this.root, "player:beside", this.state);
  }

  /** @param {string} text */
  say(text) {
    const line = maybePart(this.root, "beside-said");
    if (line) line.textContent = text;
  }
}

/** @param {PlainMap | {}} plain */
function asMap(plain) {
  if (!("events" in plain) || plain.events.length < 2) return null;
  return { events: plain.events, firstUs: plain.first_us, secondUs: plain.second_us, leftOut: [] };
}

/** @param {import("../core/timemap.js").TimeMap | null} map @returns {PlainMap | {}} */
function asPlain(map) {
  return map ? { events: map.events, first_us: map.firstUs, second_us: map.secondUs } : {};
}
