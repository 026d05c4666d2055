// The structure card: number, where back and ahead are, which pole is A, what holds, what is done, what is next.

import { html, render, renderSvg } from "../html.js";
import { me } from "./me.js";
import { card as find, index, lineOf } from "./pack.js";
import { holdsOn, isExpired, openSteps, stepsOf, unseen, usualStep } from "./steps.js";
import { waiting } from "./outbox.js";
import { poleWords } from "./words.js";

const SIDES = { 2: ["on your LEFT", "on your RIGHT"], 3: ["on your LEFT", "in the MIDDLE", "on your RIGHT"] };

/** Hash address of a card. */
export const cardLink = (card) => `#${new URLSearchParams({ v: "card", n: card.number, l: card.line })}`;

const neighbour = (card, number) => (number ? find(card.line, number) : undefined);

function way(card, word) {
  const line = lineOf(card);
  const [number, end, span] =
    word === "ahead" ? [card.ahead, line.ahead_end, card.ahead_span_text] : [card.back, line.back_end, card.back_span_text];
  const text = html`<small>${word}${end && html` <b>${end}</b>`}</small><b>${number || "line ends"}</b><small>${span}</small>`;
  const next = neighbour(card, number);
  return next ? html`<a class="way ${word}" href="${cardLink(next)}">${text}</a>` : html`<span class="way ${word}">${text}</span>`;
}

/** Whither a person faces, in words: "9/3 (ahead, to Amber Sill)". */
function toward(card, facing) {
  const line = lineOf(card);
  const [number, end] = facing === "ahead" ? [card.ahead, line.ahead_end] : [card.back, line.back_end];
  return number || end || facing;
}

function sides(card, facing) {
  const order = facing === "ahead" ? [...card.left_to_right] : [...card.left_to_right].reverse();
  return order.map((letter, place) => html`<b class="side"><i>${letter}</i> ${SIDES[order.length][place]}</b>`);
}

function facingBlock(card) {
  const { facing } = me();
  const other = facing === "ahead" ? "back" : "ahead";
  const button = (which) => html`<button type="button" data-do="face" data-facing="${which}"
    aria-pressed="${facing === which}">I face ${toward(card, which)}<small>${which}</small></button>`;
  return html`<section class="facing" aria-label="Which pole is A">
    <p class="stand">Back to <b>${toward(card, other)}</b>, facing <b>${toward(card, facing)}</b></p>
    <p class="sides">${sides(card, facing)}</p>
    <div class="sketch" data-sketch></div>
    <div class="pair">${button("back")}${button("ahead")}</div>
  </section>`;
}

/** One hold or ticket as a block. */
export const holdBlock = (hold) => html`<p class="hold ${hold.kind}">
  <b>${hold.kind === "hold" ? "HOLD" : "CONDITION"}</b> ${hold.sentence}</p>`;

function ticketBlock(ticket) {
  const words = html`<b>${isExpired(ticket) ? "EXPIRED" : "Ticket"}</b> ${isExpired(ticket) && "Ticket "}${ticket.number} ${ticket.sentence}`;
  return html`<p class="${isExpired(ticket) ? "hold hold" : "ticket"}">${words}</p>`;
}

const warnings = (card) => html`${card.holds.map(holdBlock)}
  ${card.reversed && html`<p class="hold hold"><b>A AND B</b> the survey has them the other way round</p>`}`;

function surroundings(card) {
  return html`${card.tickets.map(ticketBlock)}
    ${card.crossings.map((cross) => html`<p class="crossing"><b>${cross.caution || "Crossing"}</b>
      ${cross.what}, span ${cross.span}${cross.rule && `: ${cross.rule}`}</p>`)}
    ${card.briefing ? html`<p class="note">Briefing on record: <b>${card.briefing.when.slice(0, 16).replace("T", " ")}</b>, ${card.briefing.by}</p>` : html`<p class="note">No job briefing is recorded here.
      <a class="inline" href="#${new URLSearchParams({ v: "briefing", n: card.number, l: card.line })}">Record one</a></p>`}`;
}

function poles(card) {
  return html`<table class="poles"><caption>Poles</caption><thead><tr><th scope="col">Pole</th><th scope="col">Length</th>
    <th scope="col">Class</th><th scope="col">Ground wire</th></tr></thead><tbody>
    ${card.poles.map((pole) => html`<tr><th scope="row"><i class="disc ${pole.letter}">${pole.letter}</i></th><td>${pole.length_text || "not given"}</td>
      <td>${pole.pole_class || "not given"}</td><td>${pole.ground_wire ? "YES" : ""}</td></tr>`)}</tbody></table>`;
}

