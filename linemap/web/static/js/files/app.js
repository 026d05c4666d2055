// The page of files: how each was understood, and what people say of columns instead.

import { html, render } from "../shared/html.js";
import { at, moment, option, say, startPage } from "../shared/page.js";
import { getFiles, getSession, getState, sendAnswer } from "../shared/office_api.js";
import { startChanges } from "./changes.js";
import { changed, listCard, rowsOfState } from "./lists.js";
import { startLoading } from "./load.js";
import { bytes, columnsTable, problemsTable } from "./parts.js";
import { nameField, rememberName } from "../shared/person.js";

/** @param {Answer.LoadedFile[]} files */
function filterForm(files) {
  const kinds = [...new Set(files.map((file) => file.kind))].sort();
  return html`<label class="choice"><span>Kind</span><select name="kind">${option("", "all")}${kinds.map((kind) => option(kind, kind))}</select></label>
    <label class="choice"><span>Problems</span><select name="problems">${option("", "all")}${option("some", "with problems")}${option("none", "without")}</select></label>
    <span></span><button type="reset">Show all</button><p class="tally" role="status"></p>`;
}

/** @param {Answer.LoadedFile} file */
function answerForm(file) {
  const said = file.answer;
  // what no heading holds (a geometry) is not a person's to name
  const known = new Map(file.mapping.filter(({ named }) => named).map(({ field, named }) => [field, named]));
  for (const [field, heading] of Object.entries(said?.fields ?? {})) known.set(field, heading);
  const stands = said && html`<p>Confirmed by ${said.by}, ${moment(said.at)}, for files of this shape.</p>`;
  const fields = [...known].map(([field, heading]) => html`<label>${field}<input name="field:${field}" value="${heading}" list="headings-${file.id}" autocomplete="off"></label>`);
  return html`<details class="answer-form"><summary>Say what the columns are</summary>${stands}
    <p>The next file with the same headings is read by this. Nothing that is loaded is read again: load the file once more after it.</p>
    <form data-id="${file.id}"><datalist id="headings-${file.id}">${file.headings.map((heading) => html`<option value="${heading}"></option>`)}</datalist>
    <div class="columns">${fields}${nameField("by")}</div>
    <div class="answers"><button type="submit">Keep for files of this shape</button></div></form></details>`;
}

/**
 * @param {Answer.LoadedFile} file
 * @param {Answer.StateOfList[]} states the states it gave its list
 */
function card(file, states) {
  const against = changed(states);
  const kept = `${file.rows_kept.toLocaleString("en")} ${file.rows_kept === 1 ? "row" : "rows"} of the job came from it`;
  const worth = file.problems.length ? `${file.problems.length} worth a look` : "no problem";
  return html`<article class="file" aria-labelledby="file-${file.id}"><header><h3 id="file-${file.id}">${file.name}</h3><a class="download" href="/api/files/${file.id}/content" download>Original<span class="visually-hidden"> of ${file.name}</span></a></header>
    <p><b>${file.kind}</b>, ${bytes(file.size)}, ${kept}, ${worth}. Loaded ${moment(file.loaded_at)}${file.loaded_by && html` by ${file.loaded_by}`}.</p>
    ${against && html`<p>Against the list before: <b>${against}</b>; the lists below name it.</p>`}${file.read_as && html`<p>Read as: ${file.read_as}</p>`}<p class="digest">SHA-256 ${file.sha256}</p>
    <div class="more"><details><summary>Columns</summary>${columnsTable(file.name, file.mapping)}</details>
    <details><summary>Problems (${file.problems.length})</summary>${problemsTable(file.name, file.problems)}</details>${answerForm(file)}</div></article>`;
}

class FilesPage {
  filter = { kind: "", problems: "" };
  /** @type {Answer.LoadedFile[]} */
  files = [];
  /** @type {Map<number | null, Answer.StateOfList[]>} */
  states = new Map();

  draw() {
    const shown = this.files.filter(
      (file) => (!this.filter.kind || file.kind === this.filter.kind) && (!this.filter.problems || (this.filter.problems === "some") === file.problems.length > 0),
    );
    render(at("files"), shown.length ? html`${shown.map((file) => card(file, this.states.get(file.id) ?? []))}` : html`<p class="nothing">${this.files.length ? "No file fits these choices." : "No file is loaded yet; bring some above."}</p>`);
    at("files").setAttribute("aria-busy", "false");
    at("filter").querySelector(".tally").textContent = `${shown.length} of ${this.files.length} files`;
  }

  /** Show the rows of a state below the states of its list, or put them away again. */
  async opened(button) {
    const { kind, state } = button.dataset;
    const place = button.closest(".list").querySelector(".state");
    const open = button.getAttribute("aria-expanded") === "true";
    for (const each of button.closest("tbody").querySelectorAll("button")) each.setAttribute("aria-expanded", "false");
    render(place, html``);
    if (open) return;
    try {
      render(place, rowsOfState(await getState(kind, Number(state))));
      button.setAttribute("aria-expanded", "true");
    } catch (failure) {
      say(`The state cannot be shown: ${failure.message}`);
    }
  }

  async answered(form) {
    const by = form.elements.by.value.trim();
    const file = this.files.find((each) => each.id === Number(form.dataset.id));
    if (!file) return;
    /** @type {Record<string, string | number>} */
    const fields = {};
    for (const input of form.querySelectorAll("input[name^='field:']")) {
      const heading = input.value.trim().replace(/^column (\d+)$/, "$1");
      if (heading) fields[input.name.slice(6)] = /^\d+$/.test(heading) ? Number(heading) : heading;
    }
    rememberName(by);
    try {
      const kept = await sendAnswer(file.id, { by, kind: /** @type {Answer.AnswerRequest["kind"]} */ (file.kind), fields });
      this.files = (await getFiles()).files;
      this.draw();
      say(kept.recorded ? `Kept: the next file of the shape of ${file.name} is read by this.` : "The same answer stands already.");
    } catch (failure) {
      say(`Nothing was kept: ${failure.message}`);
    }
    at("message").scrollIntoView({ block: "nearest" });
  }

  refilter() {
    for (const name of Object.keys(this.filter)) this.filter[name] = at("filter").elements[name].value;
    this.draw();
  }

  /** Whoever is no manager brings files too; what was loaded before, byte for byte, is the manager's to read. */
  async start() {
    const session = await getSession();
    startLoading(at("load"), session);
    await startChanges(session);
    at("loaded").hidden = session.role !== "manager";
    if (!at("loaded").hidden) await this.startLoaded();
  }

  async startLoaded() {
    const found = await getFiles();
    this.files = found.files;
    for (const state of found.lists.flatMap((list) => list.states)) this.states.set(state.file, [...(this.states.get(state.file) ?? []), state]);
    render(at("lists"), found.lists.length ? html`<div class="file">${found.lists.map(listCard)}</div>` : html`<p class="nothing">No list is loaded yet.</p>`);
    at("lists").addEventListener("click", (event) => {
      const button = event.target.closest("button[data-state]");
      if (button) void this.opened(button);
    });
    render(at("filter"), filterForm(this.files));
    this.draw();
    at("filter").addEventListener("input", () => this.refilter());
    at("filter").addEventListener("reset", () => setTimeout(() => this.refilter()));
    at("main").addEventListener("submit", (event) => {
      event.preventDefault();
      if (event.target.dataset.id) void this.answered(event.target);
    });
    window.addEventListener("beforeprint", () => {
      for (const details of document.querySelectorAll("details:not(.answer-form)")) details.open = true;
    });
  }
}

const page = new FilesPage();
void startPage(() => page.start());
