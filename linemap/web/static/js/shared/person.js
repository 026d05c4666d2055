// Who decides on this device: remembered, so that a name is typed once.

import { html } from "./html.js";

const KEY = "linemap-who";

/** The name last given on this device, "" when none was. */
function rememberedName() {
  try {
    return localStorage.getItem(KEY) ?? "";
  } catch {
    return ""; // storage may be closed in private windows
  }
}

/** Keep a name for the next decision. */
function rememberName(name) {
  try {
    localStorage.setItem(KEY, name);
  } catch {
    // the name then lasts as long as the page
  }
}

/**
 * The name to sign with: one's own, or, where nobody signs in, the one last given.
 * @param {Answer.Session} session
 */
const signing = ({ local, name }) => (local ? rememberedName() : name);

/** The field of a name to sign with. */
const nameField = (name = "who", value = rememberedName()) =>
  html`<label>Your name<input name="${name}" required maxlength="200" autocomplete="name" value="${value}"></label>`;

/**
 * Who signs: whoever is signed in, else a name that is asked for.
 * @param {Answer.Session} session
 */
const signature = ({ local, name }, remembered = rememberedName()) =>
  local ? nameField("who", remembered) : html`<p>Signed as <b>${name}</b><input type="hidden" name="who" value="${name}"></p>`;

export { nameField, signature, rememberedName, rememberName, signing };
