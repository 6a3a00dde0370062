import { locale, say } from "../core/wording.js";
import { AnswerForm } from "./answer_form.js";
import { ComparePanel } from "./compare_panel.js";
import { button, html, maybePart, part } from "./dom.js";
import { DraftKeeper } from "./draft_keeper.js";
import { EventPegs } from "./event_pegs.js";
import { FindingPanel } from "./finding_panel.js";
import { DrawingPad } from "./drawing_pad.js";
import { JointHandles } from "./joint_handles.js";
import { LookAhead } from "./look_ahead.js";
import { PhraseList } from "./phrase_list.js";
import { PinnedList } from "./pinned_list.js";
import { post } from "./server.js";
import { SignKeys } from "./sign_keys.js";
import { SwingCards } from "./swing_cards.js";
import { SwingPlayer } from "./swing_player.js";
import { TalkRecorder } from "./talk_recorder.js";
import { VoiceRecorder } from "./voice_recorder.js";

/**
 * Puts the parts of the review desk together: <div data-desk data-mine="yes" …> of templates/coach/desk.html.
 */
export class Desk {
  /** @param {HTMLElement} root */
  constructor(root) {
    this.root = root;
    this.token = /** @type {HTMLInputElement} */ (root.querySelector("[name=csrfmiddlewaretoken]")).value;
    this.mine = root.dataset.mine === "yes";
  }

  async connect() {
    const section = /** @type {HTMLElement | null} */ (this.root.querySelector("[data-player]"));
    if (section) {
      this.player = new SwingPlayer(section);
      this.cards = new SwingCards(part(this.root, "cards"), this.player, this.token);
      this.cards.connect();
      new SignKeys(part(this.root, "cards"), this.player).connect();
      if (this.mine) new EventPegs(this.player, this.cards).connect();
      new ComparePanel(this.root, this.player, this.token, this.root.dataset.review ?? "").connect();
    }
    if (this.mine) this.connectWriting();
    new FindingPanel(this.root, { player: this.player, answer: this.answer, token: this.token }).connect();
    await this.player?.connect();
    if (this.mine && this.root.dataset.aheadUrl) new LookAhead(this.root.dataset.aheadUrl).connect();
  }

  connectWriting() {
    this.answer = new AnswerForm(part(this.root, "answer"));
    this.keeper = new DraftKeeper({
      key: `desk:${this.root.dataset.review}`,
      revision: Number(this.root.dataset.revision),
      send: (what, revision, headers) => this.send(what, revision, headers),
      snapshot: () => this.snapshot(),
      say: (text, kind) => this.answer?.say(text, kind),
    });
    this.connectPad();
    this.answer.onchange = () => this.keeper?.touch("answer");
    this.answer.flush = () => this.keeper?.flush() ?? Promise.resolve(true);
    this.answer.connect();
    const phrases = maybePart(this.root, "phrases");
    if (phrases) new PhraseList(phrases, /** @type {HTMLTextAreaElement} */ (this.answer.form.elements.namedItem("words"))).connect();
    this.keeper.connect();
    this.connectVoice();
    this.connectTalk();
    this.offerKept();
  }

  connectTalk() {
    const section = maybePart(this.root, "talk");
    if (!section || !this.player) return;
    this.talk = new TalkRecorder(section, this.player, this.token, this.root.dataset.review ?? "");
    void this.talk.connect();
  }

  connectPad() {
    const { player } = this;
    if (!player) return;
    this.pad = new DrawingPad(this.root, player);
    this.pinned = new PinnedList(part(this.root, "drawings"), player, this.pad);
    this.pad.onchange = () => { this.pinned?.refresh(); this.keeper?.touch("marks"); };
    this.pinned.onchange = () => this.keeper?.touch("marks");
    const joints = maybePart(this.root, "joints");
    // Before the pad: while joints are being placed, the picture takes no drawings.
    if (joints && this.cards) new JointHandles(joints, player, this.cards, this.token).connect();
    this.pad.connect();
    this.pinned.connect();
  }

  connectVoice() {
    const section = maybePart(this.root, "voice");
    const where = () => (this.player?.swing ? { swing: this.player.swing.id, us: this.player.us } : null);
    if (section) new VoiceRecorder(section, this.token, where).connect();
  }

  snapshot() {
    return { fields: this.answer?.values() ?? {}, marks: this.player?.marks ?? [], moments: this.player?.moments ?? [] };
  }

  /** @param {"answer" | "marks"} what @param {number} revision @param {Record<string, string>} headers @returns {Promise<number>} */
  async send(what, revision, headers) {
    const answer = what === "answer" ? await this.sendAnswer(revision, headers) : await this.sendMarks(revision, headers);
    this.answer?.setRevision(answer.revision);
    if (answer.drills) this.answer?.showDrills(answer.drills);
    return answer.revision;
  }

  /** @param {number} revision @param {Record<string, string>} headers */
  sendAnswer(revision, headers) {
    const body = new FormData(this.answer?.form);
    body.set("revision", String(revision));
    return post(this.root.dataset.answerUrl ?? "", body, this.token, headers);
  }

  /** @param {number} revision @param {Record<string, string>} headers */
  sendMarks(revision, headers) {
    const { marks, moments } = this.snapshot();
    const whole = marks.map((mark) => ({ ...mark, from_us: Math.round(mark.from_us), to_us: Math.round(mark.to_us), anchor_us: rounded(mark.anchor_us) }));
    const times = moments.map((moment) => ({ ...moment, at_us: Math.round(moment.at_us) }));
    return post(this.root.dataset.marksUrl ?? "", { revision, marks: whole, moments: times }, this.token, headers);
  }

  /** What an earlier visit left on this device: the coach chooses, nothing is mixed silently. */
  offerKept() {
    const kept = this.keeper?.left();
    const box = part(this.root, "kept");
    if (!kept) return;
    const take = button("plain", {}, [say("Bring them back")]);
    const drop = button("quiet", {}, [say("Throw them away")]);
    const when = new Date(kept.at).toLocaleString(locale(), { dateStyle: "medium", timeStyle: "short" });
    box.replaceChildren(html("p", {}, [say("Changes from {when} lie on this device and did not reach the server.", { when })]), html("p", { class: "actions" }, [take, drop]));
    box.hidden = false;
    take.addEventListener("click", () => { box.hidden = true; this.bringBack(kept); });
    drop.addEventListener("click", () => { box.hidden = true; this.keeper?.forget(); });
  }

  /** @param {import("./draft_keeper.js").Kept} kept */
  bringBack(kept) {
    this.answer?.setValues(kept.fields);
    this.pinned?.setMoments(kept.moments);
    this.pad?.replaceAll(kept.marks);
    this.keeper?.touch("answer");
    this.keeper?.touch("marks");
  }
}

/** @param {number | null | undefined} us */
function rounded(us) {
  return us === null || us === undefined ? null : Math.round(us);
}
