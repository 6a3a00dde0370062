import { ClockPair } from "../core/talk.js";
import { LevelMeter, canRecord, openMicrophone, recorderOf } from "./microphone.js";

/**
 * @typedef {object} Take
 * @property {() => number} zeroMs  its zero by performance.now(), as well as it is known by now: it gets better while it is asked
 * @property {() => number} slipMs  how far its sound has fallen behind since, where the device stumbled
 * @property {() => Promise<void>} stop
 */

const PIECE_MS = 1000;
/** The same sweeps that the server looks for: analysis/adapters/talk.py. */
const SWEEP = { seconds: 0.02, low: 2000, high: 6000, loudness: 0.3 };
const SECOND_S = 0.2;
const LEAD_S = 0.25;
// A sound that was just opened stumbles at first.
const WARM_UP_MS = 400;
// More than a file's head alone; the marks are looked for in the first three seconds of a take.
const LEAST_BYTES = 600;
const LONGEST_START_MS = 2000;
const READ_FOR_MS = 1000 * (LEAD_S + SECOND_S + SWEEP.seconds);

/**
 * The microphone on its way into takes. Each take begins with two short sweeps that only the recording hears: they mark
 * the zero of the take's clock, so that sound and picture stay together whatever the device adds before and after.
 *
 *   const sound = await TalkSound.open(); const take = await sound.record((piece) => …); await take.stop(); sound.close();
 */
export class TalkSound {
  /** @param {MediaStream} stream @param {AudioContext} context */
  constructor(stream, context) {
    this.stream = stream;
    this.context = context;
    this.mixed = context.createMediaStreamDestination();
    const voice = context.createMediaStreamSource(stream);
    voice.connect(this.mixed);
    this.level = new LevelMeter(context, voice);
  }

  static get isPossible() {
    return canRecord() && typeof AudioContext !== "undefined";
  }

  static async open() {
    const stream = await openMicrophone();
    const context = new AudioContext({ latencyHint: "interactive" });
    await context.resume();
    await new Promise((resolve) => setTimeout(resolve, WARM_UP_MS));
    return new TalkSound(stream, context);
  }

  /** @param {(piece: Blob) => void} onpiece @returns {Promise<Take>} */
  async record(onpiece) {
    const recorder = recorderOf(this.mixed.stream);
    let bytes = 0;
    recorder.ondataavailable = (event) => {
      bytes += event.data.size;
      if (event.data.size) onpiece(event.data);
    };
    const started = new Promise((resolve) => { recorder.onstart = resolve; });
    recorder.start(PIECE_MS);
    await started;
    await flows(recorder, () => bytes);
    return { ...(await this.markZero()), stop: () => stopped(recorder) };
  }

  /** Plays the sweeps into the recording. @returns {Promise<Pick<Take, "zeroMs" | "slipMs">>} its beginning by performance.now() */
  async markZero() {
    const { context } = this;
    const atS = context.currentTime + LEAD_S;
    this.play(sweep(context, SWEEP.low, SWEEP.high), atS);
    this.play(sweep(context, SWEEP.high, SWEEP.low), atS + SECOND_S);
    const clocks = new ClockPair();
    const zeroMs = () => {
      clocks.read(context.currentTime, performance.now());
      return clocks.pageMs(atS);
    };
    const until = performance.now() + READ_FOR_MS;
    while (performance.now() < until) {
      zeroMs();
      await new Promise((resolve) => setTimeout(resolve, 3));
    }
    return { zeroMs, slipMs: () => clocks.slipMs };
  }

  /** @param {AudioBuffer} buffer @param {number} atS */
  play(buffer, atS) {
    const source = this.context.createBufferSource();
    source.buffer = buffer;
    source.connect(this.mixed);
    source.start(atS);
  }

  close() {
    for (const track of this.stream.getTracks()) track.stop();
    void this.context.close();
  }
}

/** @param {AudioContext} context @param {number} low @param {number} high  above it or below @returns {AudioBuffer} */
function sweep(context, low, high) {
  const { seconds, loudness } = SWEEP;
  const buffer = context.createBuffer(1, Math.round(seconds * context.sampleRate), context.sampleRate);
  const out = buffer.getChannelData(0);
  for (let i = 0; i < out.length; i += 1) {
    const t = i / context.sampleRate;
    const window = 0.5 - 0.5 * Math.cos((2 * Math.PI * i) / (out.length - 1));
    out[i] = loudness * window * Math.sin(2 * Math.PI * (low * t + ((high - low) * t * t) / (2 * seconds)));
  }
  return buffer;
}

/**
 * Until the recording really takes sound in. It says that it started before it does, and a mark played in between is
 * swallowed: the first recording of a page can take longer over this than the mark is ahead.
 * @param {MediaRecorder} recorder @param {() => number} bytes  what it gave so far
 */
async function flows(recorder, bytes) {
  const until = performance.now() + LONGEST_START_MS;
  while (bytes() < LEAST_BYTES && performance.now() < until && recorder.state === "recording") {
    recorder.requestData();
    await new Promise((resolve) => setTimeout(resolve, 40));
  }
}

/** @param {MediaRecorder} recorder @returns {Promise<void>} after its last piece */
function stopped(recorder) {
  return new Promise((resolve) => {
    recorder.onstop = () => resolve();
    if (recorder.state === "inactive") resolve();
    else recorder.stop();
  });
}
