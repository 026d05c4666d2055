// The page of settings: everything the job declares, gathered by noun, each a form that says who declared what.

import { html, render } from "../shared/html.js";
import { block, sayRefused, unmark } from "../shared/declared.js";
import { at, say, soon, startPage } from "../shared/page.js";
import { getDeclarations, getSession, previewNaming, sendDeclarations } from "../shared/office_api.js";
import { nameField, rememberName } from "../shared/person.js";

/** Settings of which the page shows what they come to before they are declared. */
const NAMING = ["numbering", "pole_words"];

/**
 * @param {Answer.SettingNoun} noun
 * @param {Answer.Declarations} found
 */
function section(noun, found) {
  const mine = found.settings.filter((setting) => setting.noun === noun.key);
  const name = found.local && nameField();
  const keep = mine.some((setting) => setting.may && !setting.locked) && html`<div class="keep fields"><label>Document it comes from<input name="source" maxlength="200" autocomplete="off" placeholder="specification 7.3"></label>${name}
    <label>True from, empty = from now<input name="true_from" type="date"></label><div class="answers"><button type="submit" disabled>Nothing changed</button><button type="reset">Put back</button></div></div>`;
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

/** @param {Answer.NamingAnswer} found */
function namingTable(found) {
  const rows = found.numbers.map((each) => html`<tr><th scope="row">${each.number}</th><td>${each.read || "not built as this numbering says"}</td><td>${each.place}</td><td>${each.poles.map((word) => `${each.number} ${word}`).join(", ")}</td></tr>`);
  const more = found.count - found.numbers.length;
  return html`<div class="scroll" tabindex="0" role="group" aria-label="How numbers would be read"><table><thead><tr><th scope="col">number</th><th scope="col">read as</th><th scope="col">place</th><th scope="col">poles</th></tr></thead><tbody>${rows}</tbody></table></div>
    ${more > 0 && html`<p>and ${more} more</p>`}${found.unclear.length > 0 && html`<ul>${found.unclear.map((words) => html`<li>to look at: ${words}</li>`)}</ul>`}`;
}

class SettingsPage {
  /** @type {Answer.Declarations | null} */
  found = null;
  name = "";

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

  /** Show how the job's own numbers and poles would be read by what is being written. */
  async preview() {
    const inputs = NAMING.map((name) => /** @type {HTMLInputElement} */ (document.querySelector(`#set-${name}`)));
    let place = document.querySelector("#preview");
    if (!place) {
      place = document.createElement("div");
      place.id = "preview";
      place.setAttribute("role", "status");
      inputs[1].closest(".setting")?.after(place);
    }
    const query = new URLSearchParams(NAMING.map((name, i) => [name, inputs[i].value.trim()]));
    const found = await previewNaming(query).then(namingTable, (failure) => html`<p>${failure.message}</p>`);
    render(place, found);
  }

  /** @param {any} form */
  async declare(form) {
    const { noun } = form.dataset;
    const inputs = changed(form);
    const named = inputs.map((input) => form.querySelector(`label[for="${input.id}"]`)?.firstChild?.textContent?.trim());
    const who = form.elements.who?.value.trim() ?? this.name;
    unmark(form);
    rememberName(who);
    const changes = inputs.map((input) => {
      const [name, part = ""] = input.name.split(".");
      return { name, part, text: input.value.trim() };
    });
    try {
      this.found = await sendDeclarations({ changes, who, source: form.elements.source.value.trim(), true_from: form.elements.true_from.value || null });
    } catch (failure) {
      sayRefused("Nothing was declared", form, failure);
      return;
    }
    this.draw();
    say(`Declared: ${named.join(", ")}.`);
    at(`${noun}-title`).focus();
  }

  async start() {
    [this.found, { name: this.name }] = await Promise.all([getDeclarations(), getSession()]);
    this.draw();
    const preview = soon(() => this.preview());
    const form = (event) => /** @type {HTMLFormElement} */ (event.target.closest("form[data-noun]"));
    at("settings").addEventListener("input", (event) => {
      if (form(event)) count(form(event));
      if (NAMING.includes(event.target.name)) preview();
    });
    at("settings").addEventListener("reset", (event) => setTimeout(() => count(event.target)));
    at("settings").addEventListener("submit", (event) => {
      event.preventDefault();
      void this.declare(event.target);
    });
    if (location.hash) document.getElementById(location.hash.slice(1))?.scrollIntoView();
  }
}

const page = new SettingsPage();
void startPage(() => page.start());
