// Starts every read-only player of a page: {% module "js/pages/replay.js" %} after templates/shared/replay.html.
import { Beside } from "../behaviours/beside.js";
import { jsonOf } from "../behaviours/dom.js";
import { KeptBeside } from "../behaviours/kept_beside.js";
import { sendOnce } from "../behaviours/once.js";
import { Replay } from "../behaviours/replay.js";
import { SwingPlayer } from "../behaviours/swing_player.js";
import { TalkReplay } from "../behaviours/talk_replay.js";

for (const root of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-replay]"))) {
  const section = /** @type {HTMLElement | null} */ (root.querySelector("[data-player]"));
  if (!section) continue;
  const player = new SwingPlayer(section);
  player.connect();
  new Replay(root, player).connect();
  const beside = new Beside(player);
  beside.connect();
  const kept = document.getElementById("replay-beside") ? jsonOf("replay-beside") : [];
  const keptBeside = new KeptBeside(root, player, beside, kept, { isPinned: true });
  keptBeside.connect();
  // A page that is about two swings shows both at once: <div data-replay data-opens="uid">.
  if (root.dataset.opens) void keptBeside.show(root.dataset.opens);
  for (const talk of /** @type {NodeListOf<HTMLElement>} */ (root.querySelectorAll("[data-talk]"))) new TalkReplay(talk, player, beside).connect();
}

for (const form of /** @type {NodeListOf<HTMLFormElement>} */ (document.querySelectorAll("form[data-once]"))) sendOnce(form);
