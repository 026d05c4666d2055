// Markup of the surveyor's page: the declared datum, a cause with its structures, decisions, the history.

import { count } from "../files/parts.js";
import { html } from "../shared/html.js";
import { moment, option } from "../shared/page.js";
import { reversedIcon, verdictIcon } from "../shared/icons.js";
import { outerPoles } from "../shared/number.js";
import { nameField } from "../shared/person.js";
import { mapLink, sourceWords } from "./groups.js";

/** Structures of one cause shown at once; the others open by a button. */
const FIRST_ROWS = 24;
const RESIDUALS = ["rotation", "along", "across", "spacing"];
const ANSWERS = { accepted: "Accepted", rejected: "Rejected", "needs evidence": "Needs evidence", withdrawn: "Withdrawn" };


/**
 * The declared datum, with what is missing first.
 * @param {Answer.DeclaredDatum} declared
 */
function declaredBox(declared) {
  const row = (name, text) => html`<div><dt>${name}</dt><dd>${text || html`<b class="lacking">not declared</b>`}</dd></div>`;
  const title = html`<h3 id="declared-title">Declared datum</h3>`;
  const rules = html`<details><summary>Tolerances and evidence rules, with their sources</summary><ul>${declared.rules.map((words) => html`<li>${words}</li>`)}</ul></details>`;
  if (!declared.missing.length) return html`${title}<p>Everything that verdicts need is declared: ${declared.words}.</p>${rules}`;
  return html`${title}<p class="lacking-words"><b>Not declared: ${declared.missing.join(", ")}.</b> Every verdict is withheld until it is declared (linemap declare).</p>
    <dl class="datum">${row("reference", declared.crs)}${row("unit", declared.unit)}${row("combined factor", declared.combined_factor)}
      ${row("base point", declared.base_point)}${row("vertical datum", declared.vertical_datum)}${row("from", declared.source)}</dl>${rules}`;
}

/**
 * The choices above the list.
 * @param {Answer.Survey} survey
 */
function filterForm(survey) {
  const codes = [...new Set(survey.causes.map((cause) => cause.code))].sort();
  const verdicts = Object.keys(survey.verdicts);
  return html`<label class="choice"><span>Verdict</span><select name="verdict">${option("", "all")}${verdicts.map((word) => option(word, word))}${option("reversed", `${outerPoles(survey.pole_words)} reversed`)}</select></label>
    <label class="choice"><span>Cause</span><select name="code">${option("", "all")}${codes.map((code) => option(code, code))}</select></label>
    <label class="choice"><span>Decision</span><select name="state">${["", "open", "needs evidence", "accepted", "rejected"].map((state) => option(state, state || "all"))}</select></label>
    <button type="reset">Show all</button><p class="tally" role="status"></p>`;
}

/** @param {Answer.SurveyException} row */
function verdictWords(row) {
  return html`<span class="row-verdict">${verdictIcon(row.verdict)}<span>${row.verdict}</span>${row.reversed && html`<b class="turned">${reversedIcon()} ${outerPoles(row.pole_words)} reversed</b>`}</span>`;
}

/** @param {Answer.SurveyException} row */
function residuals(row) {
  const known = RESIDUALS.filter((name) => row[name]);
  if (!known.length) return html`<p class="none">no numbers: ${row.verdict === "not surveyed" ? "no shot names this structure" : "its shots are not used"}</p>`;
  return html`<dl class="residuals">${known.map((name) => html`<div><dt>${name}</dt><dd>${row[name]}</dd></div>`)}</dl>`;
}

/** @param {Answer.SurveyShot[]} shots */
function source(shots) {
  if (!shots.length) return html`<p class="source">no shots</p>`;
  const notes = [...new Set(shots.map((shot) => shot.note).filter(Boolean))];
  return html`<p class="source">from ${sourceWords(shots).join("; ")}</p>${notes.map((note) => html`<p class="source">${note}</p>`)}${correctedShots(shots)}`;
}

/** Shots that a correction moved: as observed, what was added, as they count. */
function correctedShots(shots) {
  const moved = shots.filter((shot) => shot.correction);
  if (!moved.length) return html``;
  const rows = moved.map((shot) => [`${shot.pole} ${shot.point}`, `${shot.observed_east} E ${shot.observed_north} N`, shot.correction, `${shot.east} E ${shot.north} N`]);
  return html`<details><summary>Observed, correction, corrected</summary>${grid("Observed, correction, corrected", ["shot", "observed", "correction", "corrected"], rows)}</details>`;
}

