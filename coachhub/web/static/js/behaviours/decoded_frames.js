import { groupsKept, groupsWanted } from "../core/decodeplan.js";
import { decoderConfigs } from "../core/decoderconfig.js";
import { FrameCache } from "../core/framecache.js";
import { MasterClock } from "../core/masterclock.js";
import { SampleReader } from "../core/samplereader.js";
import { SampleTable } from "../core/sampletable.js";
import { FrameEngine } from "./frame_engine.js";
import { GroupDecoder } from "./group_decoder.js";
import { PartFetch } from "./part_fetch.js";

/** @typedef {import("../core/frametimes.js").FrameTimes} FrameTimes */
/** @typedef {import("../core/sampletable.js").ClipIndex} ClipIndex */

/**
 * Shows exact frames on a canvas: decodes key-frame groups around the playhead and keeps a bounded number of them.
 * The same interface as VideoEngine, and it plays backwards too.
 */
export class DecodedFrames extends FrameEngine {
  /** @param {HTMLCanvasElement} canvas @param {HTMLVideoElement} video  stays behind the canvas and shows the poster */
  constructor(canvas, video) {
    super();
    this.canvas = canvas;
    this.video = video;
    this.approximate = false;
    this.canReverse = true;
    this.rate = 1;
    /** The clip can't be decoded here after all. @type {(problem: unknown) => void} */
    this.onfail = () => {};
    /** @type {(waits: boolean) => void} */
    this.onwaiting = () => {};
    /** A fresh address of the same clip. @type {() => Promise<string | null>} */
    this.renew = async () => null;
    this.clock = new MasterClock();
    /** What another player's clock does with this one: then it looks ahead as if it played. */
    this.led = false;
    /** What runs beside by this clock. @type {Mate | null} */
    this.mate = null;
    /** @type {Opened | null} */
    this.clip = null;
    // The frame that the decoder works towards.
    this.target = 0;
    /** @type {number | null} */
    this.decoding = null;
    /** @type {{frame: number, resolve: () => void} | null} */
    this.waiting = null;
    this.run = 0;
    this.ticking = 0;
  }

  get size() {
    return { width: this.canvas.width, height: this.canvas.height };
  }

  /** @param {string} source @param {FrameTimes} frames @param {string} poster @param {ClipIndex} index */
  async load(source, frames, poster, index) {
    this.rest();
    const config = await supportedConfig(index);
    if (!config) throw new Error("this clip can't be decoded frame by frame here");
    if (poster) this.video.poster = poster;
    if (this.video.getAttribute("src") !== source) {
      this.video.removeAttribute("src");
      this.video.load();
    }
    this.frames = frames;
    this.bounds = { first: 0, last: frames.count - 1 };
    Object.assign(this.canvas, { width: index.width, height: index.height });
    this.clip = this.opened(source, frames, index, config);
    this.source = source;
  }

  /** @param {string} source @param {FrameTimes} frames @param {ClipIndex} index @param {VideoDecoderConfig} config @returns {Opened} */
  opened(source, frames, index, config) {
    const table = new SampleTable(index);
    const parts = new PartFetch(source, { renew: () => this.renew(), waiting: (waits) => this.onwaiting(waits) });
    const frameAt = new Map(Array.from(frames.startsUs, (us, frame) => [us, frame]));
    const onpicture = (/** @type {VideoFrame} */ picture) => this.arrived(clip, frameAt.get(picture.timestamp), picture);
    const clip = {
      table,
      parts,
      cache: new FrameCache(boundOf(index, table)),
      reader: new SampleReader(table, (start, end) => parts.fetch(start, end)),
      decoder: new GroupDecoder(config, table, frames.startsUs, onpicture),
    };
    return clip;
  }

