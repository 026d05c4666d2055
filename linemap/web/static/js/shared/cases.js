// Cases as people read them, and the form to answer or close one: for who answers it, or the manager.

import { html } from "./html.js";

const STATE = { open: "open", answered: "answered, open", closed: "closed" };
const day = (text) => text.slice(0, 10);

/** @param {Answer.CaseEntry["acts"][number]} act */
const actLine = (act) => html`<li><time>${day(act.when)}</time> ${{ answer: "answered", close: "closed", reopen: "opened again" }[act.act]} by ${act.who}${act.text && html`: ${act.text}`}${act.photos.length > 0 && html` <small>${act.photos.length} photo${act.photos.length > 1 ? "s" : ""}</small>`}</li>`;

/**
 * One case with what was answered, and a place for its form.
 * @param {Answer.CaseEntry} found
 * @param {unknown} [link] before the words: the structure, where it is not plain
 */
function caseItem(found, link = "") {
  return html`<li class="case ${found.state}" data-case="${found.id}"><p>${link}<b>${STATE[found.state]}</b> ${found.words}</p>
    <p class="asked">${found.state === "closed" ? (found.taken_back ? "Its records were taken back or moved." : "") : html`To be answered by <b>${found.asked}</b>${found.asked !== "manager" && ", or the manager"}.`}</p>
    ${found.acts.length > 0 && html`<ul class="case-acts">${found.acts.map(actLine)}</ul>`}<div data-case-form hidden></div></li>`;
}

/** What may be done about a case: act, button, what the box asks for. */
const ACTS = {
  answer: ["Answer", "What is answered"],
  close: ["Close the case", "Evidence that closes it: document, photo number, who was there"],
  reopen: ["Open it again", "Why it is open again"],
};
const actsOf = (found) => (found.state === "closed" ? ["reopen"] : ["answer", "close"]);

/**
 * The form under a case. `sign` asks who signs, "" where that is known.
 * @param {Answer.CaseEntry} found
 * @param {unknown} sign
 */
function caseForm(found, sign) {
  const acts = actsOf(found);
  return html`<details class="release case-form"><summary>${acts.includes("close") ? "Answer or close this case" : ACTS.reopen[0]}</summary>
    <form data-case-act="${found.id}"><label>${acts.includes("close") ? ACTS.close[1] : ACTS.reopen[1]}<textarea name="text" rows="2" required maxlength="2000"></textarea></label>${sign}
    <div class="pair">${acts.map((act) => html`<button name="act" value="${act}">${ACTS[act][0]}</button>`)}</div>
    <p class="hint">It stays on record with your name and the time.</p><p role="status" data-said></p></form></details>`;
}

/**
 * The record that answers a case, as it is sent.
 * @param {Answer.CaseEntry} found
 */
const actBody = (found, { id, act, text, who, at }) => ({
  id,
  line: found.line,
  structure: found.number,
  what: "case",
  happened_at: at,
  actor: who,
  note: text.trim().replace(/\r\n?/g, "\n"),
  content: { act, code: found.code, part: found.part, records: found.records.map((record) => record.id) },
});

export { caseItem, caseForm, actBody };
