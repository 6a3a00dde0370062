import { inside, simplified } from "../core/geometry.js";
import { newUuid } from "../core/ids.js";
import { POINTS, add, change, copiedTo, drawing, find, hit, isSpeck, nudge, redo, remove, shownAt, startingPoints, undo, weightOf } from "../core/strokes.js";
import { say } from "../core/wording.js";
import { part } from "./dom.js";
import { Scope } from "./scope.js";

/** @typedef {import("../core/geometry.js").Point} Point */
/** @typedef {import("../core/strokes.js").Mark} Mark */
/** @typedef {import("../core/strokes.js").Kind} Kind */
/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */

const REACH_PX = 18;
const SHOWN_FOR_US = 300_000;
const NUDGE_PX = 2;
const ARROWS = /** @type {Record<string, Point>} */ ({ ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] });
const HINTS = /** @type {Record<string, string>} */ ({
  pick: "",
  line: say("Drag from one end to the other, or tap both ends."),
  arrow: say("Drag from the tail to the tip, or tap both."),
  ellipse: say("Drag across the box that holds the ellipse, or tap two corners."),
  angle: say("Drag the first arm up to its corner, then tap the end of the second arm; or tap all three."),
  path: say("Draw with the finger or the mouse, or tap point by point and press Enter."),
  text: say("Tap where the words begin."),
});

/**
 * Drawing on the player's picture. Pointer, taps and keys all end in operations of core/strokes.js.
 *
 *   const pad = new DrawingPad(root, player); pad.connect(); pad.onchange = () => …; pad.onpick = (mark) => …;
 */
export class DrawingPad {
  /** @param {ParentNode} root  holds templates/coach/desk/tools.html @param {SwingPlayer} player */
  constructor(root, player) {
    this.root = root;
    this.player = player;
    this.scope = new Scope();
    this.state = drawing(player.marks);
    this.tools = part(root, "tools");
    this.hint = part(root, "hint");
    this.picture = part(player.root, "picture");
    /** @type {string} */
    this.tool = "pick";
    /** @type {Point[]} */
    this.building = [];
    /** @type {{start: Point, moved: boolean, trail: Point[], index: number | null} | null} */
    this.press = null;
    /** How hard a pen was pressed along the stroke. @type {number[]} */
    this.pressures = [];
    this.onchange = () => {};
    /** @type {(mark: Mark | undefined, fresh: boolean) => void} */
    this.onpick = () => {};
  }

  connect() {
    const { scope } = this;
    this.tools.hidden = false;
    this.picture.classList.add("can-draw");
    for (const made of this.tools.querySelectorAll("[data-tool]")) {
      scope.listen(made, "click", (event) => this.chooseTool(made.dataset.tool, event.detail === 0));
    }
    scope.listen(part(this.tools, "undo"), "click", () => this.apply(undo(this.state)));
    scope.listen(part(this.tools, "redo"), "click", () => this.apply(redo(this.state)));
    scope.listen(this.picture, "pointerdown", (event) => this.down(event));
    scope.listen(this.picture, "pointermove", (event) => this.move(event));
    scope.listen(this.picture, "pointerup", (event) => this.up(event));
    scope.listen(this.picture, "pointercancel", () => this.cancel());
    scope.listen(this.player.stage, "keydown", (event) => this.key(event), { capture: true });
    scope.listen(this.player.root, "player:swing", () => this.pick(null));
    this.player.marks = this.state.marks;
    this.refresh();
  }

  disconnect() {
    this.scope.release();
  }

  /** @param {Mark[]} marks  from a draft kept on this device */
  replaceAll(marks) {
    this.apply(drawing(marks));
  }

  /** @param {ReturnType<typeof drawing>} next */
  apply(next) {
    if (next === this.state) return;
    this.state = next;
    if (this.player.selected && !find(next, this.player.selected)) this.player.selected = null;
    this.refresh();
    this.player.deeds.did("mark", { marks: next.marks });
    this.onpick(this.picked, false);
    this.onchange();
  }

  refresh() {
    this.player.marks = this.state.marks;
    part(this.tools, "undo").disabled = this.state.done.length === 0;
    part(this.tools, "redo").disabled = this.state.undone.length === 0;
    this.player.redraw();
  }

  /** The picked drawing as it lies in the shown frame. @returns {Mark | undefined} */
  get pickedHere() {
    const mark = this.picked;
    if (!mark?.follows) return mark;
    const here = this.player.followedTo(mark, this.player.us);
    return here ? { ...here, points: here.points.map(inside) } : mark;
  }

  get picked() {
    return this.player.selected ? find(this.state, this.player.selected) : undefined;
  }

  /** @param {string | null} uid @param {boolean} [fresh] */
  pick(uid, fresh = false) {
    this.player.selected = uid;
    this.player.redraw();
    this.player.deeds.did("pick", { uid });
    this.say();
    this.onpick(this.picked, fresh);
  }

