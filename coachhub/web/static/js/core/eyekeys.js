/**
 * What a key on the stage means for the finding: a letter chooses what is looked at, the number after it what is seen;
 * a number alone takes that suggestion; anything else forgets the letter.
 *
 * @param {{key: string, letter: string, looks: {letter?: string, choices: number}[], paths: number}} given
 *   `letter`: the one pressed before, or "".
 * @returns {{act: "none" | "wait" | "see" | "take", letter: string, number: number, pressed: string}}
 *   `letter`: what to remember; `pressed`: the look that `number` belongs to
 */
export function eyeKey({ key, letter, looks, paths }) {
  const low = key.toLowerCase();
  if (looks.some((look) => look.letter === low)) return { act: "wait", letter: low, number: 0, pressed: "" };
  const number = /^[1-9]$/.test(key) ? Number(key) : 0;
  const look = looks.find((one) => one.letter === letter && letter !== "");
  if (number && look) {
    const act = number <= look.choices ? "see" : "none";
    return { act, letter: "", number, pressed: letter };
  }
  if (number && number <= paths) return { act: "take", letter: "", number, pressed: "" };
  return { act: "none", letter: "", number: 0, pressed: "" };
}
