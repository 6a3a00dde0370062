import { SIDE_WORDS } from "../core/jointwords.js";
import { svg } from "./dom.js";

const SEEN = 0.5;
const SIDE_BONES = [["shoulder", "elbow"], ["elbow", "wrist"], ["shoulder", "hip"], ["hip", "knee"], ["knee", "ankle"], ["ankle", "foot_index"]];
const MIDDLE_BONES = [["left_shoulder", "right_shoulder"], ["left_hip", "right_hip"]];
const LABELLED = ["elbow", "knee"];

/**
 * Body and shaft lines of one swing over the picture. Lead is solid, trail dashed, both labelled; every line has a
 * dark and a light outline so that it reads on grass and on sky.
 *
 *   const layer = new BodyLayer(svgElement);
 *   layer.load(tracks, "right", 720, 1280); layer.draw(us);
 */
export class BodyLayer {
  /** @param {SVGSVGElement} root */
  constructor(root) {
    this.root = root;
    this.width = 1;
    this.height = 1;
    /** @type {any} */
    this.tracks = null;
    this.groups = Object.fromEntries(["golfer", "middle", "trail", "lead", "shaft"].map((name) => [name, tripleLine(name)]));
    this.words = Object.fromEntries(["lead", "trail"].flatMap((side) => LABELLED.map((joint) => [`${side} ${joint}`, label(side)])));
    root.replaceChildren(...Object.values(this.groups).map((group) => group.root), ...Object.values(this.words));
    this.shows = { body: true, shaft: true };
    /** Turned over with the picture behind it; the words stay readable. */
    this.mirrored = false;
  }

  /** @param {any} tracks @param {string} hand @param {number} width @param {number} height */
  load(tracks, hand, width, height) {
    this.root.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.width = width;
    this.height = height;
    this.tracks = tracks;
    this.sides = hand === "left" ? { lead: "right", trail: "left" } : { lead: "left", trail: "right" };
    for (const text of Object.values(this.words)) text.setAttribute("font-size", Math.round(Math.min(width, height) * 0.036));
  }

  clear() {
    this.tracks = null;
    this.paint({ golfer: "", middle: "", trail: "", lead: "", shaft: "" });
    this.placeWords(-1);
  }

  /** @param {number} us @param {number} withinUs half a frame: further away nothing is drawn rather than a wrong body */
  draw(us, withinUs) {
    const at = this.tracks ? rowAt(this.tracks.t_us, us, withinUs) : -1;
    const sides = this.sides ?? { lead: "left", trail: "right" };
    const body = this.shows.body && at >= 0;
    this.paint({
      lead: body ? this.bones(at, sideBones(sides.lead)) : "",
      trail: body ? this.bones(at, sideBones(sides.trail)) : "",
      middle: body ? this.bones(at, MIDDLE_BONES) : "",
      golfer: body ? this.golferBox() : "",
      shaft: this.shows.shaft && at >= 0 ? this.shaftPath(at) : "",
    });
    this.placeWords(body ? at : -1);
  }

  /** @param {Record<string, string>} paths */
  paint(paths) {
    for (const [name, d] of Object.entries(paths)) this.groups[name].set(d);
  }

  /** @param {number} at @param {string[][]} pairs */
  bones(at, pairs) {
    return pairs.map(([from, to]) => {
      const [a, b] = [this.point(at, from), this.point(at, to)];
      return a && b ? `M${a}L${b}` : "";
    }).join("");
  }

  /** @param {number} at @param {string} joint @returns {string | null} */
  point(at, joint) {
    const row = this.tracks.joints[joint]?.[at];
    return row && row[2] >= SEEN ? this.pixels(row[0], row[1]) : null;
  }

  /** @param {number} x @param {number} y */
  pixels(x, y) {
    return `${((this.mirrored ? 1 - x : x) * this.width).toFixed(1)} ${(y * this.height).toFixed(1)}`;
  }

  /** Among several people, a box around the one who was measured. */
  golferBox() {
    const people = this.tracks.people;
    const box = people && people.boxes.length > 1 ? people.boxes[people.golfer] : null;
    if (!box) return "";
    const [x0, y0, x1, y1] = box;
    return `M${this.pixels(x0, y0)}L${this.pixels(x1, y0)}L${this.pixels(x1, y1)}L${this.pixels(x0, y1)}Z`;
  }

  /** @param {number} at */
  shaftPath(at) {
    const row = this.tracks.shaft?.[at];
    return row ? `M${this.pixels(row[0], row[1])}L${this.pixels(row[2], row[3])}` : "";
  }

  /** @param {number} at */
  placeWords(at) {
    for (const [key, text] of Object.entries(this.words)) {
      const [side, joint] = key.split(" ");
      const own = (this.sides ?? { lead: "left", trail: "right" })[/** @type {"lead" | "trail"} */ (side)];
      const where = at >= 0 ? this.point(at, `${own}_${joint}`) : null;
      text.toggleAttribute("hidden", !where);
      if (where) {
        const [x, y] = where.split(" ").map(Number);
        text.setAttribute("x", x + this.width * 0.02);
        text.setAttribute("y", y);
      }
    }
  }
}

/** @param {string} side */
function sideBones(side) {
  return SIDE_BONES.map(([a, b]) => [`${side}_${a}`, `${side}_${b}`]);
}

/** @param {string} name */
function tripleLine(name) {
  const lines = ["dark", "light", "ink"].map((role) => svg("path", { class: `body-line ${role}` }));
  return {
    root: svg("g", { class: `body-${name}` }, lines),
    /** @param {string} d */
    set: (d) => lines.forEach((line) => line.setAttribute("d", d)),
  };
}

/** @param {string} side */
function label(side) {
  return svg("text", { class: `body-word body-${side}`, hidden: "" }, [SIDE_WORDS[/** @type {"lead" | "trail"} */ (side)]]);
}

/** @param {number[]} times @param {number} us @param {number} withinUs */
function rowAt(times, us, withinUs) {
  let low = 0;
  let high = times.length - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (times[middle] < us) low = middle + 1;
    else high = middle;
  }
  const best = low > 0 && us - times[low - 1] < Math.abs(times[low] - us) ? low - 1 : low;
  return times.length && Math.abs(times[best] - us) <= withinUs ? best : -1;
}
