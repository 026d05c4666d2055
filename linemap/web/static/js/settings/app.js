// The page of settings: everything the job declares, gathered by noun, each a form that says who declared what.

import { html, render } from "../shared/html.js";
import { say } from "../shared/page.js";
import { getDeclarations, sendDeclarations } from "../shared/office_api.js";
import { rememberedName, rememberName } from "../shared/person.js";
import { restoreTheme, startTheme } from "../shared/theme.js";

const at = (id) => document.getElementById(id);
const moment = (text) => text.slice(0, 16).replace("T", " ");

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

/**
 * @param {Answer.SettingNoun} noun
 * @param {Answer.Declarations} found
 */
function section(noun, found) {
  const mine = found.settings.filter((setting) => setting.noun === noun.key);
  const name = found.local && html`<label>Your name<input name="who" required maxlength="200" autocomplete="name" value="${rememberedName()}"></label>`;
  const keep = mine.some((setting) => setting.may && !setting.locked) && html`<div class="keep fields"><label>Document it comes from<input name="source" maxlength="200" autocomplete="off" placeholder="specification 7.3"></label>${name}
    <div class="answers"><button type="submit" disabled>Nothing changed</button><button type="reset">Put back</button></div></div>`;
  return html`<section class="file" id="${noun.key}" aria-labelledby="${noun.key}-title"><h3 id="${noun.key}-title" tabindex="-1">${noun.words}</h3>
    <form data-noun="${noun.key}">${mine.map(block)}${keep}</form></section>`;
}

/** @param {HTMLFormElement} form */
const changed = (form) =>
  /** @type {HTMLInputElement[]} */ ([...form.querySelectorAll("[data-was]")]).filter((input) => input.value.trim() !== input.dataset.was);

/** Say on the button what it will do. */
function count(form) {
  const button = form.querySelector("button[type='submit']");
  if (!button) return;
  const inputs = changed(form);
  const label = inputs.length === 1 && form.querySelector(`label[for="${inputs[0].id}"]`)?.firstChild?.textContent?.trim();
  button.disabled = !inputs.length;
  button.textContent = !inputs.length ? "Nothing changed" : label ? `Declare ${label}` : `Declare ${inputs.length} settings`;
}

function wrong(form, place, words) {
  const input = form.elements.namedItem(place);
  if (!input) return false;
  input.setAttribute("aria-invalid", "true");
  form.querySelector(`#${input.id}-wrong`).textContent = words;
  return true;
}

class SettingsPage {
  /** @type {Answer.Declarations | null} */
  found = null;

  draw() {
    if (!this.found) return;
    const { found } = this;
    render(at("nouns"), html`${found.nouns.map((noun) => html`<a href="#${noun.key}">${noun.words}</a>`)}`);
    render(at("settings"), html`${found.nouns.map((noun) => section(noun, found))}`);
    at("settings").setAttribute("aria-busy", "false");
    this.waits();
  }

  /** What verdicts wait for stands on top of the page, as the server put it there. */
  waits() {
    const lines = (this.found?.waits ?? []).map((each) => html`<p>${each.words} <a href="${each.page}">${each.link}</a></p>`);
    let place = document.querySelector(".waits");
    if (!place && lines.length) {
      place = document.createElement("section");
      place.className = "waits";
      at("message").before(place);
    }
    if (place) render(place, html`${lines}`);
    if (place) place.toggleAttribute("hidden", !lines.length);
  }

  /** @param {HTMLFormElement} form */
  async declare(form) {
    const { noun } = form.dataset;
    const inputs = changed(form);
    const named = inputs.map((input) => form.querySelector(`label[for="${input.id}"]`)?.firstChild?.textContent?.trim());
    const who = form.elements.who?.value.trim() ?? this.name;
    for (const input of form.querySelectorAll("[aria-invalid]")) input.removeAttribute("aria-invalid");
    for (const place of form.querySelectorAll(".wrong")) place.textContent = "";
    rememberName(who);
    const changes = inputs.map((input) => {
      const [name, part = ""] = input.name.split(".");
      return { name, part, text: input.value.trim() };
    });
    try {
      this.found = await sendDeclarations({ changes, who, source: form.elements.source.value.trim() });
    } catch (failure) {
      this.refused(form, failure);
      return;
    }
    this.draw();
    say(`Declared: ${named.join(", ")}.`);
    at(`${noun}-title`).focus();
  }

  refused(form, failure) {
    const words = failure.message.split("\n");
    const beside = failure.where.split(";").map((place, i) => wrong(form, place, words[i] ?? ""));
    if (!beside.includes(true)) say(`Nothing was declared: ${failure.message}`);
    else say("Nothing was declared: correct what is marked.");
    form.querySelector("[aria-invalid]")?.focus();
  }

  async start() {
    this.name = document.body.dataset.person ?? "";
    this.found = await getDeclarations();
    this.draw();
    const form = (event) => /** @type {HTMLFormElement} */ (event.target.closest("form[data-noun]"));
    at("settings").addEventListener("input", (event) => form(event) && count(form(event)));
    at("settings").addEventListener("reset", (event) => setTimeout(() => count(event.target)));
    at("settings").addEventListener("submit", (event) => {
      event.preventDefault();
      void this.declare(event.target);
    });
    if (location.hash) document.getElementById(location.hash.slice(1))?.scrollIntoView();
    document.documentElement.dataset.ready = "1";
  }
}

restoreTheme();
startTheme(at("theme"), () => {});
at("print").addEventListener("click", () => window.print());
new SettingsPage().start().catch((failure) => say(failure.message));
