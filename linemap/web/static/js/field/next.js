// Where to next: the server's list when it answers, else one made on the phone in line order, and said so.

import { html, render } from "../html.js";
import { cardLink } from "./card.js";
import { askJson } from "./http.js";
import { me } from "./me.js";
import { card as find, cards, hoursOld, index, lineOf } from "./pack.js";
import { holdsOn, openSteps, stepsOf, ticketFault, usualStep } from "./steps.js";
import { distance, fix, nearest } from "./where.js";
import { agoWords, clockWords, lengthWords } from "./words.js";

const PATIENCE_MS = 4000;
const MOST = 10;

function outward(from) {
  const own = cards().filter(({ line }) => line === from.line);
  const at = own.indexOf(from);
  return [...own.slice(at), ...own.slice(0, at).reverse()];
}

const stepWords = (code) => index().workflow.steps.find((step) => step.code === code)?.words ?? code;

function consider(card, from, wanted) {
  const open = openSteps(stepsOf(card));
  const code = wanted ? open.find((one) => one === wanted) : open[0];
  if (!code) return null;
  const holds = holdsOn(card, code);
  const stops = [...holds.filter(({ kind }) => kind === "hold").map(({ sentence }) => sentence), ticketFault(card, code)];
  const away = card === from ? "here" : `${lengthWords(distance(card, from), lineOf(card).unit)} by air`;
  return {
    number: card.number, station_text: card.station_text, next_step: code, distance_text: away, bearing_text: "", travel_text: "",
    why: ["what it requires is recorded"],
    conditions: holds.filter(({ kind }) => kind === "conditional").map(({ sentence }) => sentence),
    sentence: stops.filter(Boolean).join("; "),
  };
}

/** The list made on this phone: line order from a structure, first ahead and then back; holds are refused. */
export function computed(from, crew) {
  const wanted = usualStep(crew);
  const rows = outward(from).map((card) => consider(card, from, wanted)).filter(Boolean);
  return {
    for: crew, as_of: index().as_of, ordered_by: "line", where: null,
    workable: rows.filter(({ sentence }) => !sentence).slice(0, MOST),
    refused: rows.filter(({ sentence }) => sentence).slice(0, MOST),
    caution: index().caution,
  };
}

async function fromServer(from, crew) {
  const at = fix();
  const place = at
    ? { longitude: at.longitude, latitude: at.latitude, accuracy_m: at.accuracy_m }
    : { from: from.number };
  return askJson("GET", `/api/next?${new URLSearchParams({ crew, line: from.line, limit: 2 * MOST, ...place })}`, { patience: PATIENCE_MS });
}

function row(line, item) {
  const card = find(line, item.number);
  const facts = [item.distance_text, item.bearing_text].filter(Boolean).join(", ");
  return html`<li><a class="next-row" href="${card ? cardLink(card) : "#"}"><b class="big">${item.number}</b>
    <span><b>${stepWords(item.next_step)}</b> ${facts}${item.travel_text && html`<small>${item.travel_text}</small>`}<small>${item.why.join("; ")}</small>
    ${item.conditions.map((words) => html`<small class="condition"><b>ONLY WITH</b> ${words}</small>`)}</span></a></li>`;
}

const source = (list, at) =>
  at
    ? html`From the server at <b>${clockWords(at)}</b>, ordered by ${list.ordered_by === "access" ? "travel on the access roads" : "line order"}.`
    : html`<b>Made on this phone</b> from data loaded ${agoWords(hoursOld())}: line order, first ahead, then back. Roads, rivers, gates, material and other crews' claims are not looked at.`;

function whereWords(where) {
  if (!where) return "";
  return html`<p class="where">${where.sentence || `${where.station_text} ${where.offset_text}`} ${where.accuracy_text}</p>`;
}

function crewChoice() {
  if (me().crew) return "";
  return html`<h2>Which crew is this phone's?</h2><div class="chips">${index().crews.map((crew) => html`<button type="button" data-do="crew" data-crew="${crew}">${crew}</button>`)}</div>`;
}

function show(main, from, list, at) {
  const refused = list.refused.length ? html`<details class="refused"><summary>${list.refused.length} not to be gone to now</summary><ul>
    ${list.refused.map(({ number, sentence }) => html`<li>${sentence.startsWith(number) ? sentence : html`<b>${number}</b> ${sentence}`}</li>`)}</ul></details>` : "";
  render(main, html`<div class="next"><h1 tabindex="-1">Next for ${list.for || "any crew"}</h1>${crewChoice()}<p class="source">${source(list, at)}</p>${whereWords(list.where)}
    <ol class="plain">${list.workable.length ? list.workable.map((item) => row(from.line, item)) : html`<li>No structure with an open step is on record.</li>`}</ol>
    ${refused}<p class="caution">${list.caution}</p></div>`);
}

/** Show the list for the crew: at once from the phone, then from the server when it answers. */
export async function showNext(main, last, stillHere) {
  const at = fix();
  const from = (at && nearest(at)?.[0]) ?? last ?? cards()[0];
  if (!from) {
    render(main, html`<div class="next"><h1 tabindex="-1">Next</h1><p>Nothing is on this phone yet: load the line first.</p></div>`);
    return;
  }
  const { crew } = me();
  show(main, from, computed(from, crew), 0);
  if (!crew) return;
  try {
    const list = await fromServer(from, crew);
    if (stillHere()) show(main, from, list, Date.now());
  } catch {
    // the list of the phone stays, and says that it is the phone's
  }
}