/** A table in a region that scrolls by keyboard where it is wider than the page. */
function grid(name, heads, rows) {
  return html`<div class="scroll" tabindex="0" role="region" aria-label="${name}"><table><thead><tr>${heads.map((head) => html`<th scope="col">${head}</th>`)}</tr></thead>
    <tbody>${rows.map((row) => html`<tr>${row.map((cell, at) => (at ? html`<td>${cell}</td>` : html`<th scope="row">${cell}</th>`))}</tr>`)}</tbody></table></div>`;
}

/** A number beside its unit, whatever the width. */
const unbroken = (text) => text.replaceAll(" ", "\u00a0");

/**
 * Shots on control points, by file and day.
 * @param {Answer.SurveyCheckIn[]} found
 */
function checkInList(found) {
  const heads = ["control point", "shot", "observed E", "observed N", "corrected E", "corrected N", "up", "± 1 σ", "found by"];
  const row = (each) => [each.control, `${each.point} ${each.file}, ${each.row}`, ...[each.observed_east, each.observed_north, each.east, each.north, each.up || "no height", each.sigma].map(unbroken), html`${each.how}${each.off && html` <b class="lacking">off</b>`}`];
  return html`<h3 id="check-ins-title">Check-ins on control points</h3>
    <p>Measured minus known, on the ground. The shots of one file and day are held by control where their check-ins fit; all others stand against their own base.</p>
    ${[...new Set(found.map((each) => each.session))].map((session) => html`<h4>${session}</h4>${grid(`Check-ins of ${session}`, heads, found.filter((each) => each.session === session).map(row))}`)}`;
}

/**
 * @param {Answer.SurveyException} row
 * @param {{ severalLines: boolean }} options
 */
function exception(row, { severalLines }) {
  const findings = row.findings.length > 0 && html`<ul class="findings">${row.findings.map((words) => html`<li>${words}</li>`)}</ul>`;
  return html`<li class="row"><figure class="sketch" data-line="${row.line}" data-number="${row.structure}" aria-hidden="true"></figure>
    <div class="row-text"><h4><a href="${mapLink(row, severalLines)}">${row.structure}<span class="visually-hidden"> on the map</span></a> <span class="station">${row.station}</span>${severalLines && html` <span class="station">${row.line}</span>`}</h4>
    ${verdictWords(row)}${row.held && html`<p class="source">held ${row.held}</p>`}${residuals(row)}${findings}${source(row.shots)}</div></li>`;
}

function rowList(rows, id, options) {
  const hidden = rows.length - FIRST_ROWS;
  return html`<ul class="rows">${rows.slice(0, options.all ? rows.length : FIRST_ROWS).map((row) => exception(row, options))}</ul>
    ${hidden > 0 && !options.all && html`<button type="button" data-act="all" data-id="${id}">Show the other ${hidden}</button>`}`;
}

/** @param {Answer.StandingDecision | null} decision */
function stands(decision) {
  if (!decision) return html`<p class="stands" data-answer="open">Open: nobody has decided.</p>`;
  return html`<p class="stands" data-answer="${decision.answer}"><b>${ANSWERS[decision.answer]}</b> by ${decision.who}, <time datetime="${decision.at}">${moment(decision.at)}</time>${decision.note && html`: ${decision.note}`}</p>`;
}

/** @param {Answer.SurveyCause} cause */
function effect(cause) {
  if (cause.correctable) return html`Accepting corrects the shots it names: <b>${cause.would_change}</b>. The shots as observed stay.`;
  return html`Accepting records the explanation and changes no verdict.`;
}

/**
 * @param {Answer.SurveyCause} cause
 * @param {number} id
 * @param {{ note: string, who: string }} draft
 */
function decideForm(cause, id, draft) {
  const button = (answer, words) => html`<button type="button" data-answer="${answer}" class="answer">${words}</button>`;
  const withdraw = cause.decision && button("withdrawn", "Withdraw the answer");
  const accept = cause.decision?.answer !== "accepted" && button("accepted", "Accept");
  return html`<form class="decide" data-id="${id}"><p class="effect">${effect(cause)}</p>
    <div class="fields"><label>Note${cause.needs_note && html` <em>(name the second evidence to accept)</em>`}<input name="note" maxlength="2000" autocomplete="off" value="${draft.note}"></label>
    ${nameField("who", draft.who)}</div>
    <div class="answers">${accept}${button("rejected", "Reject")}${button("needs evidence", "Needs evidence")}${withdraw}</div></form>`;
}

