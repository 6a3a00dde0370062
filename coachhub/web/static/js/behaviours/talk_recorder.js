import { newUuid } from "../core/ids.js";
import { LONGEST_MS, SLIP_SEEN_MS, STRAY_US, TalkLog } from "../core/talk.js";
import { inMinutes } from "../core/timecode.js";
import { say } from "../core/wording.js";
import { part } from "./dom.js";
import { drawLevel, microphoneTrouble } from "./microphone.js";
import { Scope } from "./scope.js";
import { get, post } from "./server.js";
import { TalkReplay } from "./talk_replay.js";
import { TalkSender } from "./talk_sender.js";
import { TalkSound } from "./talk_sound.js";
import { TalkStore } from "./talk_store.js";

/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */
/** @typedef {"idle" | "running" | "between" | "sending"} Phase */

const LOOK_MS = 33;
const NO_WAY = say("This browser can't record a talk. Write instead, mark moments, or send a sound file below.");
const OTHERWISE = say("or write, and mark moments instead.");

/**
 * Records the coach's voice together with what the coach does in the player, in takes that can be taken back.
 *
 *   <section data-part="talk" data-url="…" data-uploads="…"> … templates/coach/desk/talk.html … </section>
 */
export class TalkRecorder {
  /** @param {HTMLElement} root @param {SwingPlayer} player @param {string} token @param {string} review */
  constructor(root, player, token, review) {
    this.root = root;
    this.player = player;
    this.token = token;
    this.review = review;
    this.scope = new Scope();
    this.store = new TalkStore();
    this.list = part(root, "talk-list");
    this.log = new TalkLog();
    this.talk = newUuid();
    /** @type {Record<number, string>} */
    this.uploads = {};
    /** @type {number[]} */
    this.arrived = [];
    /** @type {Phase} */
    this.phase = "idle";
    /** @type {import("./talk_sound.js").Take | null} */
    this.take = null;
    /** @type {TalkReplay[]} */
    this.replays = [];
    this.layers = { body: true, shaft: true, drawings: true };
    /** @type {import("./beside.js").BesideState | null} */
    this.pair = null;
    this.zeroMs = 0;
    this.slipMs = 0;
  }

  async connect() {
    this.scope.listen(this.list, "submit", (event) => this.noteForm(event));
    this.listed();
    this.watch();
    part(this.root, "talk-recorder").hidden = false;
    if (!TalkSound.isPossible) {
      part(this.root, "talk-record").hidden = true;
      this.say(NO_WAY);
      return;
    }
    await this.store.open();
    const press = (/** @type {string} */ name, /** @type {() => unknown} */ work) => this.scope.listen(part(this.root, name), "click", work);
    press("talk-record", () => this.record());
    press("talk-pause", () => this.pause());
    press("talk-done", () => this.done());
    press("talk-back-5", () => this.takeBack(5000));
    press("talk-back-15", () => this.takeBack(15_000));
    press("talk-drop", () => this.drop());
    this.scope.listen(this.player.root, "player:deed", (event) => this.deed(/** @type {CustomEvent} */ (event).detail));
    this.scope.listen(window, "pagehide", () => void this.pause());
    await this.offerLeft();
  }

  /** @param {string} text */
  say(text) {
    part(this.root, "talk-state").textContent = text;
  }

  /** A talk that an earlier visit left on this device. */
  async offerLeft() {
    const left = await this.store.left(this.review);
    if (!left) return;
    this.log = new TalkLog(left.events, left.cuts);
    this.talk = left.talk;
    this.uploads = left.uploads;
    this.arrived = left.arrived;
    if (left.running) {
      this.log.take = left.running.take;
      this.log.end(left.running.ms);
    }
    if (!this.log.lengthMs) return;
    this.enter("between");
    this.say(say("A talk that was not sent lies on this device. Go on with it, send it with Done, or throw it away."));
  }

