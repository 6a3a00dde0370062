import { followed } from "../core/following.js";
import { FrameTimes } from "../core/frametimes.js";
import { neighbour, nextStop, otherRate, stretch } from "../core/timeline.js";
import { say } from "../core/wording.js";
import { BodyLayer } from "./body_layer.js";
import { dataOf, fetchJson } from "./clip_data.js";
import { DecodedFrames, supportedConfig } from "./decoded_frames.js";
import { Deeds } from "./deeds.js";
import { jsonOf, part, tell } from "./dom.js";
import { MarkLayer } from "./mark_layer.js";
import { PlayerControls } from "./player_controls.js";
import { connectKeys } from "./player_keys.js";
import { Scope } from "./scope.js";
import { StageJog } from "./stage_jog.js";
import { VideoEngine } from "./video_engine.js";

const LOOK_AGAIN_MS = 3000;

/** @typedef {import("../core/strokes.js").Mark} Mark */
/** @typedef {{uid: string, swing: string, at_us: number, note: string}} Moment */
/** @typedef {number | (() => number)} Place  a time of the clip, or how to find it once the clip is there */
/**
 * @typedef {object} PlayerSwing  one entry of the page's player data (coachhub/web/player.py)
 * @property {string} id
 * @property {string} view  "face_on" or "dtl"
 * @property {string} label
 * @property {string} hand
 * @property {string | null} src
 * @property {string} poster
 * @property {string} index
 * @property {string | null} tracks
 * @property {number} start_us
 * @property {number} end_us
 * @property {number} in_clip
 * @property {import("../core/timeline.js").SwingEvent[]} events
 */

/**
 * One or several swings of a submission: exact frames, slow motion, events, body lines and drawings.
 *
 *   <section data-player data-source="player-data"> … templates/shared/swing_player.html … </section>
 *   const player = new SwingPlayer(section); await player.connect();
 *
 * Events on the section: `player:swing` after another swing is shown, `player:frame` after each frame, `player:playing`
 * when it starts or stops, and `player:deed` for everything that a person does (deeds.js).
 */
export class SwingPlayer {
  /** @param {HTMLElement} root */
  constructor(root) {
    this.root = root;
    this.scope = new Scope();
    this.data = jsonOf(root.dataset.source ?? "");
    /** @type {Mark[]} */
    this.marks = this.data.marks;
    /** @type {Moment[]} */
    this.moments = this.data.moments;
    this.stage = part(root, "stage");
    this.video = part(root, "video");
    this.plain = new VideoEngine(this.video);
    this.decoded = new DecodedFrames(part(root, "canvas"), this.video);
    /** @type {VideoEngine | DecodedFrames} */
    this.engine = this.plain;
    this.plainOnly = false;
    this.body = new BodyLayer(part(root, "body"));
    this.drawn = new MarkLayer(part(root, "marks"));
    this.rate = this.data.replay ? 0.5 : 0.25;
    this.halts = Boolean(this.data.replay);
    /** @type {string | null} */
    this.selected = null;
    /** @type {Mark | null} */
    this.ghost = null;
    /** @type {PlayerSwing} */
    this.swing = this.data.swings[0];
    // The last place that was asked for; a new one is a new object, so it can be told whether one came since.
    this.wish = { us: 0 };
    this.span = { start_us: 0, end_us: 0 };
    /** The lines over the picture. @type {any} */
    this.tracks = null;
    /** What the clip's index knows of its sound. @type {import("../core/waveform.js").Sound | null} */
    this.sound = null;
    /** The time that was asked for; null where a frame was. @type {number | null} */
    this.askedUs = null;
    this.deeds = new Deeds(root);
    /** @type {Promise<void>} */
    this.ready = Promise.resolve();
  }

  async connect() {
    this.video.controls = false;
    this.root.classList.add("is-live");
    this.controls = new PlayerControls(this);
    connectKeys(this, this.stage);
    this.jog = new StageJog(this, this.stage, part(this.root, "picture"));
    this.jog.connect();
    this.connectEngines();
    for (const choice of this.root.querySelectorAll("[data-swing-choice]")) {
      this.scope.listen(choice, "click", () => this.select(/** @type {HTMLElement} */ (choice).dataset.swingChoice ?? ""));
    }
    this.setRate(this.rate);
    if (this.swing) await this.select(this.swing.id);
  }

  connectEngines() {
    for (const engine of [this.plain, this.decoded]) {
      engine.onframe = (frame) => this.frameShown(frame);
      engine.onplaying = (playing) => this.playingChanged(playing);
      engine.halt = (from, to) => (this.halts ? nextStop(this.stops(), from, to) : null);
    }
    this.decoded.renew = async () => ((await this.refreshed()) ? this.fresh(this.swing)?.src ?? null : null);
    this.decoded.onwaiting = (waits) => this.say(waits ? say("The network is gone or slow. The picture comes when it is back.") : "");
    this.decoded.onfail = (problem) => this.fallBack(problem);
  }

  disconnect() {
    clearTimeout(this.looking);
    this.plain.rest();
    this.decoded.rest();
    this.jog?.disconnect();
    this.scope.release();
  }

