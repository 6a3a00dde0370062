/** @typedef {import("./swing_player.js").SwingPlayer} SwingPlayer */

/**
 * Keys of the stage. They act only while the stage itself has the focus (WCAG 2.1.4), never page-wide.
 * The list in templates/shared/swing_player.html tells people the same.
 * @type {Record<string, (player: SwingPlayer, event: KeyboardEvent) => void>}
 */
const KEYS = {
  " ": (player, event) => (event.shiftKey ? player.toggleReverse() : player.togglePlay()),
  ArrowLeft: (player, event) => player.step(event.shiftKey ? -10 : -1),
  ArrowRight: (player, event) => player.step(event.shiftKey ? 10 : 1),
  ArrowUp: (player) => player.changeRate(1),
  ArrowDown: (player) => player.changeRate(-1),
  PageUp: (player) => player.toEvent(-1),
  PageDown: (player) => player.toEvent(1),
  Home: (player) => player.showFrame(player.engine.bounds.first),
  End: (player) => player.showFrame(player.engine.bounds.last),
};

/** @param {SwingPlayer} player @param {HTMLElement} stage */
export function connectKeys(player, stage) {
  player.scope.listen(stage, "keydown", (/** @type {KeyboardEvent} */ event) => {
    if (event.target !== stage || event.ctrlKey || event.metaKey || event.altKey) return;
    const act = KEYS[event.key];
    if (!act || event.defaultPrevented) return;
    event.preventDefault();
    act(player, event);
  });
}
