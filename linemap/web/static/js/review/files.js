// The files of a proposal: how each was understood, what is wrong, and what may be said of them instead.

import { html } from "../shared/html.js";
import { bytes, columnsTable, count, problemsTable } from "../files/parts.js";

const FIRST_REFUSALS = 20;
const KINDS = ["structures", "centreline", "poles", "guys", "shots", "records", "holds", "crossings", "tickets", "receipts", "punch", "facts", "equations", "context", "tolerances", "types", "framing", "plan", "control"];

/** What to do about a problem; an option of the command line is a choice further down on this page. */
const remedyHere = (remedy) => (/--\w/.test(remedy) ? "say below what it is, and how it is read" : remedy);

/** @param {Answer.FileProblem} problem */
function refusal({ row, column, value, reason, remedy, structure }) {
  const where = [row === null ? "" : `row ${row}`, column, structure && `structure ${structure}`].filter(Boolean).join(", ");
  return html`<li>${where && html`<b>${where}</b>`}${value && html` <q>${value}</q>`}${(where || value) && ": "}${reason}${remedy && html`; <b>${remedyHere(remedy)}</b>`}</li>`;
}

/** @param {Answer.ReadFile} file */
function refusals(file) {
  const all = file.problems.filter(({ severity }) => severity === "refused");
  if (!all.length) return html``;
  const more = all.length - FIRST_REFUSALS;
  return html`<div class="refusal"><p><b>${file.name} cannot be loaded as it is.</b> Nothing of it is stored.</p><ul class="plain">${all.slice(0, FIRST_REFUSALS).map(refusal)}${more > 0 && html`<li>and ${more} more</li>`}</ul></div>`;
}

/** Buttons that say what a file is, where that cannot be told. */
function asksKind(file) {
  if (!file.may_be.length) return html``;
  return html`<fieldset class="asks-kind"><legend>What is ${file.name}?</legend>${file.may_be.map((kind) => html`<button type="button" data-act="kind" data-file="${file.name}" data-kind="${kind}">${kind}</button>`)}</fieldset>`;
}

/**
 * @param {Answer.ReadFile} file
 * @param {number} k
 */
function unread(file, k) {
  if (!file.unread.length) return html``;
  const rows = file.unread.map(
    ({ heading, near, words }) => html`<li>${words}${near.map((field) => html` <button type="button" data-act="column" data-file="${k}" data-field="${field}" data-heading="${heading}">Read it as ${field}</button>`)}</li>`,
  );
  return html`<div class="unread"><p><b>Columns that are not read:</b></p><ul class="plain">${rows}</ul></div>`;
}

/**
 * Names a column whose heading says nothing to linemap, or the wrong thing.
 * @param {Answer.ReadFile} file
 * @param {number} k
 */
function namesForm(file, k) {
  if (!file.fields.length) return html``;
  const headings = [...file.unread.map(({ heading }) => heading), ...file.columns.map(({ named }) => named)].filter(Boolean);
  const refused = file.problems.some(({ severity }) => severity === "refused");
  return html`<details class="answer-form" data-keep="names-${k}"${refused && html` open`}><summary>Say what a column is</summary><form class="names" data-file="${k}">
    <datalist id="headings-${k}">${headings.map((heading) => html`<option value="${heading}"></option>`)}</datalist>
    <div class="columns"><label>Column: its heading, or its number<input name="heading" required maxlength="200" autocomplete="off" list="headings-${k}"></label>
    <label>is read as<select name="field">${file.fields.map((field) => html`<option value="${field}">${field}</option>`)}</select></label></div>
    <p data-named></p><div class="answers"><button type="submit">Read it so</button></div></form></details>`;
}

/**
 * @param {Answer.ReadFile} file
 * @param {number} k its place among the files
 */
function fileCard(file, k) {
  const ofFile = file.problems.filter(({ severity, row }) => severity === "noted" && row === null);
  const out = file.problems.filter((each) => each.severity !== "refused" && !ofFile.includes(each));
  const left = out.filter(({ severity }) => severity === "left out").length;
  const kind = file.kind ? html`<b>${file.kind}</b>` : html`<b>not recognised</b>`;
  const size = file.size > 0 && `, ${bytes(file.size)}`;
  const used = file.rows_in > 0 && `, ${file.rows_used.toLocaleString("en")} of ${count(file.rows_in, "row")} used`;
  return html`<article class="file" aria-labelledby="read-${k}"><header><h3 id="read-${k}">${file.name}</h3></header>
    <p>${kind}${size}${used}${left > 0 && html`, <b>${left} left out</b>`}.</p>${file.does && html`<p class="words">${file.does}.</p>`}
    ${refusals(file)}${asksKind(file)}${ofFile.length > 0 && html`<ul class="evidence">${ofFile.slice(0, FIRST_REFUSALS).map(refusal)}</ul>`}
    ${file.read_as && html`<p>Read as: ${file.read_as}</p>`}${file.evidence.length > 0 && html`<ul class="evidence">${file.evidence.map((each) => html`<li>${each}</li>`)}</ul>`}
    ${unread(file, k)}
    <div class="more">${file.columns.length > 0 && html`<details data-keep="columns-${k}"><summary>Columns (${file.columns.length})</summary>${columnsTable(file.name, file.columns)}</details>`}
    ${out.length > 0 && html`<details data-keep="problems-${k}"><summary>Rows left out and noted (${out.length})</summary>${problemsTable(file.name, out)}</details>`}${namesForm(file, k)}</div></article>`;
}

/** Choices of one word: a list to choose from, the standing one chosen. */
function choice(name, label, options, standing) {
  return html`<label>${label}<select name="${name}">${options.map(([value, words]) => html`<option value="${value}"${value === standing && html` selected`}>${words}</option>`)}</select></label>`;
}

/**
 * What can be said of the files of a load instead of what they seem to say; open where nothing else on the page asks.
 * @param {Answer.Choices} choices
 * @param {Answer.ReadFile[]} files
 */
function choicesForm(choices, files) {
  const asked = files.some(({ may_be, fields, problems }) => !may_be.length && !fields.length && problems.some(({ remedy }) => /--as/.test(remedy)));
  const text = (name, label, more) => html`<label>${label}<input name="${name}" value="${choices[name]}" autocomplete="off" ${more}></label>`;
  return html`<details class="answer-form" data-keep="choices"${asked && html` open`}><summary>Read them in another way</summary><form id="choices"><div class="columns">
    ${choice("kind", "What the files are", [["", "as their headings tell"], ...KINDS.map((kind) => [kind, kind])], choices.kind)}
    ${text("label", "Revision label, like B", html`maxlength="40"`)}
    ${choice("date_order", "Dates are written", [["", "as the file tells"], ["mdy", "month before day"], ["dmy", "day before month"]], choices.date_order)}
    ${choice("shot_order", "Shots without headings", [["", "as said before, else P N E Z D"], ["pnezd", "P N E Z D"], ["penzd", "P E N Z D"]], choices.shot_order)}
    ${text("crs_of_file", "Coordinate reference: empty = as the files declare, job = the job\u2019s", html`maxlength="4000"`)}
    <label>True from, empty = from now<input type="date" name="true_from" value="${choices.true_from}"></label></div>
    <div class="answers"><button type="submit">Read again</button></div></form></details>`;
}

export { asksKind, fileCard, choicesForm, refusal };
