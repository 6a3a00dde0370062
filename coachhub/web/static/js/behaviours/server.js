
import { say } from "../core/wording.js";
/**
 * Sends to our own server and understands its refusals.
 * @param {string} address
 * @param {FormData | object} body
 * @param {string} token  of the page's csrfmiddlewaretoken
 * @param {Record<string, string>} [more]  headers
 * @returns {Promise<any>} the answer; rejects with the server's sentence, and `status` where it answered at all
 */
export async function post(address, body, token, more = {}) {
  const isForm = body instanceof FormData;
  const answer = await fetch(address, {
    method: "POST",
    headers: { Accept: "application/json", "X-CSRFToken": token, ...(isForm ? {} : { "Content-Type": "application/json" }), ...more },
    body: isForm ? body : JSON.stringify(body),
  });
  return understood(answer);
}

/** @param {string} address @returns {Promise<any>} */
export async function get(address) {
  return understood(await fetch(address, { headers: { Accept: "application/json" } }));
}

/** @param {Response} answer */
async function understood(answer) {
  const isJson = (answer.headers.get("Content-Type") ?? "").includes("json");
  if (answer.ok && isJson) return answer.json();
  const said = isJson ? (await answer.json()).sentence : "";
  const problem = /** @type {Error & {status?: number}} */ (new Error(said || excuse(answer)));
  problem.status = answer.ok ? 401 : answer.status;
  throw problem;
}

/** @param {Response} answer */
function excuse(answer) {
  if (answer.redirected || answer.status === 403) return say("You are not signed in any more. Sign in in another tab, then try again here.");
  return say("The server could not do this ({status}). Try again in a moment.", { status: answer.status });
}
