// The closeout matrix: steps and checks by section, each number with the structures that have it and lack it.

import { html } from "../shared/html.js";
import { number, table } from "./parts.js";

/** A cell: how many of the structures have it, and how many lack it, each opening its list. */
function cellOf(row, cell, column, keep) {
  if (!cell.of) return html`<td data-head="${column}">–</td>`;
  const lack = cell.missing_list.length;
  return html`<td data-head="${column}">${number(String(cell.found), `${column}, ${row.words}: recorded`, cell.found_list, keep)} of ${cell.of}
    ${lack > 0 && html`<br>${number(`${lack} lack`, `${column}, ${row.words}: not recorded`, cell.missing_list, keep)}`}</td>`;
}

/** @param {Answer.Closeout} found
 * @param {URLSearchParams} asked */
function closeoutBlock(found, keep, asked) {
  const rows = found.rows.map((row) => html`<tr><th scope="row">${row.words}</th>${row.cells.map((cell, k) => cellOf(row, cell, found.columns[k], keep))}</tr>`);
  const other = found.by === "section" ? "mile" : "section";
  const csv = new URLSearchParams([...asked, ["by", found.by]]);
  return html`<h3 id="closeout-title">Records by ${found.by}</h3><p class="hint">${found.words}</p>
    <p class="downloads"><button type="button" data-by="${other}">By ${other}</button>
      <a href="/api/sheets/closeout.pdf?${asked}" target="_blank" rel="noopener">Sheet, PDF</a> <a href="/api/progress/closeout.csv?${csv}">Table with all names, CSV</a></p>
    ${table(`Records by ${found.by}`, [found.by, ...found.columns], rows)}`;
}

export { closeoutBlock };
