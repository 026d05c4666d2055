// The page of what goes out: every record that waits, what the server refused, what it said of what it took.

import { html, render } from "../shared/html.js";
import { isSafe, unsafe, witness } from "./kept.js";
import { me, signature } from "./me.js";
import { keptWords, memory } from "./memory.js";
import { photos, sent, waiting } from "./outbox.js";
import { index } from "./pack.js";
import { viewLink } from "./card.js";
import { entryWords } from "./record.js";
import { status } from "./sync.js";
import { clockWords, counted, sizeWords } from "./words.js";

function photosOf(id) {
  const own = photos().filter((photo) => photo.event === id);
  return own.map((photo) => html`<small>photo ${sizeWords(photo.sent)} of ${sizeWords(photo.bytes)} sent${photo.why && `: ${photo.why}`}</small>`);
}

/** Who did it and who was signed in, where that is not who is signed in now. */
function byWords({ body }) {
  const [now, then] = [signature().signed_by, body.signed_by ?? ""];
  const did = body.actor && body.actor !== (then || now) ? `done by ${body.actor}` : "";
  return [did, then && then !== now ? `signed in was ${then}` : ""].filter(Boolean).map((words) => `, ${words}`).join("");
}

function waitingWords({ tried, handed, from, again }) {
  if (from) return `waits, taken over from ${from}`;
  if (again) return "waits, the job does not have it any more";
  if (handed) return `waits, handed to another phone ${clockWords(handed)}`;
  return tried ? "tried, not acknowledged" : "waits";
}

function waitingRow(entry) {
  const refused = entry.state === "refused";
  const note = refused ? html`<small class="bad"><b>REFUSED</b> ${entry.why}</small>` : html`<small>${waitingWords(entry)}</small>`;
  return html`<li><span><b>${entryWords(entry)}</b><small>${clockWords(entry.at)}${byWords(entry)}</small>${note}${photosOf(entry.id)}</span>
    <span class="acts">${refused && html`<button type="button" data-do="again" data-id="${entry.id}">Try again</button>`}
    ${entry.kind === "event" || !entry.tried ? html`<button type="button" data-do="undo" data-id="${entry.id}">Undo</button>` : ""}</span></li>`;
}

const correctLink = ({ id, body }) => viewLink("record", { number: body.structure, line: body.line }, { s: body.step, x: id });

/** Rows of what the server has are shown for so long; it stays on the phone until a copy of the job holds it. */
const SHOWN_MS = 4 * 86_400_000;

function backupWords() {
  const backup = index()?.backup;
  if (!backup) return html`<b>No copy of the job is on record.</b> What this phone sent stays on it until one is made.`;
  return html`Newest copy of the job: <b>${clockWords(Date.parse(backup.at))}</b>, up to event ${backup.seq}.`;
}

/** How the browser keeps this page's memory, what is kept of what was sent, and what this phone saw of the record. */
function keeping() {
  const [state, words] = keptWords();
  const seen = witness();
  const left = unsafe().length;
  return html`<section class="keeping"><h2>Kept on this phone</h2>
    <p><b>${state}.</b> ${words}</p>${!memory().kept && html`<button type="button" class="wide" data-do="ask">Ask the browser to keep it</button>`}
    <p>${backupWords()}</p>
    <p>${sent().length ? html`${counted(sent().length, "record")} that the server has, ${left ? `${left} of them in no copy yet` : "all in a copy"}; photos stay with their records.` : "Nothing this phone sent is kept on it."}</p>
    ${seen && html`<p><small>Record as this phone last saw it, ${clockWords(seen.at)}: ${seen.newest || "nothing recorded"}</small></p>`}</section>`;
}

function sentRow(entry, gone) {
  const act = entry.kind === "event" && entry.body.result !== "withdrawn" && !gone.has(entry.id);
  return html`<li><span><b>${entryWords(entry)}</b><small>${clockWords(entry.at)}${byWords(entry)}, on the server${isSafe(entry) ? " and in a copy" : ""}</small>
    ${entry.findings.map((words) => html`<small class="bad">${words}</small>`)}${photosOf(entry.id)}</span>
    <span class="acts">${act && html`<a class="button" href="${correctLink(entry)}">Correct</a><button type="button" data-do="undo" data-id="${entry.id}">Withdraw</button>`}</span></li>`;
}

function who() {
  return html`<form data-who class="who"><h2>This phone</h2><label>Crew<input name="crew" value="${me().crew}" list="crews-of-job" maxlength="100" autocomplete="off"></label>
    <datalist id="crews-of-job">${(index()?.crews ?? []).map((crew) => html`<option value="${crew}">`)}</datalist>
    <label>Who<input name="actor" value="${me().actor}" maxlength="100" autocomplete="off"></label><button type="submit" class="wide">Keep</button>
    <p><small>${signature().signed_by && html`signed in is <b>${signature().signed_by}</b>, `}device ${me().device}</small></p></form>`;
}

/** Show the page. */
function showSending(main) {
  const { contact, words, busy, signIn } = status();
  const shown = sent().filter(({ at }) => at > Date.now() - SHOWN_MS);
  const gone = new Set([...waiting().filter(({ state }) => state !== "refused"), ...sent()].map(({ body }) => body.supersedes).filter(Boolean));
  render(main, html`<div class="sending"><h1 tabindex="-1">Send</h1>
    <p class="contact">Last successful contact: <b>${contact ? clockWords(contact) : "none yet"}</b></p>
    ${words && html`<p class="hold conditional" role="status">${words}${signIn && html` <a class="inline" href="/sign-in?next=/field">Sign in</a>`}</p>`}
    <button type="button" class="primary" data-do="send" ${busy ? "disabled" : ""}>${busy ? "Sending…" : "Send now"}</button>
    <h2>To send: ${counted(waiting().length, "record")}, ${counted(photos().length, "photo")}</h2>
    <ul class="plain rows">${waiting().length ? waiting().map(waitingRow) : html`<li>Nothing waits.</li>`}</ul>
    <a class="button wide" href="#v=hand">Hand over to another phone, or take over</a>
    <h2>On the server, from this phone</h2><ul class="plain rows">${shown.length ? shown.map((entry) => sentRow(entry, gone)) : html`<li>Nothing in the last days.</li>`}</ul>${keeping()}${who()}</div>`);
}

export { showSending };