/** One cause with its structures and the answer to it. */
function causeCard({ cause, rows }, id, options) {
  if (!cause) {
    return html`<article class="cause" aria-labelledby="cause-${id}"><header><h3 id="cause-${id}">No cause named</h3></header>${rowList(rows, id, options)}</article>`;
  }
  const evidence = html`<ul class="evidence">${cause.evidence.map((words) => html`<li>${words}</li>`)}</ul>`;
  const others = cause.structures.length > 1 && html`<p class="explains">explains ${count(cause.structures.length, "structure")}: ${cause.structures.join(", ")}</p>`;
  return html`<article class="cause rank-${cause.cost_rank}" aria-labelledby="cause-${id}">
    <header><p class="kind"><span>${cause.code}</span><span class="moment">cheapest moment still open: <b>${cause.moment}</b></span></p>
      <h3 id="cause-${id}">${cause.subject}</h3><p class="words">${cause.words}</p>${others}</header>
    <p class="asks"><span>Ask for</span> ${cause.asks_for}</p>
    <details data-keep="${cause.code} ${cause.subject} ${cause.line}"><summary>Evidence and what else was considered</summary>${evidence}</details>
    ${rowList(rows, id, options)}
    <footer>${stands(cause.decision)}${decideForm(cause, id, options.draft)}</footer></article>`;
}

/** Decisions that stand for causes the survey no longer shows. */
function settledList(settled, draft) {
  return html`<h3 id="settled-title">Answers in force whose exceptions are gone</h3>
    <ul class="settled">${settled.map(
      (each, k) => html`<li><div>${stands(each.decision)}<p><b>${each.cause}</b>, ${each.subject}${each.structures.length > 0 && html`: ${each.structures.join(", ")}`}</p>${each.words && html`<p class="source">${each.words}</p>`}</div>
      <form class="decide undo" data-settled="${k}"><div class="fields"><label>Note<input name="note" maxlength="2000" autocomplete="off"></label>
        ${nameField("who", draft.who)}</div>
        <div class="answers"><button type="button" data-answer="withdrawn" class="answer">Withdraw</button></div></form></li>`,
    )}</ul>`;
}

/** What is said of lines, files and structures that are in no list. */
function besideList(beside) {
  const place = ({ line, structure }) => `${line} ${structure}`.trim();
  return html`<h3 id="beside-title">Of files, lines and structures in no list</h3>
    <ul>${beside.map((each) => each.findings.map((words) => html`<li>${place(each) && html`<b>${place(each)}</b> `}${words}</li>`))}</ul>`;
}

/** Every decision ever taken, the latest first. */
function historyList(history) {
  const rows = [...history].reverse();
  const body = rows.length
    ? html`<ol class="history">${rows.map(
        (each) => html`<li><time datetime="${each.at}">${moment(each.at)}</time> <b>${each.who}</b> ${each.answer}: ${each.cause}, ${each.subject}${each.note && html` <q>${each.note}</q>`}</li>`,
      )}</ol>`
    : html`<p>No decision yet.</p>`;
  return html`<h3 id="history-title">History of decisions</h3>${body}`;
}

/** What the last decision changed: counts before and after, and every structure. */
function changedBox(asked, answer) {
  const counts = Object.keys(answer.after).map((verdict) => {
    const [before, after] = [answer.before[verdict], answer.after[verdict]];
    return html`<div class="${before === after ? "same" : "moved"}"><dt>${verdict}</dt><dd>${before === after ? after : `${before} → ${after}`}</dd></div>`;
  });
  const moved = answer.changed.length
    ? html`<p>${answer.changed.map((each) => `${each.structure}: ${each.before} → ${each.after}`).join("; ")}</p>`
    : html`<p>No verdict changed.</p>`;
  return html`<h3 tabindex="-1">${ANSWERS[asked.answer]} by ${asked.who}: ${asked.cause}, ${asked.subject}</h3>
    <dl class="counts">${counts}</dl>${moved}
    ${asked.answer !== "withdrawn" && html`<button type="button" data-act="undo">Undo: withdraw this answer</button>`}`;
}

export { declaredBox, filterForm, causeCard, settledList, besideList, checkInList, historyList, changedBox };