  /** @param {PlayerSwing} swing @returns {PlayerSwing | undefined} the same swing as the page knows it now */
  fresh(swing) {
    return this.data.swings.find((/** @type {PlayerSwing} */ one) => one.id === swing.id);
  }

  get frame() {
    return this.engine.frame;
  }

  /** The shown frame's own time. */
  get us() {
    return this.engine.frames.startOf(this.frame);
  }

  /** The time that was asked for, as long as its frame is shown: an event lies between two frames. */
  get exactUs() {
    const { askedUs, engine } = this;
    return askedUs !== null && engine.frames.nearest(askedUs) === this.frame ? askedUs : this.us;
  }

  /** @param {boolean} playing */
  playingChanged(playing) {
    this.controls?.playingChanged(playing);
    if (playing) this.askedUs = null;
    this.tellPosition();
    tell(this.root, "player:playing", { playing });
  }

  /** Where it is and how fast it runs, as one deed. */
  tellPosition() {
    this.deeds.did("pos", { us: this.us, rate: this.engine.playing ? this.rate * this.engine.direction : 0 });
  }

  /** As the deeds would have it now: for the beginning of a recording. */
  now() {
    return { swing: this.swing.id, us: this.us, rate: this.engine.playing ? this.rate * this.engine.direction : 0 };
  }

  /** One after the other: who jumps while the picture still loads must not be overtaken by it. @param {string} id @param {number} [us] @returns {Promise<void>} */
  select(id, us) {
    this.ready = this.ready.then(() => this.open(id, us)).catch((problem) => this.failed(problem));
    return this.ready;
  }

  /** A swing as somebody else knows it, with events and lines of its own. @param {PlayerSwing} swing @param {number} [us] */
  showOwn(swing, us) {
    this.ready = this.ready.then(() => this.load(swing, us)).catch((problem) => this.failed(problem));
    return this.ready;
  }

  /** @param {string} id @param {number} [us] */
  async open(id, us) {
    const swing = this.data.swings.find((/** @type {PlayerSwing} */ one) => one.id === id);
    if (!swing) return;
    if (swing === this.swing && this.engine.frames.count > 1) {
      if (us !== undefined) await this.goTo(us);
      return;
    }
    await this.load(swing, us);
  }

  /** @param {PlayerSwing} swing @param {Place} [us] @param {boolean} [again] */
  async load(swing, us, again = false) {
    this.swing = swing;
    this.markChoice();
    this.say("");
    if (!swing.src) {
      this.say(say("The picture of this clip is still being prepared. It appears here when it is ready."));
      this.lookAgain(swing, us);
      return;
    }
    try {
      const [index, tracks] = await dataOf(swing);
      await this.opened(swing, index, tracks, us);
    } catch (problem) {
      // Addresses of private media run out; the page itself knows fresh ones.
      if (again || !(await this.refreshed())) throw problem;
      await this.load(this.fresh(swing) ?? swing, us, true);
    }
  }

  /** @param {PlayerSwing} swing @param {any} index @param {any} tracks @param {Place} [us] */
  async opened(swing, index, tracks, us) {
    const frames = new FrameTimes(index.times_us, index.end_us);
    if (this.engine.source !== swing.src) await this.openPicture(swing, frames, index);
    this.sound = index.sound ?? null;
    this.span = stretch(swing, swing.in_clip, frames.endUs);
    this.engine.bounds = { first: frames.frameAt(this.span.start_us), last: frames.frameAt(this.span.end_us) };
    const { width, height } = this.engine.size;
    part(this.root, "picture").style.aspectRatio = `${width} / ${height}`;
    this.drawn.size(width, height);
    this.tracks = tracks;
    if (tracks) this.body.load(tracks, swing.hand, width, height);
    else this.body.clear();
    this.controls?.swingChanged();
    this.deeds.did("clip", { swing: swing.id });
    tell(this.root, "player:swing", swing);
    const place = typeof us === "function" ? us() : us;
    await this.goTo(place ?? swing.events.find((event) => event.name === "address")?.t_us ?? this.span.start_us);
  }

  /** @param {PlayerSwing} swing @param {FrameTimes} frames @param {any} index */
  async openPicture(swing, frames, index) {
    const decodes = !this.plainOnly && (await supportedConfig(index)) !== null;
    this.engine.rest();
    this.engine = decodes ? this.decoded : this.plain;
    await this.engine.load(swing.src ?? "", frames, swing.poster, index);
    this.engine.setRate(this.rate);
    part(this.root, "exactness").hidden = !this.engine.approximate;
  }

  /** New lines over the same picture. @param {string | null} address */
  async takeLines(address) {
    if (!address || address === this.swing.tracks) return;
    this.swing.tracks = address;
    this.tracks = await fetchJson(address).catch(() => this.tracks);
    const { width, height } = this.engine.size;
    if (this.tracks) this.body.load(this.tracks, this.swing.hand, width, height);
  }