  /** Lets go of the clip and of all memory. */
  rest() {
    this.pause();
    this.generation += 1;
    this.run += 1;
    this.seeking = null;
    this.decoding = null;
    this.waiting?.resolve();
    this.waiting = null;
    this.source = "";
    this.canvas.hidden = true;
    this.clip?.parts.end();
    this.clip?.decoder.end();
    this.clip?.cache.clear();
    this.clip = null;
  }

  /** @param {number} wanted */
  turn(wanted) {
    if (wanted !== this.frame) this.direction = wanted > this.frame ? 1 : -1;
  }

  /** @param {number} frame @returns {Promise<void>} */
  async fetch(frame) {
    const mine = this.generation;
    this.aim(frame);
    while (mine === this.generation && !this.pictureOf(frame)) {
      await new Promise((resolve) => { this.waiting = { frame, resolve: () => resolve(undefined) }; });
    }
  }

  /** @param {number} frame @returns {CanvasImageSource | undefined} */
  pictureOf(frame) {
    const { clip } = this;
    return /** @type {VideoFrame | undefined} */ (clip?.cache.get(clip.table.groupOf(frame), frame));
  }

  /** @param {number} frame */
  put(frame) {
    const picture = this.pictureOf(frame);
    if (!picture) return false;
    const paper = this.canvas.getContext("2d", { alpha: false });
    paper?.drawImage(picture, 0, 0, this.canvas.width, this.canvas.height);
    this.canvas.hidden = false;
    this.tell(frame);
    return true;
  }

  /** Points the decoder at a frame; work on what is only needed later gives way. @param {number} frame */
  aim(frame) {
    const { clip } = this;
    if (!clip) return;
    this.target = frame;
    const group = clip.table.groupOf(frame);
    if (this.decoding === null) this.decodeWanted(clip);
    else if (this.decoding !== group && !clip.cache.has(group)) this.redirect(clip);
  }

  /** @param {Opened} clip */
  redirect(clip) {
    this.run += 1;
    if (this.decoding !== null) clip.cache.drop(this.decoding);
    this.decoding = null;
    clip.decoder.abandon();
    this.decodeWanted(clip);
  }

  /** @param {Opened} clip */
  async decodeWanted(clip) {
    this.run += 1;
    const mine = this.run;
    try {
      for (let group = this.nextGroup(clip); group !== undefined && mine === this.run; group = this.nextGroup(clip)) {
        this.decoding = group;
        await this.decodeGroup(clip, group, mine);
      }
      if (mine === this.run) this.decoding = null;
    } catch (problem) {
      if (mine === this.run) this.fail(problem);
    }
  }

  /** @param {Opened} clip @param {number} group @param {number} run */
  async decodeGroup(clip, group, run) {
    const bytes = await clip.reader.read(group, this.direction);
    if (run !== this.run) return;
    clip.cache.open(group);
    const whole = await clip.decoder.decode(group, bytes);
    if (run !== this.run) return;
    const awaited = this.waiting && clip.table.groupOf(this.waiting.frame) === group;
    if (!whole || (awaited && !this.pictureOf(/** @type {{frame: number}} */ (this.waiting).frame))) {
      throw new Error(`no picture came out of group ${group}`);
    }
  }

  /** @param {Opened} clip @returns {number | undefined} */
  nextGroup({ cache, table }) {
    const wanted = groupsWanted({
      group: table.groupOf(this.target),
      direction: this.direction,
      playing: this.playing || this.led,
      most: cache.most,
      groups: table.groups,
    });
    for (const group of wanted.toReversed()) cache.touch(group);
    return wanted.find((group) => !cache.has(group));
  }

  /** @param {Opened} clip @param {number | undefined} frame @param {VideoFrame} picture */
  arrived(clip, frame, picture) {
    if (frame === undefined) return void picture.close();
    clip.cache.put(clip.table.groupOf(frame), frame, picture);
    if (this.waiting?.frame !== frame) return;
    this.waiting.resolve();
    this.waiting = null;
  }

  /** @param {unknown} problem */
  fail(problem) {
    this.rest();
    this.onfail(problem);
  }

