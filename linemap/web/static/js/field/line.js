// The whole line by mile: what is on the phone and how large it is, every structure as a large target.

import { html, render } from "../shared/html.js";
import { cardLink } from "./card.js";
import { heldNow } from "./holds.js";
import { hasMile, heads, headsNumbered, index, missing } from "./pack.js";
import { sameNumber } from "../shared/number.js";
import { status } from "./sync.js";
import { wrongAt } from "./warnings.js";
import { counted, sizeWords } from "./words.js";

/** Miles under one heading once a line is long. */
const BLOCK = 20;

const isHeld = (found) => heldNow(found).some(({ kind }) => kind === "hold");

const stageWords = ({ stage }) => (stage === "none" ? "open" : stage);

function mark(found) {
  if (wrongAt(found).length) return html`<small class="wrong">WRONG</small>`;
  if (isHeld(found)) return html`<small>HOLD</small>`;
  return html`<small>${stageWords(found)}</small>`;
}

const link = (found) => html`<a class="cell" href="${cardLink(found)}"><b>${found.number}</b>${mark(found)}</a>`;

const onLine = (line, mile) => heads().filter((found) => found.line === line.name && found.mile === mile);

/** What a crew wants of a mile before it opens it: how far its structures are, and what is held; its size only while it is to be loaded. */
function mileWords(line, entry, stale) {
  if (!hasMile(line.name, entry.mile)) return `${sizeWords(entry.bytes)} to load`;
  const found = onLine(line, entry.mile);
  const held = found.filter(isHeld).length;
  const stages = [...new Set(found.map(stageWords))].map((words) => `${found.filter((one) => stageWords(one) === words).length} ${words}`);
  return [...stages, held && `${held} held`, stale.has(entry.mile) && `older version here, ${sizeWords(entry.bytes)} to load`].filter(Boolean).join(", ");
}

/** A mile; its structures are written when it is opened. */
const mile = (line, entry, stale) => html`<details class="mile" data-line="${line.name}" data-mile="${entry.mile}"><summary><b>Mile ${entry.mile}</b>: ${counted(entry.structures, "structure")}, ${mileWords(line, entry, stale)}</summary>
  <div class="cells"></div></details>`;

const sum = (entries, name) => entries.reduce((total, entry) => total + entry[name], 0);

/** Some miles under one heading; written when it is opened. */
function block(line, at, stale) {
  const own = line.miles.slice(at, at + BLOCK);
  const here = own.filter((entry) => hasMile(line.name, entry.mile) && !stale.has(entry.mile)).length;
  return html`<details class="mile" data-line="${line.name}" data-from="${at}"><summary><b>Miles ${own[0].mile} to ${own.at(-1).mile}</b>: ${sum(own, "structures")} structures, ${here === own.length ? "here" : `${here} of ${own.length} here, ${sizeWords(sum(own.filter((entry) => stale.has(entry.mile)), "bytes"))} to load`}</summary>
    <div class="miles"></div></details>`;
}

const staleOf = (line) => new Set(missing().filter((entry) => entry.line === line.name).map((entry) => entry.mile));

function lineBlock(line) {
  const stale = staleOf(line);
  const blocks = Array.from({ length: Math.ceil(line.miles.length / BLOCK) }, (_, place) => block(line, place * BLOCK, stale));
  return html`<section><h2>${line.name}</h2><p>back end <b>${line.back_end || "not named"}</b>, ahead end <b>${line.ahead_end || "not named"}</b></p>
    ${line.miles.length > 2 * BLOCK ? blocks : line.miles.map((entry) => mile(line, entry, stale))}</section>`;
}

/** Write what a mile or a block of miles holds, the first time it is opened. */
function openPart(details) {
  const line = index().lines.find(({ name }) => name === details.dataset.line);
  const inside = details.querySelector(":scope > div");
  if (!line || !inside || inside.childElementCount) return;
  const { from, mile: number } = details.dataset;
  if (from !== undefined) {
    const stale = staleOf(line);
    render(inside, html`${line.miles.slice(Number(from), Number(from) + BLOCK).map((entry) => mile(line, entry, stale))}`);
  } else render(inside, html`${onLine(line, Number(number)).map(link)}`);
}