  async record() {
    if (this.phase === "running" || this.phase === "sending") return;
    for (const replay of this.replays) replay.pause();
    try {
      this.sound ??= await TalkSound.open();
    } catch (problem) {
      this.say(microphoneTrouble(problem, OTHERWISE));
      return;
    }
    this.enter("running");
    this.say(say("Wait…"));
    const number = this.log.begin([]);
    const take = await this.sound.record((piece) => void this.keepPiece(number, piece));
    this.take = take;
    this.zeroMs = take.zeroMs();
    this.slipMs = 0;
    this.noteScreen();
    this.looking = setInterval(() => this.look(), LOOK_MS);
    this.say(this.store.isLasting ? say("Recording.") : say("Recording. This browser keeps nothing when the page closes: send it before you leave."));
  }

  /** Milliseconds of the running take's sound. */
  get ms() {
    return this.take ? performance.now() - this.zeroMs - this.slipMs : 0;
  }

  noteScreen() {
    this.log.note(0, { kind: "layers", ...this.layers });
    this.log.note(0, { kind: "place", ...this.player.now() });
    this.log.marks(0, this.player.marks);
    if (this.pair) this.log.note(0, { kind: "pair", pair: this.pair });
  }

  /** What can't be told by an event is looked at: where playing really is, and the stroke under the pen. */
  look() {
    if (this.phase !== "running" || !this.take) return;
    this.keepToSound(this.take);
    const { ms, player } = this;
    const { frames } = player.engine;
    const now = player.now();
    this.log.place(ms, now, now.rate ? Math.max(STRAY_US, 1.5 * (frames.endOf(player.frame) - frames.startOf(player.frame))) : 0);
    this.log.stroke(ms, player.ghost);
    this.log.marks(ms, player.marks);
    this.showTime();
    if (this.log.lengthMs + ms > LONGEST_MS) void this.pause();
  }

  /** After a stumble of the device the sound goes on later than the page: so do the deeds. @param {import("./talk_sound.js").Take} take */
  keepToSound(take) {
    take.zeroMs();
    const slipMs = take.slipMs();
    if (slipMs === this.slipMs) return;
    this.log.slipped(this.ms - SLIP_SEEN_MS - LOOK_MS, slipMs - this.slipMs);
    this.slipMs = slipMs;
  }

  /** What was done, at the moment it was done. @param {any} deed  see deeds.js */
  deed(deed) {
    if (deed.kind === "switch" && deed.name in this.layers) this.layers = { ...this.layers, [deed.name]: deed.on };
    if (deed.kind === "beside") this.pair = deed.state;
    if (this.phase !== "running" || !this.take) return;
    const ms = deed.at_ms - this.zeroMs - this.slipMs;
    if (deed.kind === "pos") this.log.place(ms, { swing: this.player.swing.id, us: deed.us, rate: deed.rate });
    if (deed.kind === "live") this.log.stroke(ms, deed.mark);
    if (deed.kind === "mark") this.log.marks(ms, deed.marks);
    if (deed.kind === "other") this.log.note(ms, { kind: "other", us: deed.us });
    if (deed.kind === "switch") this.log.note(ms, { kind: "layers", ...this.layers });
    if (deed.kind === "beside") this.log.note(ms, { kind: "pair", pair: this.pair });
  }

  showTime() {
    const ran = this.log.lengthMs + (this.phase === "running" ? Math.max(0, this.ms) : 0);
    part(this.root, "talk-time").textContent = inMinutes(ran);
    drawLevel(part(this.root, "talk-level"), this.phase === "running" && this.sound ? this.sound.level.share : 0);
  }

  /** @param {number} take @param {Blob} piece */
  async keepPiece(take, piece) {
    try {
      await this.store.addPiece(this.talk, take, piece);
      await this.keep();
    } catch {
      this.say(say("This device has no room left. Press Done and send what there is."));
    }
  }

  keep() {
    const running = this.phase === "running" && this.take ? { take: this.log.take, ms: Math.max(0, Math.round(this.ms)) } : null;
    const { cuts, events } = this.log;
    return this.store.keep({ review: this.review, talk: this.talk, cuts, events, running, uploads: this.uploads, arrived: this.arrived, at: Date.now() });
  }

  async pause() {
    if (this.phase !== "running" || !this.take) return;
    clearInterval(this.looking);
    const { take, ms } = this;
    this.log.end(ms, this.zeroMs - take.zeroMs());
    this.enter("between");
    await take.stop();
    this.take = null;
    await this.keep().catch(() => {});
    this.say(say("Paused. Go on, take back the last part, or send it with Done."));
  }