  /** @param {number} rate  negative: backwards */
  async play(rate) {
    if (this.playing && Math.sign(rate) === this.direction) return this.setRate(Math.abs(rate));
    const mine = this.generation;
    if (this.playing) await this.show(this.frame);
    const [from, to] = rate > 0 ? [this.bounds.first, this.bounds.last] : [this.bounds.last, this.bounds.first];
    if (this.frame === to) await this.show(from);
    if (this.seeking) await this.seeking;
    if (mine !== this.generation || this.playing) return;
    this.rate = Math.abs(rate);
    this.direction = Math.sign(rate);
    // From the middle of the frame: a screen as fast as the clip would else stand on the edge between two frames.
    this.clock.start(this.frames.middleOf(this.frame), rate);
    this.setPlaying(true);
    this.follow();
  }

  pause() {
    cancelAnimationFrame(this.ticking);
    this.setPlaying(false);
  }

  /** @param {number} rate */
  setRate(rate) {
    this.rate = rate;
    this.clock.rate = rate * this.direction;
  }

  follow() {
    this.ticking = requestAnimationFrame((nowMs) => {
      if (!this.playing) return;
      this.tick(nowMs);
      if (this.playing) this.follow();
    });
  }

  /** @param {number} nowMs */
  tick(nowMs) {
    const us = this.clock.read(nowMs);
    const frame = this.frames.frameAt(us);
    const forward = this.direction > 0;
    const stop = forward ? this.halt(this.frames.startOf(this.frame), this.frames.startOf(frame)) : null;
    if (stop !== null) return void this.show(this.frames.nearest(stop));
    if (forward ? frame >= this.bounds.last : frame <= this.bounds.first) return void this.atTheEnd();
    this.aim(frame);
    const isReady = [frame === this.frame || Boolean(this.pictureOf(frame)), this.mate?.ready(us) ?? true].every(Boolean);
    // Both or none: time stands until each side has the picture of its time.
    this.clock.hold(!isReady);
    if (!isReady) return;
    this.mate?.put(us);
    if (frame !== this.frame) this.put(frame);
  }

  async atTheEnd() {
    const { direction } = this;
    const [from, to] = direction > 0 ? [this.bounds.first, this.bounds.last] : [this.bounds.last, this.bounds.first];
    await this.show(this.repeat ? from : to);
    if (this.repeat) this.play(this.rate * direction);
  }
}

/**
 * @typedef {object} Mate
 * @property {(us: number) => boolean} ready  whether its picture of that time is there; it begins to fetch it if not
 * @property {(us: number) => void} put
 */
/**
 * @typedef {object} Opened
 * @property {SampleTable} table
 * @property {PartFetch} parts
 * @property {FrameCache} cache
 * @property {SampleReader} reader
 * @property {GroupDecoder} decoder
 */

/**
 * The settings with which this browser decodes the clip, or null: then a <video> shows it.
 * @param {ClipIndex} index @returns {Promise<VideoDecoderConfig | null>}
 */
export async function supportedConfig(index) {
  if (!("VideoDecoder" in globalThis) || !("EncodedVideoChunk" in globalThis)) return null;
  try {
    if (boundOf(index, new SampleTable(index)) === 0) return null;
    for (const config of decoderConfigs(index) ?? []) {
      if ((await VideoDecoder.isConfigSupported(config)).supported) return config;
    }
  } catch (problem) {
    console.warn("this clip is shown by the browser's own player", problem);
  }
  return null;
}

/** @param {ClipIndex} index @param {SampleTable} table */
function boundOf(index, table) {
  const memory = /** @type {{deviceMemory?: number}} */ (navigator).deviceMemory ?? 8;
  const isSmall = memory <= 4 || matchMedia("(pointer: coarse)").matches;
  return groupsKept({ width: index.width, height: index.height, largest: table.largest, isSmall });
}
