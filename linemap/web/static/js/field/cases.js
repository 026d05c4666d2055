// Cases on a phone: those that whoever is signed in answers, those of a card, and records whose structure is in no list.

import { actBody, caseForm, caseItem } from "../shared/cases.js";
import { html, render } from "../shared/html.js";
import { viewLink } from "./card.js";
import { read, remember } from "./db.js";
import { askJson } from "./http.js";
import { me } from "./me.js";
import { add, sent, waiting, workByPlace } from "./outbox.js";
import { head, heads, index, missing } from "./pack.js";
import { entryWords } from "./record.js";
import { soon } from "./sync.js";
import { counted, stamp } from "./words.js";

/** How often the server is asked for cases while the page is looked at. */
const AGAIN_MS = 20_000;
/** What the server said last that this person may answer; kept, so that it is answered without a signal too. */
/** @type {{ mine: Answer.CaseForYou[], version: number }} */
const kept = { mine: [], version: -1 };

async function restoreCases() {
  const mine = (await read("meta", "cases")) ?? [];
  // what the server said meanwhile is newer
  if (kept.version < 0) kept.mine = mine;
}

/** Ask which cases this person may answer. Without a signal, or for whom it is not, what is known stays. */
async function refreshCases() {
  try {
    const { data_version } = await askJson("GET", "/api/cases/count");
    if (data_version === kept.version) return;
    const { cases } = await askJson("GET", "/api/cases");
    kept.mine = cases.filter(({ may_close }) => may_close);
    kept.version = data_version;
    await remember("cases", kept.mine);
  } catch {
    // asked again with the next contact
  }
}

/** What this phone says of a case and the server has not heard yet: "answer", "close"; "" = nothing. */
function saidHere({ code, part, records }) {
  const acts = waiting().filter(({ body }) => body.what === "case" && body.content.code === code && body.content.part === part);
  const mine = acts.filter(({ body }) => body.content.records.some((id) => records.some((record) => record.id === id)));
  return mine.at(-1)?.body.content.act ?? "";
}

/** Records of this phone whose structure is in no list any more. */
function strays() {
  if (!heads().length || missing().length) return [];
  const lost = workByPlace().filter(({ line, structure }) => !head(line, structure));
  return lost.flatMap(({ line, structure, entries }) => entries.map((entry) => ({ ...entry, line, structure })));
}

const forYou = () => kept.mine.filter((found) => found.yours && saidHere(found) !== "close");

/** Where a case or a stray record is looked at: its card, or, of a structure in no list, the page of cases. */
const linkTo = (line, number) => (head(line, number) ? viewLink("card", { line, number }) : "#v=cases");

/** What must be said at the top of every view, in sentences. */
function caseAlarms() {
  const said = [];
  const yours = forYou().length;
  if (yours) said.push(html`<b>${counted(yours, "CASE")} FOR YOU</b> <a href="#v=cases">Look and answer</a>`);
  const lost = strays();
  if (lost.length) said.push(html`<b>IN NO LIST</b> ${[...new Set(lost.map(({ structure }) => structure))].join(", ")}: ${counted(lost.length, "record")} of this phone. <a href="#v=cases">Look</a>`);
  return said;
}

/**
 * A case with its form, for who may answer it.
 * @param {Answer.CaseEntry} found
 * @param {unknown} [link]
 */
function caseBlock(found, link = "") {
  const own = kept.mine.find(({ id }) => id === found.id);
  const act = saidHere(found);
  return html`${caseItem(found, link)}${act && html`<li><b class="local">this phone</b> ${act === "close" ? "closed" : "answered"}, not confirmed until it is sent</li>`}
    ${own && act !== "close" && html`<li class="case-act">${caseForm(found, html`<p>Signed as <b>${me().actor || "nobody yet"}</b></p>`)}</li>`}`;
}

/**
 * Write the open cases of a card where it has a place for them.
 * @param {Element} main
 * @param {Phone.Card} card
 */
function showCasesOf(main, card) {
  const open = card.cases ?? [];
  const place = main.querySelector("[data-cases]");
  if (place && open.length) render(place, html`<section><h2>${counted(open.length, "open case")}</h2><ul class="plain cases">${open.map((found) => caseBlock(found))}</ul></section>`);
}

const moveLink = (id, line, number) => html`<a class="inline" href="#${new URLSearchParams({ v: "move", id, n: number, l: line })}">Move it to its place</a>`;

function strayBlock() {
  const lost = strays();
  if (!lost.length) return "";
  const known = index()?.unlisted ?? [];
  const rows = lost.map((entry) => html`<li>${entryWords(entry)} ${moveLink(entry.id, entry.line, entry.structure)}</li>`);
  const open = known.filter((found) => lost.some(({ line, structure }) => line === found.line && structure === found.number));
  return html`<h2>In no list any more</h2><p>What this phone recorded there is kept, and is a case until it is closed or moved to where it belongs.</p>
    <ul class="plain rows">${rows}</ul>${open.length ? html`<ul class="plain cases">${open.map((found) => caseBlock(found))}</ul>` : ""}`;
}

