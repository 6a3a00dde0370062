import { nearest } from "../core/following.js";
import { inside } from "../core/geometry.js";
import { jointAt, jointsOf, placesIn } from "../core/jointplaces.js";
import { say } from "../core/wording.js";
import { html, part, svg } from "./dom.js";
import { Scope } from "./scope.js";
import { post } from "./server.js";

/** @typedef {import("../core/geometry.js").Point} Point */
/** @typedef {import("./swing_cards.js").SwingCards} SwingCards */
/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */

const REACH_PX = 24;
const NUDGE_PX = 2;

/**
 * Puts a joint where it is, in the shown frame: dragged on the picture, or chosen, tapped and nudged. While
 * templates/coach/desk/joints.html is open the picture takes joints and no drawings.
 */
export class JointHandles {
  /** @param {HTMLDetailsElement} root @param {SwingPlayer} player @param {SwingCards} cards @param {string} token */
  constructor(root, player, cards, token) {
    this.root = root;
    this.player = player;
    this.cards = cards;
    this.token = token;
    this.scope = new Scope();
    this.choice = part(root, "joint-choice");
    this.said = part(root, "joint-said");
    this.picture = part(player.root, "picture");
    this.layer = svg("svg", { class: "player-layer joint-layer", "aria-hidden": "true" });
    /** Where the chosen joint is to be; null: where it was measured. @type {Point | null} */
    this.place = null;
    this.isDragging = false;
  }

  connect() {
    const { scope, picture, root } = this;
    root.hidden = false;
    picture.append(this.layer);
    scope.listen(root, "toggle", () => { this.opened(); if (this.isOn) this.player.stage.scrollIntoView({ block: "nearest" }); });
    scope.listen(this.player.root, "player:frame", () => this.moved());
    scope.listen(this.player.root, "player:swing", () => this.opened());
    scope.listen(this.choice, "change", () => { this.place = null; this.draw(); });
    for (const [name, work] of /** @type {[string, (event: PointerEvent) => void][]} */ ([
      ["pointerdown", (event) => this.down(event)], ["pointermove", (event) => this.move(event)],
      ["pointerup", () => this.up()], ["pointercancel", () => { this.isDragging = false; }],
    ])) scope.listen(picture, name, (event) => this.taken(event, work), { capture: true });
    for (const made of root.querySelectorAll("[data-joint-nudge]")) {
      const [dx, dy] = (/** @type {HTMLElement} */ (made).dataset.jointNudge ?? "0 0").split(" ").map(Number);
      scope.listen(made, "click", () => this.nudge(dx, dy));
    }
    scope.listen(part(root, "joint-set"), "click", () => void this.set());
    scope.listen(part(root, "joint-back"), "click", () => void this.back());
    this.opened();
  }

  disconnect() {
    this.scope.release();
    this.layer.remove();
  }

  get isOn() {
    return this.root.open && Boolean(this.player.tracks);
  }

  /** @param {PointerEvent} event @param {(event: PointerEvent) => void} work */
  taken(event, work) {
    if (!this.isOn || event.button > 0) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    work(event);
  }

  opened() {
    const { player } = this;
    this.root.hidden = !player.tracks;
    this.place = null;
    const joint = this.choice.value;
    this.choice.replaceChildren(...jointsOf(player.swing?.hand ?? "right").map(([value, words]) => html("option", { value }, [words])));
    if (joint) this.choice.value = joint;
    if (this.isOn) player.engine.pause();
    this.layer.setAttribute("viewBox", `0 0 ${player.drawn.width} ${player.drawn.height}`);
    this.picture.classList.toggle("is-placing", this.isOn);
    this.draw();
  }

  moved() {
    if (!this.isOn) return;
    this.place = null;
    this.draw();
  }

  /** The track's row of the shown frame. */
  get row() {
    return nearest(this.player.tracks.t_us, this.player.us);
  }

  get places() {
    const names = Array.from(this.choice.options, (/** @type {HTMLOptionElement} */ option) => option.value);
    return placesIn(this.player.tracks, this.row, names);
  }

  draw() {
    if (!this.isOn) return void this.layer.replaceChildren();
    const { width, height } = this.player.drawn;
    const chosen = this.choice.value;
    const places = this.places;
    if (this.place) places.set(chosen, this.place);
    this.layer.replaceChildren(...Array.from(places, ([name, [x, y]]) => svg("circle", {
      class: name === chosen ? "joint chosen" : "joint", cx: x * width, cy: y * height, r: Math.min(width, height) * (name === chosen ? 0.02 : 0.012),
    })));
  }

  /** @param {PointerEvent} event @returns {Point} */
  pointAt(event) {
    const matrix = this.layer.getScreenCTM()?.inverse() ?? new DOMMatrix();
    const { x, y } = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix);
    return inside([x / this.player.drawn.width, y / this.player.drawn.height]);
  }

  /** @param {PointerEvent} event */
  down(event) {
    const p = this.pointAt(event);
    const reach = REACH_PX / ((this.layer.getScreenCTM()?.a ?? 1) * this.player.drawn.width);
    const grabbed = jointAt(this.places, p, reach, this.player.drawn.aspect);
    this.isDragging = grabbed !== null && !this.place;
    if (this.isDragging) this.choice.value = grabbed;
    else this.place = p;
    if (event.isTrusted) this.picture.setPointerCapture(event.pointerId);
    this.draw();
  }

  /** @param {PointerEvent} event */
  move(event) {
    if (!this.isDragging) return;
    this.place = this.pointAt(event);
    this.draw();
  }

  /** A dragged joint is set where it is let go; a tapped one waits for the nudges. */
  up() {
    const wasDragged = this.isDragging && this.place;
    this.isDragging = false;
    if (wasDragged) void this.set();
  }

  /** @param {number} dx @param {number} dy */
  nudge(dx, dy) {
    const from = this.place ?? this.places.get(this.choice.value);
    if (!from) return this.say(say("This joint is not seen here. Tap on the picture where it is."));
    const { width, height } = this.player.drawn;
    const step = (NUDGE_PX * Math.min(width, height)) / 720;
    this.place = inside([from[0] + (dx * step) / width, from[1] + (dy * step) / height]);
    this.draw();
  }

  async set() {
    if (!this.place) return this.say(say("Drag the joint, tap where it is, or nudge it first."));
    const [x, y] = this.place;
    await this.send({ do: "set", t_us: String(this.player.tracks.t_us[this.row]), x: x.toFixed(5), y: y.toFixed(5) });
  }

  back() {
    return this.send({ do: "back" });
  }

  /** @param {Record<string, string>} fields */
  async send(fields) {
    const body = new FormData();
    for (const [name, value] of Object.entries({ ...fields, swing: this.player.swing.id, joint: this.choice.value })) body.set(name, value);
    const words = this.choice.selectedOptions[0]?.textContent ?? say("joint");
    try {
      await this.cards.measuredAnew(await post(this.root.dataset.jointUrl ?? "", body, this.token));
      this.place = null;
      this.say(fields.do === "set" ? say("The {joint} is set here, and the numbers follow.", { joint: words }) : say("The {joint} is back where it was measured.", { joint: words }));
    } catch (problem) {
      this.say(this.cards.keepForLater(problem, this.root.dataset.jointUrl ?? "", body));
    }
    this.draw();
  }

  /** @param {string} text */
  say(text) {
    this.said.textContent = text;
  }
}
