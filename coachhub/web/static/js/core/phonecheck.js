// What a phone can say of a clip before sending it, in words. Only the limits block; the rest is advice.

import { decimal, say } from "./wording.js";

/**
 * @typedef {"counted" | "measured" | "at_least"} Sureness
 * @typedef {object} ClipFacts   null: the phone could not find out
 * @property {number} size                       bytes
 * @property {boolean} isVideo                   by its content or by the browser opening it
 * @property {number | null} durationS
 * @property {{value: number, sure: Sureness} | null} fps
 * @property {number | null} width               pixels, upright
 * @property {number | null} height
 * @property {number | null} luma                mean brightness of some frames, 0 black .. 1 white
 * @property {boolean} canShow                   whether this browser can play it
 * @typedef {"ok" | "warn" | "block" | "unknown"} Level
 * @typedef {{code: string, level: Level, sentence: string}} Finding
 */

export const LIMITS = { durationS: 60, bytes: 500 * 1024 * 1024, longEdge: 4096 };
// A driver's head moves at about 40 m/s near the ball (common practice, no study): 0.8 m between two pictures at 50.
const GOOD_FPS = 50;
const SHORT_S = 1;
const SMALL_EDGE = 480;
// Chosen on our own test pictures: a dusk bay is below, a white sky that fills the picture above.
const DARK = 0.16;
const GLARE = 0.9;

/** @param {ClipFacts} facts @returns {Finding[]} */
export function judge(facts) {
  if (facts.size === 0) return [finding("empty", "block", say("The file is empty. Choose the clip again."))];
  if (!facts.isVideo) return [finding("no_video", "block", say("This is not a video. Choose the clip that your camera made."))];
  return [size(facts), length(facts), rate(facts), picture(facts), shape(facts), light(facts), unseen()].flat();
}

/** @param {Finding[]} findings */
export function isBlocked(findings) {
  return findings.some(({ level }) => level === "block");
}

/** What goes to the site with the clip: for the record, the site checks again. @param {ClipFacts} facts @param {Finding[]} findings */
export function reportOf(facts, findings) {
  const codes = findings.filter(({ level }) => level !== "ok").map(({ code }) => code);
  return {
    duration_s: facts.durationS, fps: facts.fps?.value ?? null, fps_sure: facts.fps?.sure ?? null,
    width: facts.width, height: facts.height, luma: facts.luma, codes,
  };
}

/** @param {string} code @param {Level} level @param {string} sentence @returns {Finding} */
function finding(code, level, sentence) {
  return { code, level, sentence };
}

/** @param {ClipFacts} facts @returns {Finding[]} */
function size({ size: bytes }) {
  if (bytes <= LIMITS.bytes) return [];
  const megabytes = Math.round(bytes / 1024 / 1024);
  return [finding("too_big", "block", say("{megabytes} MB; a clip can have 500 MB. Cut it to one or two swings, or film in 1080p.", { megabytes }))];
}

/** @param {ClipFacts} facts @returns {Finding[]} */
function length({ durationS }) {
  if (durationS === null) return [finding("length_unknown", "unknown", say("Length: not known yet, checked after it arrives."))];
  const words = say("{count} seconds", { count: decimal(durationS, 1) });
  if (durationS > LIMITS.durationS) {
    return [finding("too_long", "block", say("{words}; a clip can have 60. Cut it to the swing in your phone's gallery.", { words }))];
  }
  if (durationS < SHORT_S) {
    return [finding("short", "warn", say("Only {words}: film from before you move until you stand still at the finish.", { words }))];
  }
  return [finding("length", "ok", say("Length: {words}", { words }))];
}

/** @param {ClipFacts} facts @returns {Finding[]} */
function rate({ fps }) {
  if (fps === null) return [finding("rate_unknown", "unknown", say("Pictures a second: not known yet, checked after it arrives."))];
  const rounded = Math.round(fps.value);
  const words = {
    counted: say("{rate} pictures a second", { rate: rounded }),
    measured: say("about {rate} pictures a second", { rate: rounded }),
    at_least: say("at least {rate} pictures a second", { rate: rounded }),
  }[fps.sure];
  if (fps.value >= GOOD_FPS) return [finding("rate", "ok", words)];
  if (fps.sure === "at_least") return [finding("rate_unknown", "unknown", say("{words}; more can't be seen on this screen.", { words }))];
  return [finding("slow_rate", "warn", say("Only {words}: the club blurs near the ball. Slow motion or 60 shows more. If you filmed in slow motion, send the original from the camera, not a shared copy.", { words }))];
}

/** @param {ClipFacts} facts @returns {Finding[]} */
function picture({ width, height }) {
  if (width === null || height === null) return [];
  if (Math.max(width, height) > LIMITS.longEdge) {
    return [finding("too_many_pixels", "block", say("{width} × {height} pixels; at most 4096 along the longer side. Film in 4K or 1080p.", { width, height }))];
  }
  if (Math.min(width, height) < SMALL_EDGE) {
    return [finding("small", "warn", say("Only {width} × {height} pixels: a copy from a chat? Send the original from your camera.", { width, height }))];
  }
  return [finding("pixels", "ok", say("{width} × {height} pixels", { width, height }))];
}

/** @param {ClipFacts} facts @returns {Finding[]} */
function shape({ width, height }) {
  if (width === null || height === null) return [finding("shape_unknown", "unknown", say("Upright or sideways: not known yet."))];
  if (width > height) return [finding("sideways", "warn", say("Filmed sideways: held upright, the phone shows you larger."))];
  return [finding("upright", "ok", say("Filmed upright"))];
}

/** @param {ClipFacts} facts @returns {Finding[]} */
function light({ luma, canShow }) {
  if (luma === null) {
    const sentence = canShow
      ? say("Light: not known yet.")
      : say("Light: not known yet (this browser can't show this kind of video; the site can).");
    return [finding("light_unknown", "unknown", sentence)];
  }
  if (luma < DARK) return [finding("dark", "warn", say("Quite dark: club and hands may not be seen. Film with more light, or with the light behind the phone."))];
  if (luma > GLARE) return [finding("glare", "warn", say("Very bright: don't film against the sky or the sun."))];
  return [finding("light", "ok", say("Light looks fine"))];
}

/** @returns {Finding[]} */
function unseen() {
  return [finding("after_arrival", "unknown", say("Whether your whole body is in the picture, and whether you are alone in it, is checked after it arrives."))];
}
