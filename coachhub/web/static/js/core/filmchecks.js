// What a phone on its stand can tell before it films: is it level, is there light, is all movement inside the picture.

import { say } from "./wording.js";

/** @typedef {{level: "ok" | "warn" | "unknown", sentence: string}} Said */
/** @typedef {{left: number, top: number, right: number, bottom: number}} Box  shares of the picture, 0..1 */

// Common practice, no study: a tilt of some degrees turns the line of the body in the picture by as much.
const TILT_DEG = 3;
const LEAN_DEG = 8;
const GOOD_RATE = 50;
const DARK = 0.16;
const GLARE = 0.9;
const MARGIN = 0.03;
const STEP = 24;

/**
 * An upright phone has beta at 90 degrees, and gamma says nothing there; so the tilt comes from gravity alone.
 * @param {number | null} beta  front to back, degrees -180..180 @param {number | null} gamma  left to right, -90..90
 * @returns {{roll: number, lean: number} | null} degrees: turned like a steering wheel, leaned back or forward
 */
export function attitude(beta, gamma) {
  if (beta === null || gamma === null) return null;
  const b = (beta * Math.PI) / 180;
  const g = (gamma * Math.PI) / 180;
  // Gravity in the phone's own axes (W3C Device Orientation: intrinsic Z-X'-Y''), x to the right, y up along the screen.
  const x = Math.cos(b) * Math.sin(g);
  const y = -Math.sin(b);
  const z = -Math.cos(b) * Math.cos(g);
  const deg = (/** @type {number} */ rad) => (rad * 180) / Math.PI;
  return { roll: deg(Math.atan2(x, -y)), lean: deg(Math.asin(Math.max(-1, Math.min(1, z)))) };
}

/** @param {{roll: number, lean: number} | null} held @returns {Said} */
export function levelWords(held) {
  if (!held) return { level: "unknown", sentence: say("Level: this phone doesn't say. Hold its long edge along a post or a door frame in the picture.") };
  if (Math.abs(held.roll) > 45) return { level: "warn", sentence: say("The phone lies on its side: stand it upright.") };
  if (Math.abs(held.roll) > TILT_DEG) {
    return { level: "warn", sentence: say("Tilted {degrees}° to one side: straighten it.", { degrees: Math.round(Math.abs(held.roll)) }) };
  }
  if (Math.abs(held.lean) > LEAN_DEG) {
    const degrees = Math.round(Math.abs(held.lean));
    const sentence = held.lean < 0
      ? say("Leaning {degrees}° back: stand it up straight, as high as your hands.", { degrees })
      : say("Leaning {degrees}° forward: stand it up straight, as high as your hands.", { degrees });
    return { level: "warn", sentence };
  }
  return { level: "ok", sentence: say("Level and upright") };
}

/** @param {number | undefined} rate  pictures a second @returns {Said} */
export function rateWords(rate) {
  if (!rate) return { level: "unknown", sentence: say("Pictures a second: not told. Choose slow motion, or 60, in your camera.") };
  const rounded = Math.round(rate);
  if (rate >= GOOD_RATE) return { level: "ok", sentence: say("{rate} pictures a second", { rate: rounded }) };
  return { level: "warn", sentence: say("This page gets only {rate} pictures a second: film with your phone's own camera, in slow motion or at 60.", { rate: rounded }) };
}

/** @param {number | null} luma  0..1 @returns {Said} */
export function lightWords(luma) {
  if (luma === null) return { level: "unknown", sentence: say("Light: look yourself. You should see the club's shaft in the picture.") };
  if (luma < DARK) return { level: "warn", sentence: say("Quite dark: turn, so that the light comes from behind the phone.") };
  if (luma > GLARE) return { level: "warn", sentence: say("Very bright: don't film against the sky or the sun.") };
  return { level: "ok", sentence: say("Light looks fine") };
}

/** Mean brightness. @param {Uint8ClampedArray} rgba @returns {Float32Array & {mean?: number}} greys, 0..255 */
export function greys(rgba) {
  const found = new Float32Array(rgba.length / 4);
  for (let k = 0; k < found.length; k++) found[k] = 0.2126 * rgba[4 * k] + 0.7152 * rgba[4 * k + 1] + 0.0722 * rgba[4 * k + 2];
  return found;
}

/** @param {Float32Array} grey @returns {number} 0..1 */
export function brightness(grey) {
  let sum = 0;
  for (const value of grey) sum += value;
  return grey.length ? sum / grey.length / 255 : 0;
}

/**
 * Where something moved between two pictures; single points are noise, so lines and columns need a few.
 * @param {Float32Array} before @param {Float32Array} after @param {number} width @returns {Box | null}
 */
export function movedBox(before, after, width) {
  const height = after.length / width;
  const columns = new Uint16Array(width);
  const rows = new Uint16Array(height);
  for (let k = 0; k < after.length; k++) {
    if (Math.abs(after[k] - before[k]) < STEP) continue;
    columns[k % width]++;
    rows[Math.floor(k / width)]++;
  }
  const across = ends(columns);
  const down = ends(rows);
  if (!across || !down) return null;
  return { left: across[0] / width, right: across[1] / width, top: down[0] / height, bottom: down[1] / height };
}

/** @param {Uint16Array} counts @returns {[number, number] | null} */
function ends(counts) {
  const busy = [...counts.keys()].filter((k) => counts[k] >= 2);
  return busy.length ? [busy[0], busy[busy.length - 1] + 1] : null;
}

/** @param {Box | null} a @param {Box | null} b @returns {Box | null} */
export function joined(a, b) {
  if (!a || !b) return a ?? b;
  return {
    left: Math.min(a.left, b.left), top: Math.min(a.top, b.top),
    right: Math.max(a.right, b.right), bottom: Math.max(a.bottom, b.bottom),
  };
}

/** @param {Box | null} box  all movement of one practice swing @returns {Said} */
export function frameWords(box) {
  if (!box) return { level: "unknown", sentence: say("Make a slow practice swing: nothing has moved in the picture yet.") };
  const over = [
    box.top < MARGIN && say("the top"), box.bottom > 1 - MARGIN && say("the bottom"),
    box.left < MARGIN && say("the left edge"), box.right > 1 - MARGIN && say("the right edge"),
  ].filter(Boolean);
  if (over.length) return { level: "warn", sentence: say("Your swing goes over {edges} of the picture: move the phone back.", { edges: over.join(` ${say("and")} `) }) };
  if (box.bottom - box.top < 0.35) return { level: "warn", sentence: say("You are small in the picture: bring the phone nearer.") };
  return { level: "ok", sentence: say("The whole swing is inside the picture") };
}
