// Sentences in the reader's language. English stands in the source and is the key; the page's own script
// (`coachhub/web/words.py`) brings the other words before any module runs, and in English brings none.
//
//   say("Only {words}: film from before you move.", { words })

/** @typedef {{language: string, said: Record<string, string>}} Words */

const GAP = /\{([A-Za-z_]\w*)\}/g;

/** @returns {Words | undefined} */
function words() {
  return /** @type {any} */ (globalThis).SITE_WORDS;
}

/** @param {string} sentence @param {Record<string, string | number>} [gaps] @returns {string} */
export function say(sentence, gaps = {}) {
  const said = words()?.said[sentence] ?? sentence;
  return said.replace(GAP, (gap, name) => (name in gaps ? String(gaps[name]) : gap));
}

/** For dates: the page's language, or as this browser has it. @returns {string | undefined} */
export function locale() {
  return words()?.language;
}

/** A number for people, with so many decimals. @param {number} value @param {number} digits @returns {string} */
export function decimal(value, digits) {
  const { language } = words() ?? {};
  if (!language) return value.toFixed(digits);
  return value.toLocaleString(language, { minimumFractionDigits: digits, maximumFractionDigits: digits, useGrouping: false });
}
