// What stands first on a card: a frame that is wrong, what stops work, holds now and to come, tickets, how old all that is.

import { html } from "../shared/html.js";
import { outerPoles, poleWords } from "../shared/number.js";
import { clash } from "./claims.js";
import { comingBlocks, heldNow, holdBlock, soonHeld } from "./holds.js";
import { index } from "./pack.js";
import { isValid, lastLocal, notInPack, recordedAnew, ticketFault, ticketHead, ticketWords } from "./steps.js";
import { agedWords } from "./when.js";
import { checkWords, momentWords } from "./words.js";

/** Severity of a finding that stops work. */
const STOPS = "stops work";

const block = (kind, head, words) => html`<p class="hold ${kind}"><b>${head}</b> ${words}</p>`;

/** What this phone recorded as not accepted, and nothing after it. */
const rejectedHere = (card) =>
  lastLocal(card)
    .filter(({ body }) => body.result === "rejected")
    .map(({ body }) => `${body.step} ${body.pole ? `of ${poleWords(card, body.pole)} ` : ""}not accepted, recorded on this phone ${momentWords(body.happened_at)}: must be done again`);

/** The newest check of this phone, where the frame failed it and the pack does not show it. */
function failedHere(found) {
  const last = notInPack(found).findLast(({ body }) => body.what === "check" && body.result === "done");
  return last?.body.content.verdict === "fail" ? [`crew ${checkWords(last.body)}, recorded on this phone ${momentWords(last.body.happened_at)}`] : [];
}

/** What is wrong with what stands at a card or head, in sentences; () = nothing that was found. */
const wrongAt = (found) => [...(found.wrong ?? []), ...rejectedHere(found), ...failedHere(found)];

function wrongHead({ reversed, verdict, pole_words: called }) {
  if (reversed) return `${outerPoles(called ?? ["A", "B"], " AND ")} REVERSED`;
  return verdict === "fail" ? "FRAME FAILS" : "WRONG";
}

/** @param {Phone.Card} card */
function wrongBlock(card) {
  const words = wrongAt(card);
  if (!words.length && !card.reversed) return "";
  return html`<div class="hold wrong"><b>${wrongHead(card)}</b> ${words.length > 1 ? html`<ul>${words.map((each) => html`<li>${each}</li>`)}</ul>` : words}</div>`;
}

/** @param {Phone.Card} card */
function ticketBlocks(card, steps) {
  const open = steps.filter((step) => !step.done && step.built).map(({ code }) => ticketFault(card, code));
  const faults = card.tickets.length && !card.tickets.some(isValid) ? card.tickets.map((ticket) => `${ticket.number} ${ticketWords(ticket)}`) : open.filter(Boolean);
  return [...new Set(faults)].map((words) => block("hold", ticketHead(card), words));
}

/** How old the pack is, where nothing newer can be known: "" = it is of today. */
function agedBlock() {
  const loaded = agedWords();
  return loaded && html`<p class="hold conditional" data-loaded><b>LOADED ${loaded.toUpperCase()}</b> Holds, releases and tickets entered since are not on this phone.</p>`;
}

/**
 * All of it, the worst first.
 * @param {Phone.Card} card
 */
function warnings(card, steps) {
  const wrong = new Set(card.wrong ?? []);
  const found = card.look_first.filter(({ words, values, stops }) => !wrong.has(words) && !(stops?.length && recordedAnew(steps, values.placed ?? [])));
  const stops = found.filter(({ severity }) => severity === STOPS);
  return html`${wrongBlock(card)}
    ${stops.map(({ in_the_way: way, words }) => block("hold", "STOP", way || words))}
    ${heldNow(card).map((hold) => holdBlock(hold, true))}
    ${ticketBlocks(card, steps)}
    ${clash(card) && block("hold", "TWO CREWS", "claim this structure; talk to each other")}
    ${comingBlocks(card, soonHeld(card))}
    ${card.shortages.map((words) => block("conditional", "MATERIAL", words))}
    ${found.filter(({ severity }) => severity !== STOPS).map(({ words }) => block("conditional", "LOOK", words))}
    ${index() && agedBlock()}`;
}

export { agedBlock, warnings, wrongAt };
