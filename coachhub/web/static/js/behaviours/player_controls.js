import { inSeconds, rateLabel, rateWords } from "../core/timecode.js";
import { RATES, inOrder, shareOf } from "../core/timeline.js";
import { loudness, wavePath } from "../core/waveform.js";
import { say } from "../core/wording.js";
import { button, html, part } from "./dom.js";

/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */

const QUIET_MS = 500;
const WAVE_COLUMNS = 400;

/** Buttons, scrub bar, event list and the line that says where we are. The player does the work. */
export class PlayerControls {
  /** @param {SwingPlayer} player */
  constructor(player) {
    this.player = player;
    const root = player.root;
    this.bar = part(root, "bar");
    this.ticks = part(root, "ticks");
    this.wave = part(root, "wave");
    this.now = part(root, "now");
    this.said = part(root, "said");
    this.play = part(root, "play");
    this.reverse = part(root, "reverse");
    this.goTo = part(root, "go-to");
    this.rates = part(root, "rates");
    part(root, "controls").hidden = false;
    this.connect();
  }

  connect() {
    const { player } = this;
    const press = (/** @type {string} */ name, /** @type {() => void} */ work) =>
      player.scope.listen(part(player.root, name), "click", work);
    press("play", () => player.togglePlay());
    press("reverse", () => player.toggleReverse());
    press("back", () => player.step(-1));
    press("forward", () => player.step(1));
    press("back-ten", () => player.step(-10));
    press("forward-ten", () => player.step(10));
    player.scope.listen(this.bar, "input", () => player.showFrame(Number(this.bar.value)));
    this.rates.replaceChildren(...RATES.map((rate) => this.rateButton(rate)));
    for (const name of ["body", "shaft", "drawings", "repeat", "halt"]) this.connectSwitch(name);
  }

  /** @param {number} rate */
  rateButton(rate) {
    const made = button("quiet", { "aria-label": `${rateLabel(rate)}, ${rateWords(rate)}`, "data-rate": rate }, [rateLabel(rate)]);
    this.player.scope.listen(made, "click", () => this.player.setRate(rate));
    return made;
  }

  /** @param {string} name */
  connectSwitch(name) {
    const box = /** @type {HTMLInputElement | null} */ (this.player.root.querySelector(`[data-switch="${name}"]`));
    if (!box) return;
    const turn = () => this.player.setSwitch(name, box.checked);
    this.player.scope.listen(box, "change", turn);
    // What the page says from the start holds, and what a browser filled in after going back.
    turn();
  }

  swingChanged() {
    const { engine, span, swing } = this.player;
    this.reverse.hidden = !engine.canReverse;
    Object.assign(this.bar, { min: engine.bounds.first, max: engine.bounds.last, step: 1 });
    const events = inOrder(swing.events);
    this.ticks.replaceChildren(...events.map((event) => tick(shareOf(event.t_us, span))));
    this.goTo.replaceChildren(...events.map((event) => this.eventButton(event)));
    this.goTo.parentElement.hidden = events.length === 0;
    this.drawSound();
  }

  /** The strike is heard before it is seen: where the clip has sound, its loudness lies along the bar. */
  drawSound() {
    const sizes = loudness(this.player.sound, this.player.span, WAVE_COLUMNS);
    this.wave.toggleAttribute("hidden", !sizes);
    this.wave.querySelector("path").setAttribute("d", sizes ? wavePath(sizes) : "");
  }

  /** @param {import("../core/timeline.js").SwingEvent} event */
  eventButton(event) {
    const made = button("quiet", { "data-event": event.name, title: `${inSeconds(event.t_us)} ± ${inSeconds(event.se_us)}` }, [event.label]);
    this.player.scope.listen(made, "click", () => this.player.goTo(event.t_us));
    return made;
  }

  /** @param {number} frame */
  frameChanged(frame) {
    const { engine, swing } = this.player;
    const us = engine.frames.startOf(frame);
    const here = swing.events.filter((event) => engine.frames.nearest(event.t_us) === frame);
    const names = here.map((event) => event.label).join(", ");
    const text = [say("Frame {number} of {count}", { number: frame + 1, count: engine.frames.count }), inSeconds(us), names].filter(Boolean).join(" · ");
    this.bar.value = String(frame);
    this.bar.setAttribute("aria-valuetext", text);
    this.now.textContent = text;
    for (const made of this.goTo.children) made.setAttribute("aria-pressed", String(here.some((event) => event.name === made.dataset.event)));
    this.sayLater(text);
  }

  /** Spoken once the stepping rests, so that a held key doesn't flood a screen reader. @param {string} text */
  sayLater(text) {
    clearTimeout(this.timer);
    if (this.player.engine.playing) return;
    this.timer = setTimeout(() => { this.said.textContent = text; }, QUIET_MS);
  }

  /** @param {boolean} playing */
  playingChanged(playing) {
    this.play.textContent = playing ? say("Pause") : say("Play");
    this.reverse.setAttribute("aria-pressed", String(playing && this.player.engine.direction < 0));
  }

  /** @param {number} rate */
  rateChanged(rate) {
    for (const made of this.rates.children) made.setAttribute("aria-pressed", String(Number(made.dataset.rate) === rate));
  }
}

/** @param {number} share */
function tick(share) {
  const made = html("span");
  made.style.left = `${(share * 100).toFixed(2)}%`;
  return made;
}
