// Joints in the words of the field: of the lead or the trail side.

import { say } from "./wording.js";

/** @typedef {"lead" | "trail"} Side */

export const SIDE_WORDS = { lead: say("lead"), trail: say("trail") };

const JOINT_WORDS = /** @type {Record<string, string>} */ ({
  lead_shoulder: say("lead shoulder"), lead_elbow: say("lead elbow"), lead_wrist: say("lead wrist"), lead_hip: say("lead hip"),
  lead_knee: say("lead knee"), lead_ankle: say("lead ankle"), lead_heel: say("lead heel"), lead_foot_index: say("lead toes"),
  trail_shoulder: say("trail shoulder"), trail_elbow: say("trail elbow"), trail_wrist: say("trail wrist"), trail_hip: say("trail hip"),
  trail_knee: say("trail knee"), trail_ankle: say("trail ankle"), trail_heel: say("trail heel"), trail_foot_index: say("trail toes"),
});

/** @param {string} side @param {string} joint @returns {string} */
export function jointWords(side, joint) {
  return JOINT_WORDS[`${side}_${joint}`] ?? `${side} ${joint}`;
}
