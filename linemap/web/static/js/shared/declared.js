// The fields of settings: what each means, how it is written, who declared it, and beside it what cannot be read.

import { html } from "./html.js";
import { moment, say } from "./page.js";


/** @param {Answer.DeclaredPart} part */
function declaredBy(part) {
  if (!part.declared) return part.written ? html`<i>taken, not declared</i>${part.source && html`: ${part.source}`}` : html`<i>not declared</i>`;
  const who = part.who && html`${part.who}, ${moment(part.at)}`;
  const from = part.source && html`from ${part.source}`;
  return html`declared${who && html` by ${who}`}${from && html`, ${from}`}`;
}

/**
 * The field of one value, with what is said of it beside.
 * @param {Answer.DeclaredSetting} setting
 * @param {Answer.DeclaredPart} part
 */
function field(setting, part) {
  const place = part.part ? `${setting.name}.${part.part}` : setting.name;
  const id = `set-${place.replace(/[^a-z0-9_]/g, "-")}`;
  const given = html`id="${id}" name="${place}" data-was="${part.written}" aria-describedby="${id}-by ${id}-wrong" ${(!setting.may || setting.locked) && html`disabled`}`;
  const option = (value) => html`<option value="${value}" ${value === part.written && html`selected`}>${value || "not declared"}</option>`;
  const control = setting.choices.length
    ? html`<select ${given}>${["", ...setting.choices].map(option)}</select>`
    : html`<input ${given} value="${part.written}" placeholder="${part.part ? "" : setting.example}" maxlength="2000" autocomplete="off" spellcheck="false">`;
  return html`<div class="declared"><label for="${id}">${part.label}${setting.unit && html` <small>${setting.unit}</small>`}</label>
    ${control}<p class="by" id="${id}-by">${declaredBy(part)}</p><p class="wrong" id="${id}-wrong" role="alert"></p></div>`;
}

/** @param {Answer.DeclaredSetting} setting */
function block(setting) {
  const roles = `declared by the ${setting.roles.join(" or ")}`;
  const late = setting.locked && html` <b>${setting.label} ${setting.locked}.</b>`;
  const means = html`<p class="means">${setting.means}${setting.shows && html`. <span class="where">Shown on: ${setting.shows}.</span>`}
    ${setting.parts.length > 1 && html`<span class="where">Written like ${setting.example.replace(/^[^=]*=/, "").replace(/:.*/, "")}.</span>`}${!setting.may && html` <b>${roles}</b>`}${late}</p>`;
  const fields = setting.parts.map((part) => field(setting, part));
  if (setting.parts.length === 1) return html`<div class="setting">${fields}${means}</div>`;
  return html`<fieldset class="setting"><legend>${setting.label}</legend>${means}<div class="parts">${fields}</div></fieldset>`;
}

function wrong(form, place, words) {
  const input = form.elements.namedItem(place);
  if (!input) return false;
  input.setAttribute("aria-invalid", "true");
  form.querySelector(`#${input.id}-wrong`).textContent = words;
  return true;
}

/** Take back what was said of the fields of a form. */
function unmark(form) {
  for (const input of form.querySelectorAll("[aria-invalid]")) input.removeAttribute("aria-invalid");
  for (const place of form.querySelectorAll(".wrong")) place.textContent = "";
}

/** Say beside each field what the server could not read, and in the message what it says of no field. */
function sayRefused(nothing, form, failure) {
  const words = failure.message.split("\n");
  const beside = failure.where.split(";").map((place, i) => wrong(form, place, words[i] ?? ""));
  form.querySelector("[aria-invalid]")?.focus();
  say(`${nothing}: ${beside.includes(true) ? "correct what is marked." : failure.message}`);
}

export { block, sayRefused, unmark };
