// The whole line by mile: what is on the phone and how large it is, every structure as a large target.

import { html, render } from "../html.js";
import { cardLink } from "./card.js";
import { cards, cardsNumbered, hasMile, index, missing } from "./pack.js";
import { sameNumber } from "./number.js";
import { sizeWords } from "./words.js";

function mark(card) {
  if (card.holds.some(({ kind }) => kind === "hold")) return html`<small>HOLD</small>`;
  return html`<small>${card.stage === "none" ? "open" : card.stage}</small>`;
}

const link = (card) => html`<a class="cell" href="${cardLink(card)}"><b>${card.number}</b>${mark(card)}</a>`;

function mile(line, entry, stale) {
  const own = cards().filter((card) => card.line === line.name && card.mile === entry.mile);
  const kept = hasMile(line.name, entry.mile) ? (stale.has(entry.mile) ? "older version here" : "here") : "not on the phone";
  return html`<details class="mile"><summary><b>Mile ${entry.mile}</b>: ${entry.structures} structures, ${sizeWords(entry.bytes)}, ${kept}</summary>
    <div class="cells">${own.map(link)}</div></details>`;
}

function lineBlock(line) {
  const stale = new Set(missing().filter((entry) => entry.line === line.name).map((entry) => entry.mile));
  return html`<section><h2>${line.name}</h2><p>back end <b>${line.back_end || "not named"}</b>, ahead end <b>${line.ahead_end || "not named"}</b></p>
    ${line.miles.map((entry) => mile(line, entry, stale))}</section>`;
}

/** Bytes of all miles of the index. */
const total = () => index().lines.flatMap((line) => line.miles).reduce((sum, entry) => sum + entry.bytes, 0);

/** Show the line; before anything is loaded, only the button to load it. */
export function showLine(main, progress) {
  const loaded = index() ? html`${cards().length} structures on the phone, ${sizeWords(total())} in all, ${missing().length} miles to load` : "Nothing on this phone yet.";
  render(main, html`<div class="line"><h1 tabindex="-1">Line</h1>
    <form data-find role="search"><label>Structure number<input name="number" autocomplete="off" enterkeyhint="go" placeholder="9/2"></label>
      <button type="submit">Open</button></form><p data-found role="status"></p>
    <p>${loaded}</p><button type="button" class="primary" data-do="load">Load or renew the whole line</button>
    <p data-progress role="status">${progress}</p>${index() ? index().lines.map(lineBlock) : ""}</div>`);
}

/** The card a typed number means, or words saying why there is none. */
export function findTyped(text) {
  const found = cardsNumbered(text);
  if (found.length === 1) return { card: found[0] };
  const number = sameNumber(text);
  if (found.length > 1) return { words: `${number} is on several lines; open it from its mile` };
  return { words: `No structure ${number} on the phone. Write it like 9/2 or 12/3A.` };
}
