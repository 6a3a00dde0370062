import { looksLikeVideo, readTrack } from "../core/boxes.js";
import { rateOf } from "../core/framerate.js";

/** @typedef {import("../core/phonecheck.js").ClipFacts} ClipFacts */

const PATIENCE_MS = 8_000;
const WATCH_MS = 1_200;
const LOOK_AT = [0.2, 0.5, 0.8];
const SMALL = 64;

/**
 * Find out what the phone can say of a clip: from the file's header where it has one, else by playing it for a moment.
 * The middle picture is drawn into `picture`.
 * @param {File} file @param {HTMLCanvasElement} picture @returns {Promise<ClipFacts>}
 */
export async function probe(file, picture) {
  /** @param {number} start @param {number} end */
  const read = (start, end) => file.slice(start, end).arrayBuffer();
  const track = await readTrack(read, file.size).catch(() => null);
  const isKnown = looksLikeVideo(await read(0, 12).catch(() => new ArrayBuffer(0)));
  const seen = await watch(file, picture, !track?.fps);
  return {
    size: file.size,
    isVideo: track !== null || isKnown || seen !== null,
    durationS: track?.durationS ?? seen?.durationS ?? null,
    fps: track?.fps ? { value: track.fps, sure: "counted" } : (seen?.fps ?? null),
    width: seen?.width ?? (track ? Math.round(track.width) : null),
    height: seen?.height ?? (track ? Math.round(track.height) : null),
    luma: seen?.luma ?? null,
    canShow: seen !== null,
  };
}

/**
 * @param {File} file @param {HTMLCanvasElement} picture @param {boolean} countRate
 * @returns {Promise<{durationS: number | null, width: number, height: number, luma: number | null, fps: {value: number, sure: any} | null} | null>}
 */
async function watch(file, picture, countRate) {
  const video = document.createElement("video");
  Object.assign(video, { muted: true, playsInline: true, preload: "auto" });
  const address = URL.createObjectURL(file);
  try {
    video.src = address;
    await happened(video, "loadeddata");
    const durationS = Number.isFinite(video.duration) ? video.duration : null;
    const fps = countRate ? await playedRate(video) : null;
    const luma = durationS ? await brightness(video, durationS, picture) : null;
    return { durationS, width: video.videoWidth, height: video.videoHeight, luma, fps };
  } catch {
    return null;
  } finally {
    video.removeAttribute("src");
    video.load();
    URL.revokeObjectURL(address);
  }
}

/** @param {HTMLVideoElement} video @param {string} name @returns {Promise<void>} */
function happened(video, name) {
  return new Promise((resolve, reject) => {
    const late = setTimeout(() => reject(new Error(`${name} did not come`)), PATIENCE_MS);
    const end = (/** @type {() => void} */ then) => () => {
      clearTimeout(late);
      then();
    };
    video.addEventListener(name, end(resolve), { once: true });
    video.addEventListener("error", end(() => reject(new Error("this browser can't play it"))), { once: true });
  });
}

/** @param {HTMLVideoElement} video */
async function playedRate(video) {
  if (!("requestVideoFrameCallback" in video)) return null;
  /** @type {number[]} */
  const times = [];
  const next = () =>
    video.requestVideoFrameCallback((_, { mediaTime }) => {
      times.push(mediaTime);
      next();
    });
  next();
  await video.play();
  await new Promise((resolve) => setTimeout(resolve, WATCH_MS));
  video.pause();
  return rateOf(times);
}

/** Mean luma (ITU-R BT.709 weights) of some pictures, 0..1. @param {HTMLVideoElement} video @param {number} durationS @param {HTMLCanvasElement} picture */
async function brightness(video, durationS, picture) {
  const small = document.createElement("canvas");
  small.width = small.height = SMALL;
  const pen = small.getContext("2d", { willReadFrequently: true });
  if (!pen) return null;
  let sum = 0;
  for (const share of LOOK_AT) {
    const seeked = happened(video, "seeked");
    video.currentTime = durationS * share;
    await seeked;
    pen.drawImage(video, 0, 0, SMALL, SMALL);
    sum += meanLuma(pen.getImageData(0, 0, SMALL, SMALL).data);
    if (share === 0.5) copyTo(picture, video);
  }
  return sum / LOOK_AT.length;
}

/** @param {Uint8ClampedArray} pixels */
function meanLuma(pixels) {
  let sum = 0;
  for (let at = 0; at < pixels.length; at += 4) {
    sum += 0.2126 * pixels[at] + 0.7152 * pixels[at + 1] + 0.0722 * pixels[at + 2];
  }
  return sum / (pixels.length / 4) / 255;
}

/** @param {HTMLCanvasElement} picture @param {HTMLVideoElement} video */
function copyTo(picture, video) {
  picture.width = 144;
  picture.height = Math.round((144 * video.videoHeight) / Math.max(1, video.videoWidth));
  picture.getContext("2d")?.drawImage(video, 0, 0, picture.width, picture.height);
}
