// The structure card: number, where back and ahead are, which pole is A, what holds, what is done, what is next.

import { html, render } from "../shared/html.js";
import { poleName, poleWords } from "../shared/number.js";
import { claimsBlock } from "./claims.js";
import { comingBlocks, endedWords, laterHeld } from "./holds.js";
import { me } from "./me.js";
import { eventsAt } from "./outbox.js";
import { head, index, lineOf } from "./pack.js";
import { begun, begunWords } from "./parts.js";
import { punchBlock, punchWarning, punchWords } from "./punch.js";
import { readingWords } from "./readings.js";
import { sketch } from "./sketch.js";
import { holdsOn, isValid, lacking, openSteps, stepsOf, notInPack, ticketWords, usualStep } from "./steps.js";
import { warnings } from "./warnings.js";
import { checkWords, momentWords, shortDay, viewLink } from "./words.js";

const SIDES = { 2: ["on your LEFT", "on your RIGHT"], 3: ["LEFT", "MIDDLE", "RIGHT"] };

/** Hash address of a card. */
const cardLink = (card) => viewLink("card", card);

/** What goes back to a card once something is kept, unless somebody has gone elsewhere since this was called. */
function backTo(/** @type {Phone.Card | Phone.Head | null} */ card) {
  const from = location.hash;
  return () => {
    if (location.hash === from) location.hash = cardLink(card).slice(1);
  };
}

/** @param {Phone.Card} card
 * @param {"back" | "ahead"} word */
function way(card, word) {
  const line = lineOf(card);
  const [number, end, span] =
    word === "ahead" ? [card.ahead, line.ahead_end, card.ahead_span_text] : [card.back, line.back_end, card.back_span_text];
  const text = html`<small>${word}${end && html` <b>${end}</b>`}</small><b>${number || "line ends"}</b><small>${span}</small>`;
  const next = number ? head(card.line, number) : undefined;
  return next ? html`<a class="way ${word}" href="${cardLink(next)}">${text}</a>` : html`<span class="way ${word}">${text}</span>`;
}

/** Whither a person faces: "9/3", or the name of the line's end. */
function toward(card, facing) {
  const line = lineOf(card);
  const [number, end] = facing === "ahead" ? [card.ahead, line.ahead_end] : [card.back, line.back_end];
  return number || end || facing;
}

/** The letters of the poles from left to right for a person who faces ahead or back. */
const fromLeft = (card, facing) => (facing === "ahead" ? [...card.left_to_right] : [...card.left_to_right].reverse());

/** Where the person stands, in words, and on which side each pole then is. */
function standing(card) {
  const { facing } = me();
  const order = fromLeft(card, facing);
  const sides = order.map((letter, place) => html`<b class="side"><i>${poleName(card, letter)}</i> ${(SIDES[order.length] ?? [])[place]}</b>`);
  return html`<p class="stand">Back to <b>${toward(card, facing === "ahead" ? "back" : "ahead")}</b>, facing <b>${toward(card, facing)}</b></p>
    <p class="sides of-${order.length}">${sides}</p>`;
}

function facingBlock(card) {
  const { facing } = me();
  const button = (which) => html`<button type="button" data-do="face" data-facing="${which}"
    aria-pressed="${facing === which}">I face ${toward(card, which)}<small>${which}</small></button>`;
  return html`<section class="facing" aria-label="Which pole is ${poleName(card, "A")}">${standing(card)}
    <div class="sketch">${sketch(card, lineOf(card), facing)}</div>
    <div class="pair">${button("back")}${button("ahead")}</div>
  </section>`;
}

/** The tickets, unless none is valid: then they stand on top. */
const ticketList = ({ tickets }) => (tickets.some(isValid) ? tickets.map((ticket) => html`<p class="ticket"><b>Ticket</b> ${ticket.number} ${ticketWords(ticket)}</p>`) : "");

function briefingNote(card) {
  const link = (words) => html`<a class="inline" href="${viewLink("briefing", card)}">${words}</a>`;
  if (!card.briefing) return html`<p class="note">No job briefing is recorded here. ${link("Brief and record")}</p>`;
  return html`<p class="note">Briefing on record: <b>${momentWords(card.briefing.when)}</b>, ${card.briefing.by}. ${link("Brief again")}</p>`;
}

