// The parts of the page of progress as markup. `keep` takes a list and gives the key of its button.

import { caseItem } from "../shared/cases.js";
import { html } from "../shared/html.js";
import { writeLink } from "../shared/link.js";

const number = (text, title, places, keep) =>
  places.length ? html`<button type="button" class="number" data-list="${keep(title, places)}" aria-label="${text}: ${title}">${text}</button>` : html`<span class="number">${text}</span>`;

const table = (label, heads, rows) =>
  html`<div class="scroll" tabindex="0" role="group" aria-label="${label}"><table class="figures"><thead><tr>${heads.map((head) => html`<th scope="col">${head}</th>`)}</tr></thead><tbody>${rows}</tbody></table></div>`;

/**
 * Open cases, each with who answers it.
 * @param {Answer.Progress} report
 */
function caseSection(report) {
  const several = report.lines.length > 1;
  const link = (found) =>
    found.unlisted ? html`<b>${several && `${found.line} `}${found.number}</b> ` : html`<a href="/${writeLink(found.number, several ? found.line : "")}">${several && `${found.line} `}${found.number}</a> `;
  return html`<h3 id="cases-title">Open cases: ${report.cases.length}</h3>
    <p class="hint">Recorded against a hold, a ticket, a limit, the order of the work or the list in force. Who answers a case closes it, with evidence.</p>
    <ul class="plain cases">${report.cases.map((found) => html`${caseItem(found, link(found))}${found.unlisted && html`<li class="move-record" data-of="${found.id}"></li>`}`)}</ul>`;
}

/** The days of the report, and the line when there are several. */
function daysForm(report) {
  const lines = report.lines.length > 1 && html`<label>Line <select name="line"><option value="">all lines</option>${report.lines.map((line) => html`<option${line === report.line && html` selected`}>${line}</option>`)}</select></label>`;
  return html`<label>As of the end of <input type="date" name="as_of" value="${report.as_of}"></label>
    <label>As known by the end of <input type="date" name="known_by" value="${report.known_by}" aria-describedby="known-hint"></label>${lines}<button>Show</button>
    <p class="hint" id="known-hint">As known by: leave it empty to count all that is recorded, also what came in late.</p>`;
}

/** What is said on the morning call: done against planned, the forecast, what it hangs on. */
function headBlock(report, keep) {
  const set = report.counts.find((count) => count.step === "set");
  const [headline, ...rest] = report.forecast;
  const known = report.known_by && html`<p class="known">As known by ${report.known_by}: what came in later is not counted.</p>`;
  return html`<div class="figures-row">
      ${set && html`<p><b>${number(String(set.done), `${set.words}, of ${set.of}`, set.done_list, keep)}</b> of ${set.of} structures ${set.words}</p>`}
      <p><b>${report.physical_text}</b> of the work, by weight of types and steps</p>
    </div>${known}
    <p class="words">${report.plan_text}</p>
    <p class="words forecast">${headline}</p>
    <ul class="reasons">${[...rest, ...report.windows, ...report.taken, `weights of steps: ${report.weights_text}`].map((words) => html`<li>${words}</li>`)}</ul>`;
}

function countsTable(report, keep) {
  const begun = report.counts.some((count) => count.begun_list.length > 0);
  const rows = report.counts.map(
    (count) => html`<tr><th scope="row">${count.words}</th>
      <td>${number(String(count.done), `${count.words}: done`, count.done_list, keep)} of ${count.of}</td>
      <td>${number(String(count.of - count.done), `${count.words}: open`, count.open_list, keep)}</td>
      ${begun && html`<td>${count.begun_list.length ? number(String(count.begun_list.length), `${count.words}: some poles only`, count.begun_list, keep) : "–"}</td>`}
      <td>${count.percent_text}</td><td>${count.weighted_text}</td></tr>`,
  );
  const heads = ["Step", "Done", "Open", ...(begun ? ["Some poles only"] : []), "By count", "By weight"];
  return html`<h3 id="counts-title">Counts by step</h3>
    <p class="hint">A unit counts once however often it was recorded. By weight: the type weights of the owner's table.</p>
    ${table("Counts by step", heads, rows)}${claimed(report, keep)}${rework(report)}`;
}

