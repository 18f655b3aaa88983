/**
 * A photograph from this device: made small here (a phone's own is too large for a bad network), and sent. The
 * server makes it anew whatever comes; what this device cannot unpack is sent as it is, and judged there.
 */

const LARGEST_PX = 1600;
const QUALITY = 0.85;
const PATIENCE_MS = 60_000;
/** What the server takes; named to the camera, so that it does not give another kind. */
const KINDS = "image/jpeg,image/png,image/webp";

/** @param {File} file @returns {Promise<Blob>} */
async function smaller(file) {
  try {
    const whole = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, LARGEST_PX / Math.max(whole.width, whole.height));
    const canvas = Object.assign(document.createElement("canvas"), { width: Math.round(whole.width * scale), height: Math.round(whole.height * scale) });
    canvas.getContext("2d")?.drawImage(whole, 0, 0, canvas.width, canvas.height);
    whole.close();
    const made = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", QUALITY));
    return made ?? file;
  } catch {
    return file;
  }
}

/**
 * Send a photograph. @param {number} firing @param {File} file
 * @param {{of: "crack" | "shell" | "casting", stage?: number, caption?: string}} what
 * @returns {Promise<{ok: boolean, says: string, id?: number}>}
 */
export async function sendPhoto(firing, file, what) {
  const asked = new URLSearchParams({ of: what.of });
  if (what.stage !== undefined) asked.set("stage", String(what.stage));
  if (what.caption) asked.set("caption", what.caption);
  const picture = await smaller(file);
  try {
    const response = await fetch(`/api/firings/${firing}/photos?${asked}`, {
      method: "POST",
      headers: { "Content-Type": picture.type || "image/jpeg" },
      body: picture,
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
    const answer = await response.json();
    return { ok: answer.ok === true, says: String(answer.says), id: answer.id };
  } catch {
    return { ok: false, says: "The photograph did not get through. Try again." };
  }
}

/**
 * Say what a person saw. @param {number} firing @param {Record<string, unknown>} what
 * @returns {Promise<{ok: boolean, says: string, id?: number}>}
 */
export async function observe(firing, what) {
  try {
    const response = await fetch(`/api/firings/${firing}/observations`, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(what),
      keepalive: true,
      signal: AbortSignal.timeout(8000),
    });
    const answer = await response.json();
    return { ok: answer.ok === true, says: String(answer.says), id: answer.id };
  } catch {
    return { ok: false, says: "That did not get through. Try again." };
  }
}

/**
 * A large button that takes a picture with the phone's camera, or a file on a desk.
 * @param {string} words @param {(file: File | null) => void} taken @returns {{node: any, clear: () => void}}
 */
export function photoButton(words, taken) {
  const input = Object.assign(document.createElement("input"), { type: "file", accept: KINDS });
  input.setAttribute("capture", "environment");
  const label = document.createElement("label");
  const says = document.createElement("span");
  says.textContent = words;
  label.className = "photo-button";
  label.append(input, says);
  input.addEventListener("change", () => {
    const file = input.files?.[0] ?? null;
    if (file) says.textContent = "One photograph taken";
    taken(file);
  });
  return { node: label, clear: () => { input.value = ""; says.textContent = words; } };
}

/** A photograph as small as a list shows it; touched, it is shown whole. @param {number} id @param {string} words */
export function thumbnail(id, words) {
  const picture = Object.assign(document.createElement("img"), { src: `/api/photos/${id}/small.jpg`, alt: words, loading: "lazy" });
  const link = Object.assign(document.createElement("a"), { href: `/api/photos/${id}.jpg`, className: "thumbnail", target: "_blank" });
  link.append(picture);
  return link;
}
