// Where a structure stands: what its pack says, with the records of this phone that the pack cannot know yet.

import { eventsAt } from "./outbox.js";
import { cards, dayNow, index } from "./pack.js";

const together = (letters, more) => [...new Set([...letters, ...more])].sort().join("");

function apply(step, { pole, result }, letters) {
  const touched = step.per === "pole" ? pole || letters : "";
  if (result === "done") {
    step.poles_done = together(step.poles_done, touched);
    step.done = step.per === "structure" || [...letters].every((letter) => step.poles_done.includes(letter));
  } else {
    step.poles_done = [...step.poles_done].filter((letter) => !touched.includes(letter)).join("");
    step.done = false;
  }
}

/** Records of this phone that count and that the card's pack does not hold yet. */
export function unseen(card) {
  const local = eventsAt(card.line, card.number);
  const superseded = new Set(local.map(({ body }) => body.supersedes).filter(Boolean));
  const own = new Set(local.map(({ id }) => id));
  return local.filter(({ body, id, version }) => {
    if (superseded.has(id) || (version !== undefined && version <= card.dataVersion)) return false;
    return !(body.result === "withdrawn" && own.has(body.supersedes));
  });
}

/** The steps of a card as they stand on this phone; `local` marks those a record of this phone changed. */
export function stepsOf(card) {
  const letters = [...card.left_to_right].sort().join("");
  const steps = card.steps.map((step) => ({ ...step, local: false }));
  for (const { body } of unseen(card)) {
    const step = steps.find(({ code }) => code === body.step);
    if (!step) continue;
    apply(step, body, letters);
    Object.assign(step, { local: true, when: body.happened_at.slice(0, 10), crew: body.crew });
  }
  return steps;
}

/** Codes of the steps whose requirements are met, begun ones first, then in the order of the workflow. */
export function openSteps(steps) {
  const done = new Set(steps.filter((step) => step.done).map(({ code }) => code));
  const rules = new Map(index().workflow.steps.map((rule) => [rule.code, rule]));
  const open = steps.filter(
    ({ code }) => !done.has(code) && (rules.get(code)?.requires ?? []).every((need) => done.has(need)),
  );
  return open.sort((a, b) => Boolean(b.poles_done) - Boolean(a.poles_done)).map(({ code }) => code);
}

/** Holds of a card that touch a step. */
export const holdsOn = (card, code) => card.holds.filter((hold) => hold.stops.includes(code));

/** Had a ticket run out on the day that counts? */
export const isExpired = (ticket) => ticket.valid_to !== "" && ticket.valid_to < dayNow();

/** Why a step that digs has no ticket to go by, in words; "" when it has one, or does not dig. */
export function ticketFault(card, code) {
  if (!index().workflow.steps.find((step) => step.code === code)?.needs_ticket) return "";
  if (!card.tickets.length) return "no locate ticket on record covers it";
  if (!card.tickets.every(isExpired)) return "";
  return card.tickets.map(({ number, sentence }) => `ticket ${number} ${sentence}`).join("; ");
}

/** The step this crew records most often, by the packs; "" when it recorded none. */
export function usualStep(crew) {
  const times = new Map();
  for (const { steps } of cards()) {
    for (const step of steps) if (step.crew === crew) times.set(step.code, (times.get(step.code) ?? 0) + 1);
  }
  return [...times].sort((a, b) => b[1] - a[1])[0]?.[0] ?? "";
}