/** Steps recorded without the evidence their rule asks for. */
function claimed(report, keep) {
  const lacking = report.counts.filter((count) => count.claimed_list.length > 0);
  if (!lacking.length) return html``;
  return html`<h4>Claimed, not verified</h4><p class="hint">Recorded and counted above, without all the evidence the job asks for.</p>
    <ul class="reasons">${lacking.map((count) => html`<li>${number(String(count.claimed_list.length), `${count.words}: claimed, not verified`, count.claimed_list, keep)} of ${count.done} ${count.words}; asked for: ${count.evidence_text}${count.noted_list.length > 0 && html`; ${number(String(count.noted_list.length), `${count.words}: in a note alone`, count.noted_list, keep)} have it in a note alone, which proves nothing`}</li>`)}</ul>`;
}

function rework(report) {
  if (!report.rework.length) return html``;
  return html`<p class="hint">Work made again, no second unit: ${report.rework.map((one, k) => html`${k > 0 && "; "}${one.number} ${one.words}`)}.</p>`;
}

function sectionsTable(report, keep) {
  const rows = report.sections.map((section) => {
    const kept = section.blockers.map(({ line, number: structure }) => ({ line, number: structure }));
    return html`<tr><th scope="row">${report.lines.length > 1 && html`${section.line} `}${section.words}</th><td data-head="set">${section.done} of ${section.of}</td>
      <td data-head="not ready">${section.complete ? "every step recorded" : html`${number(String(kept.length), `keep ${section.words}`, kept, keep)} ${blockers(section)}`}</td>
      <td data-head="wire held">${section.wire_holds.length ? section.wire_holds.join(", ") : "–"}</td><td data-head="last set">${section.forecast_text || "–"}</td></tr>`;
  });
  return html`<h3 id="sections-title">Wire sections</h3>
    <p class="hint">A section counts when every structure is set, has its guys and its blocks. Recorded steps only: nothing here permits pulling.</p>
    ${table("Wire sections", ["Section", "Set", "Not ready", "Wire held", "Last structure set, 80 % range"], rows)}`;
}

const FIRST = 4;

function blockers(section) {
  const named = section.blockers.slice(0, FIRST).map(({ number: structure, lacks, holds }, k) => html`${k > 0 && "; "}<b>${structure}</b> ${lacks.join(", ")}${holds.length > 0 && ` (${holds.join(", ")})`}`);
  return html`<span class="lacks">lack: ${named}${section.blockers.length > FIRST && ` and ${section.blockers.length - FIRST} more`}</span>`;
}

function milesTable(report, keep) {
  const rows = report.miles.map(
    (row) => html`<tr><th scope="row">${report.lines.length > 1 && html`${row.line} `}${row.mile}</th>
      <td>${number(String(row.done), `${report.mile_word} ${row.mile}: set`, row.done_list, keep)} of ${row.of}</td>
      <td>${row.open_list.length ? number(String(row.open_list.length), `${report.mile_word} ${row.mile}: not set`, row.open_list, keep) : "0"}</td>
      <td>${row.holes.length ? row.holes.join(", ") : "–"}</td><td>${row.spans_text}</td></tr>`,
  );
  return table(`By ${report.mile_word}`, [`Line ${report.mile_word}`, "Set", "Not set", "Passed by", "Spans with both structures set"], rows);
}

function curveTable(report) {
  const rows = report.curve.points.map(
    ({ week, planned, actual }) => html`<tr><th scope="row">${week}</th><td>${planned ?? "–"}</td><td>${actual ?? "–"}</td></tr>`,
  );
  const others = report.curve.others.length > 0 && html`<p class="hint">Other baselines, unchanged: ${report.curve.others.join("; ")}</p>`;
  return html`${table("Planned and actual by week", ["Week of", "Planned", "Actual"], rows)}<p class="hint">${report.curve.baseline}</p>${others}`;
}

/** A chart for wide and narrow pages, with its table folded under it. */
function chartBlock({ chart, id }, title, twin) {
  const drawn = chart.why ? html`<p class="why">${chart.why}</p>` : html`<div class="wide" id="${id}-wide"></div><div class="narrow" id="${id}-narrow"></div>`;
  return html`<h3 id="${title}">${chart.title}</h3>${drawn}${twin && html`<details><summary>As a table</summary>${twin}</details>`}`;
}

