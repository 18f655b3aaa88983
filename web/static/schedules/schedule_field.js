/** One field of a table: its name, what may be typed, what it means while one is in it, and its mistake beside it. */

import { make } from "../shared/page.js";

/** @typedef {{name: string, must: boolean, meaning: string, example: string, choices: string[], yes_or_no: boolean}} Key */
/** @typedef {{node: any, path: (string | number)[], tell: (says: string) => void}} Field */

const LONG = ["says", "title"];
let made = 0;

/**
 * @param {Key} key @param {string | boolean | undefined} value @param {(string | number)[]} path
 * @param {(value: string | boolean) => void} changed an empty text means that the key is not in the file
 * @returns {Field}
 */
export function field(key, value, path, changed) {
  const id = `field-${(made += 1)}`;
  const input = control(key, value);
  input.id = id;
  input.dataset.key = path.join(".");
  const mistake = make("p", "field-mistake");
  const hint = make("p", "field-hint", key.meaning);
  mistake.id = `${id}-mistake`;
  hint.id = `${id}-hint`;
  input.setAttribute("aria-describedby", `${mistake.id} ${hint.id}`);
  const label = make("label", "", key.name.replaceAll("_", " "));
  label.htmlFor = id;
  input.addEventListener("input", () => changed(key.yes_or_no ? input.checked || "" : input.value));
  const node = make("div", `field field-${key.name}${key.yes_or_no ? " field-tick" : ""}`, label, input, mistake, hint);
  return { node, path, tell: (says) => {
    if (mistake.textContent !== says) mistake.textContent = says;
    input.setAttribute("aria-invalid", String(says !== ""));
  } };
}

/** @param {Key} key @param {string | boolean | undefined} value */
function control(key, value) {
  if (key.yes_or_no && typeof value !== "string") {
    const input = make("input", "");
    Object.assign(input, { type: "checkbox", checked: value === true });
    return input;
  }
  if (key.choices.length && (value === undefined || key.choices.includes(String(value)))) {
    const select = make("select", "", ...(key.must ? [] : [option("", "–")]), ...key.choices.map((each) => option(each, each)));
    select.value = String(value ?? (key.must ? key.choices[0] : ""));
    return select;
  }
  const input = make(LONG.includes(key.name) ? "textarea" : "input", "");
  Object.assign(input, { value: String(value ?? ""), placeholder: key.example, autocomplete: "off", spellcheck: key.name === "says" });
  if (input.rows) input.rows = 2;
  return input;
}

/** @param {string} value @param {string} words */
export function option(value, words) {
  const node = make("option", "", words);
  node.value = value;
  return node;
}