  /** The browser promised to decode the clip and then didn't. @param {unknown} problem */
  fallBack(problem) {
    console.warn("the browser's own player takes over", problem);
    this.plainOnly = true;
    const { swing, us, wish } = this;
    // Who asks for another frame while the other engine loads is not brought back to this one.
    const still = () => (this.wish === wish ? us : this.wish.us);
    this.ready = this.ready.then(() => this.load(swing, still)).catch((again) => this.failed(again));
  }

  /** The numbers are there before the picture: ask until that is there too. @param {PlayerSwing} swing @param {Place} [us] */
  lookAgain(swing, us) {
    clearTimeout(this.looking);
    this.looking = setTimeout(async () => {
      if (this.swing.id !== swing.id) return;
      await this.refreshed().catch(() => false);
      const fresh = this.fresh(swing);
      if (fresh?.src) this.ready = this.load(fresh, us).catch((problem) => this.failed(problem));
      else this.lookAgain(swing, us);
    }, LOOK_AGAIN_MS);
  }

  async refreshed() {
    const answer = await fetch(location.href, { headers: { Accept: "text/html" } });
    if (!answer.ok) return false;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const text = page.getElementById(this.root.dataset.source ?? "")?.textContent;
    if (text) this.data.swings = JSON.parse(text).swings;
    return Boolean(text);
  }

  markChoice() {
    for (const choice of this.root.querySelectorAll("[data-swing-choice]")) {
      choice.setAttribute("aria-pressed", String(/** @type {HTMLElement} */ (choice).dataset.swingChoice === this.swing.id));
    }
  }

  /** @param {unknown} problem */
  failed(problem) {
    console.error(problem);
    this.say(say("This clip doesn't play here. Load the page again; if it stays so, try another browser."));
  }

  /** @param {string} text */
  say(text) {
    const line = part(this.root, "trouble");
    line.textContent = text;
    line.hidden = !text;
  }

  /** @param {number} frame */
  frameShown(frame) {
    this.controls?.frameChanged(frame);
    this.redraw();
    if (!this.engine.playing) this.tellPosition();
    tell(this.root, "player:frame", { frame, us: this.us });
  }

  redraw() {
    const { frames } = this.engine;
    this.body.draw(this.us, (frames.endOf(this.frame) - frames.startOf(this.frame)) * 0.75);
    this.drawn.draw(this.shownMarks(), this.us, this.selected, this.ghost);
  }

  /** The swing's drawings as they lie at the shown time: some go with a joint or the shaft. */
  shownMarks() {
    const mine = this.marks.filter((mark) => mark.swing === this.swing.id);
    return mine.flatMap((mark) => this.followedTo(mark, this.us) ?? []);
  }

  /** @param {Mark} mark @param {number} us */
  followedTo(mark, us) {
    const { frames } = this.engine;
    return followed(mark, this.tracks, us, (frames.endOf(this.frame) - frames.startOf(this.frame)) * 0.75, this.drawn.aspect);
  }

  /** Where a replay halts: at each drawing's start and at each moment. */
  stops() {
    const mine = (/** @type {{swing: string}} */ thing) => thing.swing === this.swing.id;
    const { frames } = this.engine;
    const starts = [...this.marks.filter(mine).map((mark) => mark.from_us), ...this.moments.filter(mine).map((moment) => moment.at_us)];
    return starts.map((us) => frames.startOf(frames.nearest(us)));
  }

  /** @param {number} frame */
  showFrame(frame) {
    this.wish = { us: this.engine.frames.startOf(frame) };
    this.askedUs = null;
    return this.engine.show(frame);
  }

  /** @param {number} frames */
  step(frames) {
    this.wish = { us: this.engine.frames.startOf(this.frame + frames) };
    this.askedUs = null;
    return this.engine.step(frames);
  }

  /** @param {number} us */
  goTo(us) {
    this.wish = { us };
    this.askedUs = us;
    return this.engine.show(this.engine.frames.nearest(us));
  }

  /** @param {1 | -1} direction */
  toEvent(direction) {
    const event = neighbour(this.swing.events, this.frame, direction, (us) => this.engine.frames.nearest(us));
    if (event) this.goTo(event.t_us);
  }

  togglePlay() {
    if (this.engine.playing) this.engine.show(this.frame);
    else this.engine.play(this.rate);
  }

  toggleReverse() {
    if (this.engine.playing && this.engine.direction < 0) this.engine.show(this.frame);
    else if (this.engine.canReverse) this.engine.play(-this.rate);
  }

  /** @param {number} rate */
  setRate(rate) {
    this.rate = rate;
    this.engine.setRate(rate);
    this.controls?.rateChanged(rate);
    if (this.engine.playing) this.tellPosition();
  }

  /** @param {1 | -1} direction */
  changeRate(direction) {
    this.setRate(otherRate(this.rate, direction));
  }

  /** @param {string} name @param {boolean} on */
  setSwitch(name, on) {
    if (name === "body" || name === "shaft") this.body.shows[name] = on;
    if (name === "drawings") this.drawn.visible = on;
    if (name === "repeat") [this.plain.repeat, this.decoded.repeat] = [on, on];
    if (name === "halt") this.halts = on;
    this.deeds.did("switch", { name, on });
    this.redraw();
  }
}
