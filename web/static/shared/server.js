/** Our own server, asked for JSON. What it says when it refuses is the error. */

const SILENT = "The page’s server does not answer. Try again in a moment.";

/** @typedef {{ok: boolean, status: number, body: any}} Answer */

/** @param {string} path @returns {Promise<any>} throws with the server's own words */
export async function get(path) {
  const answer = await asked(path, {});
  if (!answer.ok) throw new Error(String(answer.body.says));
  return answer.body;
}

/** Send JSON. A refusal is an answer, and no error. @param {string} path @param {any} body @param {AbortSignal} [signal] @returns {Promise<Answer>} */
export function send(path, body, signal) {
  return asked(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body), signal });
}

/** @param {string} path @param {RequestInit} how @returns {Promise<Answer>} */
async function asked(path, how) {
  /** @type {Response} */
  let response;
  try {
    response = await fetch(path, how);
  } catch (error) {
    if (how.signal?.aborted) throw error;
    throw new Error(SILENT);
  }
  const body = await response.json().catch(() => ({ says: SILENT }));
  return { ok: response.ok, status: response.status, body };
}
