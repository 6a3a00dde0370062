import { thingsToFollow } from "../core/following.js";
import { inWords } from "../core/strokes.js";
import { inSeconds, spanInSeconds } from "../core/timecode.js";
import { say } from "../core/wording.js";
import { button, html, part } from "./dom.js";
import { Scope } from "./scope.js";

/** @typedef {import("../core/strokes.js").Mark} Mark */
/** @typedef {import("./drawing_pad.js").DrawingPad} DrawingPad */
/** @typedef {import("./swing_player.js").Moment} Moment */
/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */

const SHORT_US = 400_000;

/** What hangs on this swing: its drawings and moments in order of time, and the fields of the picked drawing. */
export class PinnedList {
  /** @param {HTMLElement} root  templates/coach/desk/drawings.html @param {SwingPlayer} player @param {DrawingPad} pad */
  constructor(root, player, pad) {
    this.root = root;
    this.player = player;
    this.pad = pad;
    this.scope = new Scope();
    this.list = part(root, "pinned");
    this.panel = part(root, "picked");
    this.label = part(root, "picked-label");
    this.note = part(root, "picked-note");
    this.point = part(root, "picked-point");
    this.follows = part(root, "picked-follows");
    this.weight = part(root, "picked-weight");
    this.dashed = part(root, "picked-dashed");
    this.onchange = () => {};
  }

  connect() {
    this.root.hidden = false;
    this.pad.onpick = (mark, fresh) => this.showPicked(mark, fresh);
    this.connectPanel();
    this.scope.listen(part(this.root, "moment-form"), "submit", (event) => this.addMoment(event));
    this.scope.listen(this.player.root, "player:swing", () => this.refresh());
    this.refresh();
  }

  connectPanel() {
    const { scope, root, pad, player } = this;
    scope.listen(this.label, "change", () => this.rename());
    scope.listen(this.note, "change", () => pad.changePicked({ note: this.note.value.trim() }));
    scope.listen(this.follows, "change", () => this.follow());
    scope.listen(part(root, "span-from"), "click", () => this.setSpan(player.us, Math.max(player.us, pad.picked?.to_us ?? 0)));
    scope.listen(part(root, "span-to"), "click", () => this.setSpan(Math.min(player.us, pad.picked?.from_us ?? 0), player.us));
    scope.listen(part(root, "span-all"), "click", () => this.setSpan(Math.round(player.span.start_us), Math.round(player.span.end_us)));
    scope.listen(this.weight, "change", () => pad.changePicked({ weight: this.weight.value }));
    scope.listen(this.dashed, "change", () => pad.changePicked({ is_dashed: this.dashed.checked }));
    scope.listen(part(root, "copy"), "click", () => pad.copyPicked());
    scope.listen(part(root, "delete"), "click", () => pad.removePicked());
    scope.listen(part(root, "done"), "click", () => { pad.letGo(); player.stage.focus(); });
    for (const made of root.querySelectorAll("[data-nudge]")) {
      const [dx, dy] = (/** @type {HTMLElement} */ (made).dataset.nudge ?? "0 0").split(" ").map(Number);
      scope.listen(made, "click", () => pad.nudgePicked(this.point.value === "all" ? null : Number(this.point.value), dx, dy));
    }
  }

  rename() {
    const words = this.label.value.trim();
    if (words || this.pad.picked?.kind !== "text") this.pad.changePicked({ label: words });
    else this.label.value = this.pad.picked.label;
  }

  /** What goes with the body is worth seeing for longer than a moment. */
  follow() {
    const { player, pad } = this;
    pad.followPicked(this.follows.value);
    const mark = pad.picked;
    if (mark?.follows && mark.to_us - mark.from_us <= SHORT_US) this.setSpan(Math.round(player.span.start_us), Math.round(player.span.end_us));
  }

  /** @param {number} from_us @param {number} to_us */
  setSpan(from_us, to_us) {
    this.pad.changePicked({ from_us, to_us });
  }