/** The page of cases: for whom is signed in, and what this phone recorded where no list has a structure. */
function showCases(main) {
  const link = ({ line, number }) => html`<a href="${linkTo(line, number)}"><b>${number}</b></a> `;
  const shown = kept.mine.filter((found) => found.yours);
  render(
    main,
    html`<div class="sending"><h1 tabindex="-1">Cases</h1><p>Recorded against a hold, a ticket, a limit, the order of the work or the list. Who answers a case closes it, with evidence.</p>
      <h2>For you: ${forYou().length}</h2>${shown.length ? html`<ul class="plain cases">${shown.map((found) => caseBlock(found, link(found)))}</ul>` : html`<p>None.</p>`}${strayBlock()}</div>`,
  );
}

/** Keep what a form says of its case; gives the sentence to show. */
async function saveAct(form, act) {
  const found = [...kept.mine].find(({ id }) => id === form.dataset.caseAct);
  if (!found) return "This case is not on the phone any more";
  await add("event", actBody(found, { id: crypto.randomUUID(), act, text: form.elements.text.value, who: me().actor, at: stamp(Date.now()) }));
  soon();
  return act === "close" ? "Closed on this phone; sent with the next contact" : "Answered on this phone; sent with the next contact";
}

/** The page that moves a record of this phone to the structure or pole it belongs to. */
function showMove(main, id) {
  const entry = [...waiting(), ...sent()].find((known) => known.id === id);
  if (!entry) {
    render(main, html`<div class="sending"><h1 tabindex="-1">Move a record</h1><p class="note">This record is not on the phone. The office moves it.</p></div>`);
    return;
  }
  const letters = ["A", "B", "C"].map((letter) => html`<option>${letter}</option>`);
  render(
    main,
    html`<div class="sending"><h1 tabindex="-1">Move a record</h1><p><b>${entryWords(entry)}</b></p>
      <form data-move="${id}"><label>Structure it belongs to<input name="to" required maxlength="40" autocomplete="off" autocapitalize="characters" enterkeyhint="done"></label>
      <label>Pole there<select name="pole"><option value="">as recorded</option><option value="whole">whole structure</option>${letters}</select></label>
      <label>Why<textarea name="why" rows="2" required maxlength="2000">recorded at the wrong structure</textarea></label>
      <button type="submit" class="wide">Move it with photos and readings</button><p data-found role="alert"></p></form></div>`,
  );
}

/**
 * Keep the move of a record.
 * @param {HTMLFormElement} form
 * @param {{ line: string, number: string }} to
 */
async function saveMove(form, to) {
  const entry = [...waiting(), ...sent()].find(({ id }) => id === form.dataset.move);
  if (!entry) return;
  const { pole, why } = /** @type {Record<string, string>} */ (Object.fromEntries(new FormData(form)));
  const { line, structure, revision_seen, crew, device } = entry.body;
  await add("event", {
    id: crypto.randomUUID(),
    line,
    structure,
    what: "moved",
    happened_at: stamp(Date.now()),
    crew,
    actor: me().actor,
    device,
    revision_seen,
    note: why.trim(),
    content: { event: entry.id, line: to.line, structure: to.number, ...(pole && { pole: pole === "whole" ? "" : pole }) },
  });
  soon();
}

/**
 * Take in what the forms of cases and moves say, and ask for new cases while the page is looked at.
 * @param {HTMLElement} main
 * @param {{ again: () => Promise<void>, find: (text: string) => any, go: (view: string, card: any) => void, said: (words: string) => void }} page
 */
function watchCases(main, { again, find, go, said }) {
  main.addEventListener("submit", async (event) => {
    const form = /** @type {HTMLFormElement} */ (event.target);
    if (form.matches("[data-case-act]")) {
      const act = /** @type {HTMLButtonElement | null} */ (event.submitter)?.value ?? "answer";
      said(await saveAct(form, act));
      /** @type {HTMLElement | null} */ (main.querySelector(":focus"))?.blur();
      await again();
    } else if (form.matches("[data-move]")) {
      const found = find(String(new FormData(form).get("to")));
      if (found.head) {
        await saveMove(form, found.head);
        go("card", found.head);
        said(`Moved to ${found.head.number} on this phone`);
      } else render(main.querySelector("[data-found]"), html`${found.words}`);
    }
  });
  const look = () => document.visibilityState === "visible" && void refreshCases().then(again);
  setInterval(look, AGAIN_MS);
  document.addEventListener("visibilitychange", look);
  window.addEventListener("online", look);
  setTimeout(look);
}

export { restoreCases, caseAlarms, showCasesOf, showCases, showMove, watchCases };