/** Titles of the parts that are open. */
const openParts = (main) => [...main.querySelectorAll("details[open] > summary > b")].map((summary) => summary.textContent);

/** Open the parts that had these titles before the page was drawn anew; a mile is written with that. */
function openAgain(main, titles) {
  for (const summary of main.querySelectorAll("details > summary > b")) {
    if (!titles.includes(summary.textContent)) continue;
    const details = summary.closest("details");
    details.open = true;
    if (details.matches(".mile")) openPart(details);
  }
}

/** Bytes of all miles of the index. */
const total = () => index().lines.reduce((bytes, line) => bytes + sum(line.miles, "bytes"), 0);

const signInFirst = () => html`<p class="hold conditional"><b>SIGN IN</b> This phone is not signed in. Open the link, or scan the square code, that the manager gave you. <a class="inline" href="/sign-in?next=/field">Sign in</a></p>`;

/** How far loading is. */
let progress = "";

/** Say how far loading is, now and when the line is drawn again. */
function sayProgress(main, words) {
  progress = words;
  const box = main.querySelector("[data-progress]");
  if (box) box.textContent = words;
}

function first(main) {
  render(main, html`<div class="line"><h1 tabindex="-1">Load the line</h1>
    <p>Do this once where there is a signal. Then every card, hold and drawing is on the phone, and works without one.</p>
    ${status().signIn ? signInFirst() : ""}
    <button type="button" class="primary" data-do="load">Load the whole line</button><p data-progress role="status">${progress}</p></div>`);
}

/** Show the line; before anything is loaded, only the button to load it. */
function showLine(main) {
  if (!heads().length) {
    first(main);
    return;
  }
  const left = missing().length;
  render(main, html`<div class="line"><h1 tabindex="-1">Line</h1>
    <form data-find role="search"><label>Structure number<input name="number" autocomplete="off" autocapitalize="characters" enterkeyhint="go" placeholder="like 9/2"></label>
      <button type="submit">Open</button></form><p data-found role="status"></p>
    <p>${heads().length} structures on the phone, ${sizeWords(total())} in all${left ? html`, <b>${left} miles to load</b>` : ""}.</p>
    ${status().signIn ? signInFirst() : ""}
    <button type="button" class="${left ? "primary" : "wide"}" data-do="load">${left ? "Load what is missing" : "Look for changes"}</button>
    <p data-progress role="status">${progress}</p>${index().lines.map(lineBlock)}</div>`);
}

/** The head a typed number means, or words saying why there is none. */
function findTyped(text) {
  const found = headsNumbered(text);
  if (found.length === 1) return { head: found[0] };
  const number = sameNumber(text);
  if (new Set(found.map(({ line }) => line)).size < found.length) {
    return { words: `${text.trim()} may be ${found.map((one) => one.number).join(" or ")}; write it exactly so` };
  }
  if (found.length > 1) return { words: `${number} is on several lines; open it from its mile` };
  return { words: `No structure ${number} on the phone. Write it like 9/2 or 12/3A.` };
}

/** Say that the address names no structure that is on the phone, and show none in its place. */
function showUnknown(main, number, words, last) {
  render(main, html`<div class="line"><h1 tabindex="-1"><small>Not found</small> ${number}</h1>
    <p class="hold conditional" role="alert"><b>NO SUCH STRUCTURE</b> ${words} Nothing else was opened in its place.</p>
    <form data-find role="search"><label>Structure number<input name="number" autocomplete="off" autocapitalize="characters" enterkeyhint="go" value="${number}"></label>
      <button type="submit">Open</button></form><p data-found role="status"></p>
    ${last ? html`<a class="button wide" href="${cardLink(last)}">Back to ${last.number}</a>` : ""}<a class="button wide" href="#v=line">All structures of the line</a></div>`);
}

export { sayProgress, showUnknown, openAgain, openPart, openParts, showLine, findTyped };
