/** Requests to the controller, by plain POST: they need no live stream. The controller decides; this passes its words on. */

/** @typedef {{ok: boolean, says: string, reached: boolean, items: {id: string, says: string, why: string}[]}} Answer */

const PATIENCE_MS = 5000;
const ABORT_TRIES = 8;
const ABORT_PAUSE_MS = 1000;

/** @param {string} kind @param {Record<string, any>} [body] @returns {Promise<Answer>} */
export async function ask(kind, body = {}) {
  try {
    const response = await fetch(`/api/requests/${kind}`, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(body),
      keepalive: true,
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
    const reply = await response.json();
    return { ok: reply.ok === true, says: String(reply.says), reached: response.status < 500, items: reply.items ?? [] };
  } catch {
    return { ok: false, says: "The request did not get through to the kiln’s computer.", reached: false, items: [] };
  }
}

/**
 * Abort, and do not give up at the first failure: asking twice does no harm.
 * @param {(says: string) => void} trying told before each further try @returns {Promise<Answer>}
 */
export async function abort(trying) {
  let answer = await ask("abort");
  for (let tries = 1; !answer.reached && tries < ABORT_TRIES; tries += 1) {
    trying(`The abort has not got through yet: trying again (${tries}). If you stand at the kiln, use its emergency stop.`);
    await new Promise((resolve) => window.setTimeout(resolve, ABORT_PAUSE_MS));
    answer = await ask("abort");
  }
  return answer.reached ? answer : { ...answer, says: "The abort did not get through. Go to the kiln and use its emergency stop." };
}
