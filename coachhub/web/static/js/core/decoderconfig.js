/** @typedef {import("./sampletable.js").ClipIndex} ClipIndex */

/**
 * The decoder settings that a clip index carries, or null for an index without them. Software first where a choice is
 * given: hardware decoders stop when too many of their pictures are held.
 * @param {Partial<ClipIndex>} index @returns {VideoDecoderConfig[] | null}  most wanted first
 */
export function decoderConfigs({ codec, description, width, height }) {
  if (!codec || !description || !width || !height) return null;
  const bytes = Uint8Array.from(atob(description), (letter) => letter.charCodeAt(0));
  const plain = { codec, description: bytes, codedWidth: width, codedHeight: height, optimizeForLatency: true };
  return [{ ...plain, hardwareAcceleration: "prefer-software" }, plain];
}