function crewsTable(report, keep) {
  if (!report.crews.length) return html`<h3 id="crews-title">By crew</h3><p class="why">not available: nothing is recorded as done</p>`;
  const rows = report.crews.map(
    ({ crew, steps }) => html`<tr><th scope="row">${crew}</th><td class="wrap">${steps.map((step) => html`<span class="pair">${number(String(step.count), `${crew}: ${step.words}`, step.list, keep)} ${step.words}</span> `)}</td></tr>`,
  );
  return html`<h3 id="crews-title">By crew</h3>${table("By crew", ["Crew", "Units, each counted once"], rows)}`;
}

/** What crews found at frames themselves; nothing of it is a verdict of the survey. */
function crewChecksTable(report, keep) {
  const { newest, precision } = report.crew_checks;
  if (!newest.length) return html``;
  const found = newest.map(({ words, list }, k) => html`${k > 0 && ", "}${number(String(list.length), words, list, keep)} ${words}`);
  const rows = precision.map(
    (one) => html`<tr><th scope="row">${one.crew}${one.person && html` <small>${one.person}</small>`}, by ${one.method}</th>
      <td class="wrap" data-head="compared">${one.few_text}</td><td class="wrap" data-head="turned">${one.rotation_text}</td><td class="wrap" data-head="along">${one.along_text}</td>
      <td class="wrap" data-head="across">${one.across_text}</td><td class="wrap" data-head="spacing">${one.spacing_text}</td><td data-head="a pole">${one.poles_text}</td></tr>`,
  );
  return html`<h3 id="checks-title">Crew checks, no survey</h3><p class="words">Newest of each structure: ${found}.</p>
    ${rows.length ? table("How crews measure, by the survey that came after", ["Crew", "Compared", "Turned", "Along", "Across", "Spacing", "A pole"], rows) : html`<p class="hint">Nothing to compare yet: no checked frame was surveyed since.</p>`}
    <p class="hint">Differences of the last check that did not fail from the shots of that day or later; errors of the survey are in them. Expected: by the sigmas the checks had for themselves.</p>`;
}

/** The report of a day or a period. */
function periodBlock(found, keep) {
  const days = found.first === found.last ? found.first : `${found.first} to ${found.last}`;
  const rows = found.quantities.map(
    (one) => html`<tr><th scope="row">${one.crew}</th><td>${number(String(one.count), `${one.crew}: ${one.words}, ${days}`, one.list, keep)} ${one.words}</td><td class="wrap">${one.list.map((place) => place.number).join(", ")}</td><td>${one.to_date}</td></tr>`,
  );
  const sentences = [...found.rework, ...found.repeats, ...found.notes.map((note) => `${note.number} ${note.words}`)];
  return html`<h4>${days}${found.known_by && ` as known by ${found.known_by}`}</h4>
    ${rows.length ? table(`Quantities ${days}`, ["Crew", "Done", "Structures", "To date"], rows) : html`<p class="why">nothing is recorded as done</p>`}
    ${sentences.length > 0 && html`<ul class="reasons">${sentences.map((words) => html`<li>${words}</li>`)}</ul>`}
    ${found.came_late > 0 && html`<p>${found.came_late} records of these days came in after them.</p>`}<p class="hint">${found.not_recorded}</p>`;
}

/** The sheets to print of the days shown. */
function sheetLinks(report) {
  const asked = new URLSearchParams({ as_of: report.as_of });
  for (const name of ["known_by", "line"]) if (report[name]) asked.set(name, report[name]);
  const link = (sheet, paper, words) => html`<a href="/api/sheets/${sheet}.pdf?${asked}&paper=${paper}" target="_blank" rel="noopener">${words}</a> `;
  return html`<span class="hint">Sheets to print, PDF:</span> ${link("report", "letter", "Progress report, letter")}${link("report", "a4", "Progress report, A4")}${link("wall", "letter", "Progress strip, letter")}${link("wall", "a4", "Progress strip, A4")}`;
}

export { number, table, caseSection, daysForm, headBlock, countsTable, sectionsTable, milesTable, curveTable, chartBlock, crewsTable, crewChecksTable, periodBlock, sheetLinks };