  /** @param {Mark | undefined} mark @param {boolean} fresh */
  showPicked(mark, fresh) {
    this.panel.hidden = !mark;
    this.refresh();
    if (!mark) return;
    part(this.root, "picked-title").textContent = capital(inWords(mark, this.pad.aspect));
    part(this.root, "picked-span").textContent = say("Shows {span}", { span: spanInSeconds(mark.from_us, mark.to_us) });
    if (document.activeElement !== this.label) this.label.value = mark.label;
    if (document.activeElement !== this.note) this.note.value = mark.note;
    this.weight.value = mark.weight ?? "normal";
    this.dashed.checked = Boolean(mark.is_dashed);
    this.offerPoints(mark);
    this.offerToFollow(mark);
    if (fresh && mark.kind === "text") this.label.select();
  }

  /** @param {Mark} mark */
  offerPoints(mark) {
    const few = mark.points.length > 1 && mark.points.length <= 3;
    const options = ["all", ...(few ? mark.points.map((_, i) => String(i)) : [])];
    if (options.join() === Array.from(this.point.options, (/** @type {HTMLOptionElement} */ o) => o.value).join()) return;
    this.point.replaceChildren(...options.map((value) => html("option", { value }, [value === "all" ? say("all of it") : say("point {number}", { number: Number(value) + 1 })])));
  }

  /** @param {Mark} mark */
  offerToFollow(mark) {
    const things = thingsToFollow(this.player.swing.hand, this.player.tracks);
    this.follows.replaceChildren(...things.map(([value, words]) => html("option", { value }, [words])));
    this.follows.value = mark.follows ?? "";
    this.follows.disabled = things.length === 1;
  }

  /** @param {SubmitEvent} event */
  addMoment(event) {
    event.preventDefault();
    const field = part(this.root, "moment-note");
    const note = field.value.trim();
    if (!note) return;
    const { player } = this;
    player.moments = [...player.moments, { uid: this.pad.made("line", []).uid, swing: player.swing.id, at_us: player.us, note }];
    field.value = "";
    this.refresh();
    this.onchange();
  }

  /** @param {Moment[]} moments */
  setMoments(moments) {
    this.player.moments = moments;
    this.refresh();
  }

  refresh() {
    const mine = (/** @type {{swing: string}} */ thing) => thing.swing === this.player.swing?.id;
    const rows = [
      ...this.player.marks.filter(mine).map((mark) => ({ at: mark.from_us, row: this.markRow(mark) })),
      ...this.player.moments.filter(mine).map((moment) => ({ at: moment.at_us, row: this.momentRow(moment) })),
    ];
    rows.sort((a, b) => a.at - b.at);
    this.list.replaceChildren(...rows.map(({ row }) => row));
  }

  /** @param {Mark} mark */
  markRow(mark) {
    const words = [capital(inWords(mark, this.pad.aspect)), mark.note || say("no note yet")].join(": ");
    const made = button("quiet", { "aria-pressed": String(mark.uid === this.player.selected) }, [words]);
    made.addEventListener("click", async () => {
      this.pad.chooseTool("pick", false);
      await this.player.goTo(mark.from_us);
      this.pad.pick(mark.uid);
    });
    return html("li", {}, [made]);
  }

  /** @param {Moment} moment */
  momentRow(moment) {
    const go = button("quiet", {}, [`${inSeconds(moment.at_us, 2)} ${moment.note}`]);
    go.addEventListener("click", () => this.player.goTo(moment.at_us));
    const drop = button("danger", { "aria-label": say("Delete moment: {note}", { note: moment.note }) }, [say("Delete")]);
    drop.addEventListener("click", () => {
      this.setMoments(this.player.moments.filter((one) => one !== moment));
      this.onchange();
    });
    return html("li", {}, [go, drop]);
  }

  disconnect() {
    this.scope.release();
  }
}

/** @param {string} text */
function capital(text) {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
