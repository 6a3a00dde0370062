/**
 * A sentence put in where the caret stands, or in place of what is selected, with room around it.
 * @param {string} text @param {string} phrase @param {number} from @param {number} to
 * @returns {{text: string, caret: number}}
 */
export function putIn(text, phrase, from, to) {
  const [before, after] = [text.slice(0, from), text.slice(to)];
  const lead = before === "" || /\s$/.test(before) ? "" : " ";
  const tail = after === "" || /^\s/.test(after) ? "" : " ";
  const upTo = before + lead + phrase;
  return { text: upTo + tail + after, caret: upTo.length };
}
