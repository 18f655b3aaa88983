/** The drawing library, fetched once and only when something is to be drawn. */

const LIBRARY = "/static/vendor/uPlot.iife.min.js";
const LIBRARY_STYLE = "/static/vendor/uPlot.min.css";

/** @type {Promise<boolean> | null} */
let loading = null;

/** Fetch the drawing library once, after the first number is on the screen. @returns {Promise<boolean>} */
export function library() {
  loading ??= new Promise((resolve) => {
    const style = Object.assign(document.createElement("link"), { rel: "stylesheet", href: LIBRARY_STYLE });
    const script = Object.assign(document.createElement("script"), { src: LIBRARY });
    script.addEventListener("load", () => resolve(true));
    script.addEventListener("error", () => resolve(false));
    document.head.append(style, script);
  });
  return loading;
}
