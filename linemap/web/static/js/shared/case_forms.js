// Answering cases on a page of the office: which of those shown may be answered, and sending what was answered.

import { actBody, caseForm } from "./cases.js";
import { html, render } from "./html.js";
import { newId } from "./office_api.js";
import { rememberName, signature } from "./person.js";
import { ask } from "./request.js";

const PATIENCE_MS = 15000;

/**
 * Send one record, now.
 * @param {Record<string, any>} body
 * @returns {Promise<Answer.EventResults>}
 */
async function sendRecord(body) {
  const sent = { sent_at: new Date().toISOString(), events: [body] };
  const answer = await ask("/api/events", { method: "POST", body: sent, signal: AbortSignal.timeout(PATIENCE_MS) });
  const [result] = answer.results;
  if (result.outcome === "refused") throw new Error(result.why);
  return answer;
}

async function answered(event, found, done) {
  event.preventDefault();
  event.stopPropagation();
  const form = event.target;
  const said = form.querySelector("[data-said]");
  const { text, who } = form.elements;
  const act = event.submitter?.value ?? "answer";
  form.querySelectorAll("button").forEach((button) => (button.disabled = true));
  said.textContent = "Recording…";
  try {
    await sendRecord(actBody(found, { id: newId(), act, text: text.value, who: who.value.trim(), at: new Date().toISOString() }));
    rememberName(who.value.trim());
    said.textContent = "Recorded.";
    done();
  } catch (failure) {
    form.querySelectorAll("button").forEach((button) => (button.disabled = false));
    said.textContent = `Not recorded: ${failure.message}`;
  }
}

/**
 * Put a form under every case of an element that whoever is signed in may answer. `done()` follows each answer.
 * @param {Element} element
 * @param {() => void} done
 * @param {string} [state] which cases are asked for: "open", "closed", "all"
 */
async function offerCases(element, done, state = "open") {
  const places = [...element.querySelectorAll("[data-case]")];
  if (!places.length) return;
  let cases, session;
  try {
    const paths = [`/api/cases?state=${state}`, "/api/session"];
    [{ cases }, session] = await Promise.all(paths.map((path) => ask(path, { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) })));
  } catch {
    return;
  }
  for (const place of places) {
    const found = cases.find(({ id, may_close }) => may_close && id === place.dataset.case);
    const box = place.querySelector("[data-case-form]");
    if (!found || !box) continue;
    render(box, caseForm(found, signature(session)));
    box.hidden = false;
    box.querySelector("form").addEventListener("submit", (event) => void answered(event, found, done));
  }
}

/** A form that moves one of the records of a history to the structure or pole it belongs to. */
function moveForm(history, session) {
  const one = ({ id, when, text }) => html`<option value="${id}">${when.slice(0, 16).replace("T", " ")} ${text}</option>`;
  return html`<details class="release case-form"><summary>Move a record to the place it belongs to</summary>
    <form><p>It goes with its photos and readings. Both places keep it in their history; the move can be taken back.</p>
    <label>Record<select name="record">${history.map(one)}</select></label>
    <label>Structure<input name="to" required maxlength="40" autocomplete="off"></label>
    <label>Pole there<select name="pole"><option value="">as recorded</option><option value="whole">whole structure</option>${["A", "B", "C"].map((letter) => html`<option>${letter}</option>`)}</select></label>
    <label>Why<textarea name="why" rows="2" required maxlength="2000"></textarea></label>${signature(session)}
    <button>Move the record</button><p role="status" data-said></p></form></details>`;
}

/**
 * The record that moves another one, as it is sent.
 * @param {Record<string, string>} moved
 */
const moveBody = ({ line, structure, record, to, toLine = line, pole, why, who, at, id }) => ({
  id,
  line,
  structure,
  what: "moved",
  happened_at: at,
  actor: who,
  note: why.trim().replace(/\r\n?/g, "\n"),
  content: { event: record, line: toLine, structure: to.trim(), ...(pole && { pole: pole === "whole" ? "" : pole }) },
});

/**
 * Offer to move records of a structure, to who may record here.
 * @param {Element} place
 * @param {{ line: string, number: string, history: readonly { id: string, when: string, text: string, movable: boolean }[] }} d
 * @param {(number: string) => void} open
 */
async function offerMove(place, d, open) {
  const records = d.history.filter((item) => item.movable);
  if (!records.length) return;
  /** @type {Answer.Session} */
  let session;
  try {
    session = await ask("/api/session", { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
  } catch {
    return;
  }
  if (!["surveyor", "inspector", "manager"].includes(session.role ?? "")) return;
  render(place, moveForm(records.toReversed(), session));
  const form = place.querySelector("form");
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const said = form.querySelector("[data-said]");
    const given = /** @type {Record<string, string>} */ (Object.fromEntries(new FormData(form)));
    said.textContent = "Recording…";
    try {
      await sendRecord(moveBody({ line: d.line, structure: d.number, ...given, at: new Date().toISOString(), id: newId() }));
      rememberName(given.who.trim());
      open(given.to.trim());
    } catch (failure) {
      said.textContent = `Not moved: ${failure.message}`;
    }
  });
}

export { offerCases, offerMove };
