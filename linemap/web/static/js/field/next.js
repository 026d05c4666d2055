// Where to next: the server's list when it answers, else one made on the phone from what it took along.

import { html, render } from "../shared/html.js";
import { cardLink } from "./card.js";
import { askJson } from "./http.js";
import { me } from "./me.js";
import { computed } from "./next_here.js";
import { head, heads, hoursOld, index } from "./pack.js";
import { agedBlock, wrongAt } from "./warnings.js";
import { fix, nearest, onLine, words as positionWords } from "./where.js";
import { agoWords, clockWords } from "./words.js";

const PATIENCE_MS = 4000;
const MOST = 20;
/** So many structures with something wrong are told in words at once. */
const FEW = 3;

/** The fix the shown list was made with. */
/** @type {{ at: Phone.Fix | null }} */
const made = { at: null };

const stepWords = (code) => index().workflow.steps.find((step) => step.code === code)?.words ?? code;

/** @returns {Promise<Answer.NextAnswer>} */
async function fromServer(from, crew) {
  const at = fix();
  /** @type {Record<string, string>} */
  const place = at
    ? { longitude: String(at.longitude), latitude: String(at.latitude), accuracy_m: String(at.accuracy_m) }
    : { from: from.number };
  return askJson("GET", `/api/next?${new URLSearchParams({ crew, line: from.line, limit: String(MOST), ...place })}`, { patience: PATIENCE_MS });
}

/** What is wrong with structures of the line, before where to go next: numbers in all, words of the first few. */
function wrongBlock(line) {
  const bad = heads().filter((found) => found.line === line && wrongAt(found).length);
  if (!bad.length) return "";
  const one = (found) => html`<li><a href="${cardLink(found)}"><strong>${found.number}</strong> <span>${wrongAt(found)[0]}</span></a></li>`;
  return html`<details class="hold wrong" ${bad.length <= FEW && "open"}><summary><b>TO PUT RIGHT</b> ${numbersOf(bad.map(({ number }) => number))}</summary><ul>${bad.map(one)}</ul></details>`;
}

function row(line, item, before) {
  const found = head(line, item.number);
  const far = item.length_text;
  const wrong = found ? wrongAt(found) : [];
  const same = item.roads_text && before?.roads_text === item.roads_text; // neighbours often share the roads
  const travel = same ? `same way; ${item.in_all_text || far}` : item.travel_text;
  return html`<li><a class="next-row" href="${found ? cardLink(found) : "#"}"><b class="big">${item.number}</b>
    <span><b>to be ${stepWords(item.next_step)}</b> ${far}${item.compass && `, ${item.compass}`}${travel && html`<small>${travel}</small>`}
    ${wrong.map((words) => html`<small class="condition wrong"><b>WRONG</b> ${words}</small>`)}
    ${item.conditions.filter((words) => !wrong.includes(words)).map((words) => html`<small class="condition"><b>NOTE</b> ${words}</small>`)}</span></a></li>`;
}

const source = (list, at) =>
  at
    ? html`From the server at <b>${clockWords(at)}</b>, ordered by ${list.ordered_by === "access" ? "travel on the access roads" : "line order"}.`
    : html`<b>Made on this phone</b> from data loaded ${agoWords(hoursOld())}: nearest along the line first, rivers that cut the right of way last. Roads and gates are not looked at.`;

const whereText = () => `You are ${fix() ? onLine(fix()) : `not located: ${positionWords()}`}`;

const whereBlock = () => html`<p class="where" data-where>${whereText()}</p>`;

/** Bring only the line of where one is up to date; true when the list is from before the first fix. */
function showWhere(main) {
  const box = main.querySelector("[data-where]");
  if (box) box.textContent = whereText();
  return !made.at && fix() !== null;
}

/** Refusals of one reason stand once, with all the structures they are of. */
function grouped(refused) {
  const causes = new Map();
  for (const { number, reason } of refused) causes.set(reason, [...(causes.get(reason) ?? []), number]);
  return [...causes].sort((a, b) => a[1].length - b[1].length);
}

const SHOWN = 12;
const numbersOf = (numbers) => (numbers.length > SHOWN ? `${numbers.slice(0, 3).join(", ")} … ${numbers.at(-1)} (${numbers.length})` : numbers.join(", "));

function refusedBlock(refused) {
  if (!refused.length) return "";
  return html`<details class="refused"><summary>${refused.length} not workable now, and why</summary><ul>
    ${grouped(refused).map(([cause, numbers]) => html`<li><b>${numbersOf(numbers)}</b> ${cause}</li>`)}</ul></details>`;
}

/** What is next depends on the crew: it is asked first, once. */
function askCrew(main) {
  const { crews } = index();
  render(main, html`<div class="next"><h1 tabindex="-1">Next</h1><h2>Which crew is this phone's?</h2>
    <div class="chips">${crews.map((crew) => html`<button type="button" data-do="crew" data-crew="${crew}">${crew}</button>`)}</div>
    <form data-who><label>${crews.length ? "Another name" : "Nothing is recorded in this job yet. Name of the crew"}<input name="crew" required maxlength="100" autocomplete="off"></label>
      <button type="submit" class="wide">This crew</button></form>${whereBlock()}</div>`);
}

function show(main, from, list, at) {
  const rows = list.workable.map((item, place) => row(from.line, item, list.workable[place - 1]));
  const more = (list.workable_count ?? rows.length) - rows.length;
  render(main, html`<div class="next"><h1 tabindex="-1">Next for ${list.for || "any crew"}</h1>${at ? "" : agedBlock()}${wrongBlock(from.line)}${whereBlock()}
    <ol class="plain">${rows.length ? rows : html`<li>Nothing is workable by the records${refusedHint(list)}</li>`}</ol>
    ${more > 0 ? html`<p>and ${more} more, farther off</p>` : ""}${refusedBlock(list.refused)}<p class="source">${source(list, at)}</p><p class="caution">${list.caution}</p></div>`);
}

const refusedHint = ({ refused }) => (refused.length ? "; why not stands below." : ": every step this crew does is recorded.");

/** Show the list for the crew: at once from the phone, then from the server when it answers. */
async function showNext(main, last, stillHere) {
  const at = fix();
  made.at = at;
  const from = (at && nearest(at)?.[0]) ?? last ?? heads()[0];
  if (!from) {
    render(main, html`<div class="next"><h1 tabindex="-1">Next</h1><p>Nothing is on this phone yet: load the line first.</p><a class="button wide" href="#v=line">Load the line</a></div>`);
    return;
  }
  const { crew } = me();
  if (!crew) {
    askCrew(main);
    return;
  }
  show(main, from, computed(from, crew), 0);
  try {
    const list = await fromServer(from, crew);
    const opened = main.querySelector(".refused")?.open;
    if (!stillHere()) return;
    show(main, from, list, Date.now());
    if (opened && main.querySelector(".refused")) main.querySelector(".refused").open = true;
  } catch {
    // the list of the phone stays, and says that it is the phone's
  }
}

export { showWhere, showNext };