  /** @param {string} tool @param {boolean} byKey */
  chooseTool(tool, byKey) {
    this.tool = tool;
    this.building = [];
    this.player.ghost = null;
    for (const made of this.tools.querySelectorAll("[data-tool]")) made.setAttribute("aria-pressed", String(made.dataset.tool === tool));
    this.picture.classList.toggle("is-drawing", tool !== "pick");
    if (tool !== "pick") this.player.engine.pause();
    this.pressures = [];
    if (tool !== "pick" && byKey) this.finish(/** @type {Kind} */ (tool), startingPoints(/** @type {Kind} */ (tool)));
    else this.pick(null);
  }

  say() {
    const picked = say("The arrow keys move the picked drawing while the picture has the focus; Escape lets it go.");
    this.hint.textContent = this.tool === "pick" ? (this.player.selected ? picked : "") : HINTS[this.tool];
  }

  /** @param {PointerEvent} event @returns {Point} */
  pointAt(event) {
    const matrix = this.player.drawn.root.getScreenCTM()?.inverse() ?? new DOMMatrix();
    const { x, y } = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix);
    const { width, height } = this.player.drawn;
    return [Math.min(1, Math.max(0, x / width)), Math.min(1, Math.max(0, y / height))];
  }

  /** Screen pixels as a share of the picture's width. @param {number} px */
  shareOf(px) {
    const scale = this.player.drawn.root.getScreenCTM()?.a ?? 1;
    return px / (scale * this.player.drawn.width);
  }

  get aspect() {
    return this.player.drawn.aspect;
  }

  /** @param {PointerEvent} event */
  down(event) {
    if (event.button !== 0) return;
    event.preventDefault();
    this.player.stage.focus({ preventScroll: true });
    this.picture.setPointerCapture(event.pointerId);
    const p = this.pointAt(event);
    if (this.building.length === 0) this.pressures = [];
    this.feel(event);
    this.press = { start: p, moved: false, trail: [p], index: null };
    if (this.tool === "pick") this.grab(p);
  }

  /** @param {Point} p */
  grab(p) {
    const reach = this.shareOf(REACH_PX);
    const held = this.pickedHere;
    const index = held && held.points.length <= 3 ? held.points.findIndex((q) => isSpeckPair(p, q, reach, this.aspect)) : -1;
    if (index >= 0 && this.press) {
      this.press.index = index;
      return;
    }
    const mine = this.player.shownMarks().filter((mark) => shownAt(mark, this.player.us));
    this.pick(hit(mine, p, reach, this.aspect)?.uid ?? null);
  }

  /** @param {PointerEvent} event */
  move(event) {
    const p = this.pointAt(event);
    if (this.press) {
      this.press.moved ||= !isSpeck([this.press.start, p], this.aspect);
      this.press.trail.push(p);
      this.feel(event);
    }
    this.preview(p);
  }

  /** Mouse and finger report one half while they are down, whatever the hand does. @param {PointerEvent} event */
  feel(event) {
    if (event.pointerType === "pen" && event.pressure > 0) this.pressures.push(event.pressure);
  }

  /** @param {Point} p */
  preview(p) {
    if (this.tool === "pick") {
      if (this.press?.moved && this.pickedHere) this.showGhost({ ...this.pickedHere, points: this.dragged(p) });
      return;
    }
    const points = this.pointsWith(p);
    this.showGhost(points.length > 1 ? this.made(/** @type {Kind} */ (this.tool), points) : null);
  }

  /** @param {Mark | null} mark */
  showGhost(mark) {
    this.player.ghost = mark;
    this.player.deeds.did("live", { mark });
    this.player.redraw();
  }

  /** @param {Point} p @returns {Point[]} */
  pointsWith(p) {
    if (this.tool === "path" && this.press?.moved) return this.press.trail;
    if (this.building.length === 0) return this.press ? [this.press.start, p] : [];
    return [...this.building, p];
  }

  /** @param {Point} p @returns {Point[]} */
  dragged(p) {
    const [mark, press] = [/** @type {Mark} */ (this.pickedHere), /** @type {NonNullable<typeof this.press>} */ (this.press)];
    const next = nudge(drawing([mark]), mark.uid, press.index, p[0] - press.start[0], p[1] - press.start[1]);
    return next.marks[0].points;
  }

  /** @param {PointerEvent} event */
  up(event) {
    if (!this.press) return;
    const p = this.pointAt(event);
    const { moved } = this.press;
    if (this.tool === "pick") {
      const [mark, points] = [this.picked, moved && this.pickedHere ? this.dragged(p) : null];
      this.press = null;
      this.showGhost(null);
      if (mark && points) this.apply(change(this.state, mark.uid, { points, ...this.anchor(mark) }));
      return;
    }
    this.put(p, moved);
    this.press = null;
  }

  /** @param {Point} p @param {boolean} moved */
  put(p, moved) {
    const kind = /** @type {Kind} */ (this.tool);
    const press = /** @type {NonNullable<typeof this.press>} */ (this.press);
    if (kind === "path" && moved) {
      this.finish(kind, simplified(press.trail, this.shareOf(1.5), this.aspect));
      return;
    }
    const first = this.building.length === 0;
    if (first) this.building = moved && POINTS[kind] > 1 ? [press.start, p] : [p];
    else if (!isSpeck([p, this.building[this.building.length - 1]], this.aspect)) this.building.push(p);
    if (this.building.length >= POINTS[kind]) this.finish(kind, this.building);
    else this.showGhost(this.building.length > 1 ? this.made(kind, this.building) : null);
  }

  cancel() {
    this.press = null;
    this.showGhost(null);
  }

  /** @param {Kind} kind @param {Point[]} points */
  finish(kind, points) {
    this.building = [];
    this.player.ghost = null;
    this.press = null;
    if (points.length < 2 && kind !== "text") return;
    const mark = this.made(kind, points);
    this.chooseTool("pick", false);
    try {
      this.apply(add(this.state, mark));
    } catch (problem) {
      this.hint.textContent = /** @type {Error} */ (problem).message;
      return;
    }
    this.pick(mark.uid, true);
  }

  /** @param {Kind} kind @param {Point[]} points @returns {Mark} */
  made(kind, points) {
    const { engine, span, us, swing } = this.player;
    const last = engine.frames.startOf(engine.frames.frameAt(Math.min(us + SHOWN_FOR_US, span.end_us)));
    const label = kind === "text" ? say("Here") : "";
    const weight = weightOf(this.pressures);
    return { uid: newUuid(), swing: swing.id, kind, points, from_us: us, to_us: Math.max(us, last), label, note: "", weight, is_dashed: false };
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    if (event.target !== this.player.stage) return;
    if (this.acted(event)) {
      event.preventDefault();
      event.stopImmediatePropagation();
    }
  }

  /** @param {KeyboardEvent} event */
  acted(event) {
    if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z") {
      this.apply((event.shiftKey ? redo : undo)(this.state));
      return true;
    }
    if (event.ctrlKey || event.metaKey || event.altKey) return false;
    if (event.key === "Escape" && (this.tool !== "pick" || this.player.selected)) return this.letGo();
    if (event.key === "Enter" && this.tool === "path" && this.building.length > 1) return this.endPath();
    if (!this.picked) return false;
    if (event.key === "Delete" || event.key === "Backspace") return this.removePicked();
    const way = ARROWS[event.key];
    if (!way) return false;
    this.nudgePicked(null, way[0] * (event.shiftKey ? 8 : 1), way[1] * (event.shiftKey ? 8 : 1));
    return true;
  }

  letGo() {
    this.chooseTool("pick", false);
    return true;
  }

  endPath() {
    this.finish("path", this.building);
    return true;
  }

  removePicked() {
    if (this.player.selected) this.apply(remove(this.state, this.player.selected));
    return true;
  }

  /** @param {number | null} index @param {number} dx steps right @param {number} dy steps down */
  nudgePicked(index, dx, dy) {
    const { width, height } = this.player.drawn;
    const step = (NUDGE_PX * Math.min(width, height)) / 720;
    const mark = this.pickedHere;
    if (!mark) return;
    const { points } = nudge(drawing([mark]), mark.uid, index, (dx * step) / width, (dy * step) / height).marks[0];
    if (points !== mark.points) this.apply(change(this.state, mark.uid, { points, ...this.anchor(mark) }));
  }

  /** What it goes with from now on; its place in the shown frame is its own. @param {string} follows */
  followPicked(follows) {
    const mark = this.pickedHere;
    if (mark) this.apply(change(this.state, mark.uid, { points: mark.points, follows, anchor_us: follows ? this.player.us : null }));
  }

  /** The picked drawing once more, in the shown frame. */
  copyPicked() {
    const mark = this.pickedHere;
    if (!mark) return;
    const { span, us } = this.player;
    const copy = copiedTo(mark, newUuid(), us, span);
    try {
      this.apply(add(this.state, copy));
    } catch (problem) {
      this.hint.textContent = /** @type {Error} */ (problem).message;
      return;
    }
    this.pick(copy.uid, false);
  }

  /** Moved by hand, a drawing that follows something is at home in the shown frame. @param {Mark} mark */
  anchor(mark) {
    return mark.follows ? { anchor_us: this.player.us } : {};
  }

  /** @param {Partial<Mark>} to */
  changePicked(to) {
    if (this.player.selected) this.apply(change(this.state, this.player.selected, to));
  }
}

/** @param {Point} a @param {Point} b @param {number} reach @param {number} aspect */
function isSpeckPair(a, b, reach, aspect) {
  return Math.hypot(a[0] - b[0], (a[1] - b[1]) / aspect) <= reach;
}
