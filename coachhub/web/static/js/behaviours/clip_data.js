// What belongs to a clip beside its pictures: when each frame is shown, and the lines over it.

/** @param {string} address @returns {Promise<any>} */
export async function fetchJson(address) {
  const answer = await fetch(address);
  if (!answer.ok) throw new Error(`${answer.status} for ${address}`);
  return answer.json();
}

/**
 * Index and tracks of a swing; a clip without lines is shown without lines.
 * @param {{index: string, tracks: string | null}} swing @returns {Promise<[any, any]>}
 */
export function dataOf(swing) {
  const tracks = swing.tracks ? fetchJson(swing.tracks).catch(() => null) : Promise.resolve(null);
  return Promise.all([fetchJson(swing.index), tracks]);
}
