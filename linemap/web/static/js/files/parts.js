// What the pages of files and of review say of a file in the same way: size, columns, problems.

import { html } from "../shared/html.js";

const FIRST_PROBLEMS = 50;
const MEGA = 1024 * 1024;

const oneDigit = (number) => number.toLocaleString("en", { maximumFractionDigits: 1 });

/** A size as people read it. */
function bytes(size) {
  if (size < 10_000) return `${size.toLocaleString("en")} bytes`;
  return size < MEGA ? `${Math.round(size / 1024).toLocaleString("en")} KiB` : `${oneDigit(size / MEGA)} MiB`;
}

const count = (number, words, more = `${words}s`) => `${number.toLocaleString("en")} ${number === 1 ? words : more}`;

/**
 * @param {string} name
 * @param {Answer.FileColumn[]} columns
 */
function columnsTable(name, columns) {
  if (!columns.length) return html`<p class="none">no columns</p>`;
  return html`<div class="scroll" tabindex="0" role="group" aria-label="Columns of ${name}"><table><thead><tr><th scope="col">taken for</th><th scope="col">heading in the file</th></tr></thead>
    <tbody>${columns.map(({ field, heading }) => html`<tr><th scope="row">${field}</th><td>${heading}</td></tr>`)}</tbody></table></div>`;
}

/** @param {Answer.FileProblem} problem */
const asked = ({ asks, standing }) => (!standing ? html`. <i>Another file took its place.</i>` : asks !== "nobody" && html`. <i>Asked: ${asks}</i>`);

/**
 * @param {string} name
 * @param {Answer.FileProblem[]} problems
 */
function problemsTable(name, problems) {
  if (!problems.length) return html`<p>No problem was found.</p>`;
  const rows = problems.slice(0, FIRST_PROBLEMS).map(
    (each) => html`<tr><td data-severity="${each.severity}">${each.severity}</td><td>${each.row ?? "whole file"}</td><td>${each.column}</td><td>${each.value}</td><td>${each.reason}${each.remedy && html`; ${each.remedy}`}${each.structure && html` (structure ${each.structure})`}${asked(each)}</td></tr>`,
  );
  const more = problems.length - FIRST_PROBLEMS;
  return html`<div class="scroll" tabindex="0" role="group" aria-label="Problems of ${name}"><table><thead><tr><th scope="col">what was done</th><th scope="col">row</th><th scope="col">column</th><th scope="col">value</th><th scope="col">reason and remedy</th></tr></thead><tbody>${rows}</tbody></table></div>${more > 0 && html`<p>and ${more} more</p>`}`;
}

export { bytes, count, columnsTable, problemsTable };
