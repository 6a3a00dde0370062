import { barbs, ellipsePoints } from "../core/geometry.js";
import { caption, shownAt } from "../core/strokes.js";
import { svg } from "./dom.js";

/** @typedef {import("../core/strokes.js").Mark} Mark */
/** @typedef {import("../core/geometry.js").Point} Point */

/**
 * Draws the marks that belong to the shown time; knows nothing of editing.
 *
 *   const layer = new MarkLayer(svgElement); layer.size(720, 1280); layer.draw(marks, us, selectedUid);
 */
export class MarkLayer {
  /** @param {SVGSVGElement} root */
  constructor(root) {
    this.root = root;
    this.width = 1;
    this.height = 1;
    this.visible = true;
    this.last = "";
  }

  get aspect() {
    return this.width / this.height;
  }

  /** @param {number} width @param {number} height */
  size(width, height) {
    this.width = width;
    this.height = height;
    this.root.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.last = "";
  }

  /** @param {Mark[]} marks @param {number} us @param {string | null} [selected] @param {Mark | null} [ghost] */
  draw(marks, us, selected = null, ghost = null) {
    const shown = this.visible ? marks.filter((mark) => shownAt(mark, us) || mark.uid === selected) : [];
    const all = ghost ? [...shown, ghost] : shown;
    const key = JSON.stringify([all, selected]);
    if (key === this.last) return;
    this.last = key;
    this.root.replaceChildren(...all.map((mark) => this.drawn(mark, mark.uid === selected)));
  }

  /** @param {Mark} mark @param {boolean} selected */
  drawn(mark, selected) {
    const style = [mark.weight ?? "normal", mark.is_dashed && "dashed", selected && "selected"].filter(Boolean);
    const group = svg("g", { class: ["mark", ...style].join(" "), "data-uid": mark.uid });
    const d = this.path(mark);
    if (d) group.append(...["dark", "light", "ink"].map((role) => svg("path", { class: `mark-line ${role}`, d })));
    const words = caption(mark, this.aspect);
    if (words) group.append(this.word(mark, words));
    if (selected) group.append(...mark.points.length <= 3 ? mark.points.map((p) => this.handle(p)) : []);
    return group;
  }

  /** @param {Mark} mark @returns {string} */
  path(mark) {
    const [a, b] = mark.points;
    if (mark.kind === "text" || mark.points.length < 2) return "";
    if (mark.kind === "ellipse") return this.polyline(ellipsePoints(a, b, 64));
    if (mark.kind === "arrow") {
      const [left, right] = barbs(a, b, 0.045, this.aspect);
      return this.polyline([a, b]) + this.polyline([left, b, right]);
    }
    return this.polyline(mark.points);
  }

  /** @param {Point[]} points */
  polyline(points) {
    return points.map((p, i) => `${i ? "L" : "M"}${(p[0] * this.width).toFixed(1)} ${(p[1] * this.height).toFixed(1)}`).join("");
  }

  /** @param {Mark} mark @param {string} words */
  word(mark, words) {
    const size = Math.round(Math.min(this.width, this.height) * 0.05);
    const anchor = mark.kind === "angle" ? mark.points[1] : mark.points[0];
    const away = mark.kind === "text" ? 0 : size * 0.4;
    const toLeft = anchor[0] > 0.7;
    return svg("text", {
      class: "mark-word", "font-size": size, "text-anchor": toLeft ? "end" : "start",
      x: anchor[0] * this.width + (toLeft ? -away : away), y: anchor[1] * this.height + (mark.kind === "text" ? 0 : size * 1.1),
    }, [words]);
  }

  /** @param {Point} p */
  handle(p) {
    return svg("circle", { class: "mark-handle", cx: p[0] * this.width, cy: p[1] * this.height, r: Math.min(this.width, this.height) * 0.014 });
  }
}