const listed = (item) => html`<p class="note">${item.name}: ${item.fields.map((field) => `${field.label} ${field.text}`).join(", ")}</p>`;

/** @param {Phone.Card} card */
const surroundings = (card) => html`${comingBlocks(card, laterHeld(card))}${endedWords(card).map((words) => html`<p class="note">${words}</p>`)}${ticketList(card)}${(card.lists ?? []).map(listed)}
  ${card.crossings.map((cross) => html`<p class="crossing"><b>${cross.caution || "Crossing"}</b>
    ${cross.what}, span ${cross.span}${cross.rule && `: ${cross.rule}`}</p>`)}${briefingNote(card)}`;

/** @param {Phone.Card} card */
function poles(card) {
  return html`<table class="poles"><caption>Poles</caption><thead><tr><th scope="col">Pole</th><th scope="col">Length</th>
    <th scope="col">Class</th><th scope="col">Ground wire</th></tr></thead><tbody>
    ${card.poles.map((pole) => html`<tr><th scope="row"><i class="disc ${pole.letter}">${poleName(card, pole.letter)}</i></th><td>${pole.length_text || "not given"}</td>
      <td>${pole.pole_class || "not given"}</td><td>${pole.ground_wire ? "YES" : "–"}</td></tr>`)}</tbody></table>
    <p class="face"><b>Arm face:</b> ${card.arm_face ? card.arm_face : "not in the lists of this job; by the drawing"}</p>`;
}

function poleMarks(card, pole) {
  return html`<table class="marks"><caption><i class="disc ${pole.letter}">${poleName(card, pole.letter)}</i> ${pole.depth_text && html`depth <b>${pole.depth_text}</b>`}
    ${pole.brand_text && html`, brand <b>${pole.brand_text}</b> above ground`}</caption>
    <thead><tr><th scope="col">Mark</th><th scope="col">from top</th><th scope="col">from butt</th></tr></thead>
    <tbody>${pole.marks.map(([name, top, butt]) => html`<tr><th scope="row">${name}</th><td>${top}</td><td>${butt}</td></tr>`)}</tbody></table>`;
}

/** @param {Phone.Card} card */
function marks(card) {
  if (!card.marks) return "";
  const { poles: marked, sentences, unavailable, drawings, bundle } = card.marks;
  return html`<details class="part"><summary><b>Framing marks</b></summary>${marked.map((pole) => poleMarks(card, pole))}
    <ul>${sentences.map((words) => html`<li>${words}</li>`)}${unavailable.map((words) => html`<li>not available: ${words}</li>`)}</ul>
    ${bundle.length ? html`<p><b>To load:</b> ${bundle.join(", ")}</p>` : ""}
    ${drawings.length ? html`<p><b>Drawings:</b> ${drawings.join(", ")}. The stamped drawing governs; a depth here is no permission to dig.</p>` : ""}</details>`;
}

function stateWords(card, step) {
  if (step.done) return step.missing.length && !step.local ? "claimed" : "done";
  if (!step.built) return "none here";
  return begun(step) ? begunWords(card, step) : "open";
}

function stepRow(card, step) {
  const done = step.done ? "✓" : begun(step) ? "½" : "";
  const said = stateWords(card, step);
  return html`<tr class="${step.done || !step.built ? "done" : ""}"><td class="tick" aria-hidden="true">${done}</td>
    <th scope="row">${step.words}${step.per === "span" && html`<small>${(step.parts ?? []).join(", ")}</small>`}</th><td>${said}${step.local && html` <b class="local">this phone</b>`}${!step.local && step.missing.length ? html`<small>no ${step.missing.join(", no ")}</small>` : ""}</td>
    <td>${step.when && shortDay(step.when, index().as_of)}${step.crew && ` ${step.crew}`}</td></tr>`;
}

const progress = (card, steps) => html`<table class="steps"><caption>Steps</caption><thead class="visually-hidden"><tr><th scope="col">Mark</th>
  <th scope="col">Step</th><th scope="col">State</th><th scope="col">When, who</th></tr></thead><tbody>${steps.map((step) => stepRow(card, step))}</tbody></table>`;