function stepRow(step) {
  const done = step.done ? "✓" : step.poles_done ? "½" : "";
  const said = step.done ? "done" : step.poles_done ? `only ${poleWords(step.poles_done)}` : "open";
  return html`<tr class="${step.done ? "done" : ""}"><td class="tick" aria-hidden="true">${done}</td>
    <th scope="row">${step.words}</th><td>${said}${step.local && html` <b class="local">this phone</b>`}</td>
    <td>${step.when}${step.crew && ` ${step.crew}`}</td></tr>`;
}

const progress = (steps) => html`<table class="steps"><caption>Steps</caption><thead class="unseen"><tr><th scope="col">Mark</th>
  <th scope="col">Step</th><th scope="col">State</th><th scope="col">When, who</th></tr></thead><tbody>${steps.map(stepRow)}</tbody></table>`;

function claims(card) {
  const own = waiting().filter(({ kind, body }) => kind === "claim" && body.structure === card.number && body.line === card.line);
  const standing = card.claims.filter(({ expires_at }) => Date.parse(expires_at) > Date.now());
  const rows = [
    ...standing.map((claim) => html`<li><b>${claim.crew}</b> until ${claim.expires_at.slice(0, 16).replace("T", " ")}</li>`),
    ...own.map(({ body }) => html`<li><b>${body.crew}</b> from this phone, <b>not confirmed</b></li>`),
  ];
  const clash = new Set([...standing.map(({ crew }) => crew), ...own.map(({ body }) => body.crew)]).size > 1;
  return html`<section class="claims"><h2>Claims</h2>${clash && html`<p class="hold hold"><b>TWO CREWS</b> claim this structure; talk to each other</p>`}
    <ul>${rows.length ? rows : html`<li>none on record; that says nothing of who is there</li>`}</ul>
    <button type="button" data-do="claim">Claim for ${me().crew || "my crew"} today</button></section>`;
}

function history(card) {
  const local = unseen(card).map(({ body }) => html`<li>${body.happened_at.slice(0, 16).replace("T", " ")}
    ${body.step} ${poleWords(body.pole)} ${body.result === "done" ? "" : body.result} <b class="local">this phone</b></li>`);
  return html`<section><h2>Last records</h2><ul class="history">${local.reverse()}
    ${card.last.map(({ when, text }) => html`<li>${when.slice(0, 16).replace("T", " ")} ${text}</li>`)}</ul>
    ${card.findings.length ? html`<h2>To look at</h2><ul>${card.findings.map((words) => html`<li>${words}</li>`)}</ul>` : ""}
    <h2>Revision</h2><p>${card.revision ? `Structure list Rev ${card.revision.replace(/^rev\.?\s*/i, "")}` : "no revision label"}</p>
    ${card.changes.length ? html`<ul>${card.changes.map((words) => html`<li>${words}</li>`)}</ul>` : ""}</section>`;
}

function recordBar(card, steps) {
  const usual = usualStep(me().crew);
  const [first, ...others] = openSteps(steps).sort((a, b) => (b === usual) - (a === usual));
  const held = first !== undefined && holdsOn(card, first).length > 0;
  const link = (code) => `#${new URLSearchParams({ v: "record", n: card.number, l: card.line, s: code })}`;
  const name = (code) => steps.find((step) => step.code === code).words;
  return html`<nav class="record-bar" aria-label="Record">
    ${first ? html`<a class="primary" href="${link(first)}">Record <b>${name(first)}</b>${held && html`<small>a hold stands</small>`}</a>` : html`<span class="primary none">No open step</span>`}
    <a class="other" href="${link("")}">Other${others.length ? html`<small>${others.length} open</small>` : ""}</a></nav>`;
}

/** Show a card in `main`. */
export function showCard(main, card) {
  const steps = stepsOf(card);
  render(
    main,
    html`<article class="card"><header><h1 tabindex="-1">${card.number}</h1>
      <p class="place">${card.station_text}${card.region && ` (region ${card.region})`}<br>${card.type_words || card.type}
      ${card.deflection_text && html`<br><b>angle ${card.deflection_text}</b>`}</p></header>
      <div class="ways">${way(card, "back")}${way(card, "ahead")}</div>
      ${warnings(card)}${facingBlock(card)}${poles(card)}${surroundings(card)}${progress(steps)}${claims(card)}${history(card)}
      <a class="button" href="#${new URLSearchParams({ v: "plan", n: card.number, l: card.line })}">Plan of the surroundings</a>
      <p class="caution">${index().caution}</p></article>${recordBar(card, steps)}`,
  );
  renderSvg(main.querySelector("[data-sketch]"), me().facing === "ahead" ? card.sketch_svg : card.sketch_back_svg);
}

