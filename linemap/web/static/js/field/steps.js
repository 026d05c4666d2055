// Where a structure stands: what its pack says, with the records of this phone that the pack cannot know yet.

import { stepsOfHead, stopsOf } from "./head.js";
import { heldNow, soonHeld } from "./holds.js";
import { hasRole } from "./me.js";
import { eventsAt } from "./outbox.js";
import { applyGuys, begun, ofGuys } from "./parts.js";
import { dataVersionOf, index, work } from "./pack.js";
import { comingWords, ticketServes, ticketTerm, today } from "./when.js";

const together = (letters, more) => [...new Set([...letters, ...more])].sort().join("");

function apply(step, body, letters) {
  if (ofGuys(step)) return applyGuys(step, body);
  const { pole, result } = body;
  const touched = step.per === "pole" ? pole || letters : "";
  if (result === "done") {
    step.poles_done = together(step.poles_done, touched);
    step.done = step.per !== "pole" || [...letters].every((letter) => step.poles_done.includes(letter));
  } else {
    step.poles_done = [...step.poles_done].filter((letter) => !touched.includes(letter)).join("");
    step.done = false;
  }
}

/**
 * Records of this phone that count and that the card's pack does not show: not sent, sent since, or made after
 * the day the job is shown for. Takes a card or a head.
 */
function notInPack(card) {
  const local = eventsAt(card.line, card.number);
  if (!local.length) return local;
  const [packed, shown] = [dataVersionOf(card), index().as_of];
  const superseded = new Set(local.map(({ body }) => body.supersedes).filter(Boolean));
  const own = new Set(local.map(({ id }) => id));
  return local.filter(({ body, id, version }) => {
    if (superseded.has(id)) return false;
    if (version !== undefined && version <= packed && body.happened_at.slice(0, 10) <= shown) return false;
    return !(body.result === "withdrawn" && own.has(body.supersedes));
  });
}

/**
 * The steps of a card or a head as they stand on this phone; `local` marks what a record of this phone changed. */
function stepsOf(card) {
  const letters = [...card.left_to_right].sort().join("");
  const steps = (card.steps ?? stepsOfHead(card, index().workflow.steps)).map((step) => ({ ...step, built: !card.not_built.includes(step.code), local: false }));
  for (const { body } of notInPack(card)) {
    const step = steps.find(({ code }) => code === body.step);
    const rule = index().workflow.steps.find(({ code }) => code === body.step);
    if (!step || (body.result === "done" && !hasRole(rule?.roles))) continue;
    apply(step, body, letters);
    Object.assign(step, { local: true, when: body.happened_at.slice(0, 10), crew: body.crew });
  }
  return steps;
}

/** Codes of the steps whose requirements are met, begun ones first, then in the order of the workflow. */
function openSteps(steps) {
  const done = new Set(steps.filter((step) => step.done).map(({ code }) => code));
  const rules = new Map(index().workflow.steps.map((rule) => [rule.code, rule]));
  const open = steps.filter(
    ({ code, built }) => built && !done.has(code) && (rules.get(code)?.requires ?? []).every((need) => done.has(need)),
  );
  return open.sort((a, b) => Number(begun(b)) - Number(begun(a))).map(({ code }) => code);
}

/** Holds in force at a card that touch a step. */
const holdsOn = (card, code) => heldNow(card).filter((hold) => hold.stops.includes(code));

/** What begins within a few days and touches a step, in sentences. */
const comingOn = (card, code, free = true) => soonHeld(card).filter((hold) => hold.stops.includes(code)).map((hold) => comingWords(hold, free));

/** Has this phone recorded anew one of the steps that a finding says to record again? */
const recordedAnew = (steps, placed) => steps.some((step) => step.local && step.done && placed.includes(step.code));

/** The newest of this phone's records that the pack does not know, of each step and pole. */
const lastLocal = (found) => [...new Map(notInPack(found).filter(({ body }) => (body.what ?? "step") === "step").map((entry) => [`${entry.body.step} ${entry.body.pole}`, entry])).values()];

/** What findings say stops a step of a card or a head, in sentences; what this phone recorded anew ends it. */
function stopsOn(found, code, steps) {
  return (found.stops ?? stopsOf(found)).filter(({ stops, placed }) => stops.includes(code) && !recordedAnew(steps, placed)).map(({ words }) => words);
}

/**
 * How a ticket stands, in words; one of a pack of an older version says it as of its own day.
 * @param {Answer.CardTicket} ticket
 */
const ticketWords = (ticket) => (ticket.covers ? `covers ${ticket.covers}, ${ticketTerm(ticket)}` : ticket.sentence);

/** What is said before a fault of the tickets of a card. */
const ticketHead = ({ tickets }) => (tickets.length && tickets.every(({ valid_to: last }) => last && last < today()) ? "TICKET EXPIRED" : "TICKET");

/** Is a ticket one to go by today, for poles at least? */
const isValid = (ticket) => ticketServes(ticket, false);

/** Why a step that digs has no ticket to go by, in words; "" when it has one, or does not dig. */
function ticketFault(card, code) {
  const rule = index().workflow.steps.find((step) => step.code === code);
  if (!rule?.needs_ticket) return "";
  if (!card.tickets.length) return index().tickets_kept === false ? "" : "no locate ticket on record covers it";
  if (card.tickets.some((ticket) => ticketServes(ticket, rule.sets_anchors))) return "";
  return card.tickets.map((ticket) => `ticket ${ticket.number} ${ticketWords(ticket)}`).join("; ");
}

/** What the yard's list says is missing for a step, in words; () for steps that need no material. */
const lacking = (card, code) => (index().workflow.steps.find((step) => step.code === code)?.needs_material ? card.shortages : []);

/** Claims of a structure that have not ended, by other crews than this one. */
const claimsOfOthers = (card, crew) => card.claims.filter((claim) => claim.crew.toLowerCase() !== crew.toLowerCase() && Date.parse(claim.expires_at) > Date.now());

/** The step this crew records most often, by the packs; "" when it recorded none. */
function usualStep(crew) {
  const times = new Map();
  for (const crews of work()) {
    for (const [code, count] of Object.entries(crews[crew] ?? {})) times.set(code, (times.get(code) ?? 0) + count);
  }
  return [...times].sort((a, b) => b[1] - a[1])[0]?.[0] ?? "";
}

export { comingOn, isValid, lastLocal, recordedAnew, notInPack, stepsOf, openSteps, holdsOn, stopsOn, ticketFault, ticketHead, ticketWords, lacking, claimsOfOthers, usualStep };