/** @param {Phone.Card} card */
const crewChecks = (card) =>
  (card.crew_checks ?? []).length > 0 &&
  html`<section><h2>Crew checks, no survey</h2><ul>${card.crew_checks.map((check) => html`<li>${check.words}${check.survey && html`<br>${check.survey}`}</li>`)}</ul></section>`;

/** @param {Phone.Card} card */
function history(card) {
  const local = notInPack(card).filter(({ body }) => !["case", "moved"].includes(body.what)).map(({ body }) => html`<li>${momentWords(body.happened_at)}
    ${body.what === "punch" ? punchWords(body) : body.what === "check" ? checkWords(body) : html`${body.step} ${body.part ?? ""}`} ${poleWords(card, body.pole)} ${body.result === "done" ? "" : body.result} ${readingWords(body, card)} <b class="local">this phone</b></li>`);
  const known = new Set(notInPack(card).map(({ id }) => id));
  const toLook = card.findings.filter((words) => !(card.cases ?? []).some((found) => found.words === words));
  const own = new Set(eventsAt(card.line, card.number).map(({ id }) => id));
  const others = card.last.filter(({ id }) => !known.has(id));
  return html`${crewChecks(card)}<section><h2>Last records</h2><ul class="history">${local.reverse()}
    ${others.map(({ id, when, text, movable }) => html`<li>${momentWords(when)} ${text}${movable && own.has(id) && html` <a class="inline" href="${viewLink("move", card, { id })}">Wrong place?</a>`}</li>`)}</ul>
    ${toLook.length ? html`<h2>To look at</h2><ul>${toLook.map((words) => html`<li>${words}</li>`)}</ul>` : ""}
    <h2>Revision</h2><p>${card.revision ? `Structure list, revision ${card.revision}` : "no revision label"}</p>
    ${card.changes.length ? html`<ul>${card.changes.map((words) => html`<li>${words}</li>`)}</ul>` : ""}</section>`;
}

function recordBar(card, steps) {
  const usual = usualStep(me().crew);
  const [first, ...others] = openSteps(steps).sort((a, b) => Number(b === usual) - Number(a === usual));
  const held = first !== undefined && holdsOn(card, first).some(({ kind }) => kind === "hold");
  const note = held ? "a hold stands" : first && lacking(card, first).length ? "material is missing" : "";
  const name = (code) => steps.find((step) => step.code === code).words;
  return html`<nav class="record-bar" aria-label="Record">
    ${first ? html`<a class="primary" href="${viewLink("record", card, { s: first })}">Record <b>${name(first)}</b>${note && html`<small>${note}</small>`}</a>` : html`<span class="primary none">No open step</span>`}
    <a class="other" href="${viewLink("record", card, { s: "" })}">Other${others.length ? html`<small>${others.length} open</small>` : ""}</a></nav>`;
}

/**
 * Show a card in `main`.
 * @param {HTMLElement} main
 * @param {Phone.Card} card
 */
function showCard(main, card) {
  const steps = stepsOf(card);
  render(
    main,
    html`<article class="card"><header><h1 tabindex="-1">${card.number}</h1>
      <p class="place">${card.station_text}${card.region && ` (region ${card.region})`}<br>${card.type_words || card.type}
      ${card.deflection_text && html`<br><b>angle ${card.deflection_text}</b>`}</p></header>
      ${warnings(card, steps)}${punchWarning(card)}<div data-cases></div><div class="ways">${way(card, "back")}${way(card, "ahead")}</div>
      ${facingBlock(card)}${poles(card)}${marks(card)}
      <a class="button wide" href="${viewLink("tape", card)}">Check the frame by tape<small>before the backfill is tamped</small></a>
      <a class="button wide" href="${viewLink("rover", card)}">Check the frame by rover<small>before the backfill is tamped</small></a>${surroundings(card)}${progress(card, steps)}${punchBlock(card)}${claimsBlock(card)}${history(card)}
      ${(index().emergency ?? []).map((words) => html`<p class="note">${words}</p>`)}
      <a class="button wide" href="${viewLink("plan", card)}">Plan of the surroundings</a>
      <p class="caution">${index().caution}</p></article>${recordBar(card, steps)}`,
  );
}

export { viewLink, backTo, cardLink, fromLeft, standing, showCard };
