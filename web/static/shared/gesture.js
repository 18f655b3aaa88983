/**
 * One deliberate gesture: press and hold for a second, by finger, mouse, Enter or Space. A bar fills
 * meanwhile; letting go empties it. A mere tap, or a screen reader's own click, asks in words instead.
 */

export const HOLD_MS = 1000;

/** @param {HTMLElement} button @param {{done: () => void, tapped: () => void}} on */
export function pressAndHold(button, on) {
  let timer = 0;
  let spent = false; // a press was carried out, and the click that ends it is still to come

  /** @param {boolean} byPointer */
  const begin = (byPointer) => {
    if (timer) return;
    spent = false;
    button.classList.add("pressing");
    timer = window.setTimeout(() => {
      end();
      spent = byPointer;
      on.done();
    }, HOLD_MS);
  };
  const end = () => {
    window.clearTimeout(timer);
    timer = 0;
    button.classList.remove("pressing");
  };
  /** @param {KeyboardEvent} event */
  const isPress = (event) => event.key === "Enter" || event.key === " ";

  button.addEventListener("pointerdown", (event) => { if (event.button === 0) begin(true); });
  for (const kind of ["pointerup", "pointercancel", "pointerleave", "blur"]) button.addEventListener(kind, end);
  button.addEventListener("keydown", (event) => {
    if (!isPress(event)) return;
    event.preventDefault();
    if (!event.repeat) begin(false);
  });
  button.addEventListener("keyup", (event) => {
    if (!isPress(event)) return;
    event.preventDefault();
    const tooShort = timer !== 0;
    end();
    if (tooShort) on.tapped();
  });
  button.addEventListener("click", () => {
    if (!spent) on.tapped();
    spent = false;
  });
  button.addEventListener("contextmenu", (event) => event.preventDefault());
}