  /** @param {number} ms */
  takeBack(ms) {
    this.log.takeBack(ms);
    void this.keep();
    this.showTime();
    this.say(this.log.lengthMs ? say("Taken back. Go on from there.") : say("All of it is taken back."));
  }

  async drop() {
    await this.store.forget(this.review);
    this.begin();
    this.say(say("Thrown away."));
  }

  begin() {
    this.sound?.close();
    this.sound = undefined;
    this.log = new TalkLog();
    this.talk = newUuid();
    [this.uploads, this.arrived] = [{}, []];
    this.enter("idle");
  }

  async done() {
    await this.pause();
    if (!this.log.lengthMs) {
      this.say(say("Nothing was said yet."));
      return;
    }
    this.enter("sending");
    this.say(say("Sending. You can go on working; stay on this page."));
    await this.keep();
    const talk = /** @type {import("./talk_store.js").KeptTalk} */ (await this.store.left(this.review));
    this.sender = new TalkSender(this.store, {
      url: this.root.dataset.url ?? "", uploads: this.root.dataset.uploads ?? "", token: this.token,
      say: (text) => this.say(text), show: (share) => this.showSent(share),
    });
    try {
      this.showList(await this.sender.send(talk));
      this.begin();
      this.say(say("Kept. Put the same in writing below, for those who can't hear it."));
    } catch (problem) {
      this.enter("between");
      this.say(/** @type {Error} */ (problem).message);
    }
  }

  /** @param {number | null} share */
  showSent(share) {
    const bar = part(this.root, "talk-sent");
    bar.hidden = share === null;
    bar.value = Math.round(100 * (share ?? 0));
  }

  /** @param {Phase} phase */
  enter(phase) {
    this.phase = phase;
    const show = (/** @type {string} */ name, /** @type {boolean} */ on) => { part(this.root, name).hidden = !on; };
    show("talk-record", phase === "idle" || phase === "between");
    show("talk-pause", phase === "running");
    show("talk-done", phase === "running" || phase === "between");
    show("talk-time", phase !== "idle");
    show("talk-between", phase === "between");
    if (phase !== "sending") this.showSent(null);
    part(this.root, "talk-record").textContent = phase === "between" ? say("Go on") : say("Record the talk");
    this.root.dataset.phase = phase;
    this.showTime();
  }

  /** @param {SubmitEvent} event */
  async noteForm(event) {
    event.preventDefault();
    const form = /** @type {HTMLFormElement} */ (event.target);
    const body = new FormData(form, event.submitter);
    try {
      this.showList(await post(form.action, body, this.token));
      this.say({ remove: say("Deleted."), film: say("The film is being made.") }[String(body.get("do"))] ?? say("Words kept."));
    } catch (problem) {
      this.say(/** @type {Error} */ (problem).message || say("No connection. Try again in a moment."));
    }
  }

  /** @param {{html: string, waiting: boolean}} answer */
  showList({ html, waiting }) {
    for (const replay of this.replays) replay.disconnect();
    this.list.innerHTML = html;
    this.root.dataset.waiting = String(waiting);
    this.listed();
    this.watch();
  }

  listed() {
    this.replays = [...this.list.querySelectorAll("[data-talk]")].map((one) => new TalkReplay(/** @type {HTMLElement} */ (one), this.player));
    for (const replay of this.replays) replay.connect();
  }

  /** Look again while a talk or a film is being prepared. */
  watch() {
    clearTimeout(this.waiting);
    if (this.root.dataset.waiting === "true") this.waiting = setTimeout(() => this.lookAgain(), 1500);
  }

  async lookAgain() {
    const writing = this.list.contains(document.activeElement) && document.activeElement instanceof HTMLTextAreaElement;
    const listening = this.replays.some((replay) => replay.isPlaying);
    if (writing || listening) this.watch();
    else await get(this.root.dataset.url ?? "").then((answer) => this.showList(answer), () => this.watch());
  }

  disconnect() {
    clearInterval(this.looking);
    clearTimeout(this.waiting);
    void this.pause();
    this.sender?.stop();
    for (const replay of this.replays) replay.disconnect();
    this.scope.release();
  }
}
