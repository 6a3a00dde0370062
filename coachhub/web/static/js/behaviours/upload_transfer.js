import "../vendor/tus.min.js";
import { CHUNK_BYTES } from "../core/uploadqueue.js";

/** @typedef {import("../core/uploadqueue.js").QueueItem} QueueItem */
/** @typedef {{reference: string, name: string, report: object, uploadUrl: string}} Film  of a coach's reference */
/** @typedef {{talk: string, review: string, take: number, name: string, report: object, uploadUrl: string}} Take  of a coach's talk */

/** An upload that stopped: status 0 means that no answer came. */
export class TransferError extends Error {
  /** @param {number} status @param {string} said */
  constructor(status, said) {
    super(said || `status ${status}`);
    this.status = status;
    this.said = said;
  }
}

/**
 * Move one file by the tus protocol, from where the server says it stopped. Resolves when the last byte is there.
 *
 *   await transfer(item, file, { endpoint: "/uploads/", csrf, signal, onUrl, onProgress, onKept });
 *
 * @param {QueueItem | Film | Take} item @param {Blob} file
 * @param {{endpoint: string, csrf: string, signal: AbortSignal, onUrl: (url: string) => void, onProgress: (sent: number) => void, onKept: (sent: number) => void}} how
 * @returns {Promise<void>}
 */
export function transfer(item, file, how) {
  const tus = /** @type {any} */ (globalThis).tus;
  return new Promise((resolve, reject) => {
    const pieces = new Pieces(file);
    const upload = new tus.Upload(file, {
      endpoint: how.endpoint,
      uploadUrl: item.uploadUrl || null,
      chunkSize: CHUNK_BYTES,
      // The queue decides when to try again; it also has to survive the page.
      retryDelays: null,
      storeFingerprintForResuming: false,
      metadata: { ...homeOf(item), filename: item.name, report: JSON.stringify(item.report) },
      fileReader: { openFile: async () => pieces },
      onBeforeRequest: (/** @type {any} */ request) => prepare(request, pieces, how.csrf),
      onUploadUrlAvailable: () => how.onUrl(upload.url),
      onProgress: (/** @type {number} */ sent) => how.onProgress(sent),
      onChunkComplete: (/** @type {number} */ _piece, /** @type {number} */ kept) => how.onKept(kept),
      onSuccess: () => resolve(),
      onError: (/** @type {any} */ error) => reject(asTransferError(error)),
    });
    how.signal.addEventListener("abort", () => {
      void upload.abort();
      reject(new DOMException("stopped by hand", "AbortError"));
    });
    upload.start();
  });
}

/** What the file belongs to. @param {QueueItem | Film | Take} item @returns {Record<string, string>} */
function homeOf(item) {
  if ("talk" in item) return { talk: item.talk, review: item.review, take: String(item.take) };
  return "reference" in item ? { reference: item.reference } : { submission: item.submission, view: item.view };
}

/** @param {any} request @param {Pieces} pieces @param {string} csrf */
async function prepare(request, pieces, csrf) {
  request.setHeader("X-CSRFToken", csrf);
  if (request.getMethod() !== "PATCH" || !pieces.latest) return;
  const digest = await checksum(pieces.latest);
  if (digest) request.setHeader("Upload-Checksum", `sha256 ${digest}`);
}

/** SHA-256 in base64; empty where the page is not served securely. @param {Blob} piece @returns {Promise<string>} */
async function checksum(piece) {
  if (!globalThis.crypto?.subtle) return "";
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", await piece.arrayBuffer()));
  return btoa(String.fromCharCode(...digest));
}

/** @param {any} error @returns {TransferError} */
function asTransferError(error) {
  const response = error?.originalResponse;
  return new TransferError(response?.getStatus() ?? 0, response?.getBody() ?? "");
}

/** The file in pieces, remembering the latest one for its checksum. */
class Pieces {
  /** @param {Blob} file */
  constructor(file) {
    this.file = file;
    this.size = file.size;
    /** @type {Blob | null} */
    this.latest = null;
  }

  /** @param {number} start @param {number} end */
  async slice(start, end) {
    this.latest = this.file.slice(start, end);
    return { value: this.latest, done: end >= this.size };
  }

  close() {
    this.latest = null;
  }
}
