// The list of what is next, made on the phone alone: the nearest along the line first, what lies beyond a river last.

import { heads, index, lineOf } from "./pack.js";
import { claimsOfOthers, comingOn, holdsOn, lacking, openSteps, stepsOf, stopsOn, ticketFault, usualStep } from "./steps.js";
import { distance } from "./where.js";
import { lengthWords, momentWords } from "./words.js";

const MOST = 20;

/** What stands in the way of a step at a structure, in sentences; () = nothing that the phone knows of. */
function stops(found, code, steps, crew) {
  const requires = index().workflow.steps.find((step) => step.code === code)?.requires ?? [];
  const words = (wanted) => index().workflow.steps.find((step) => step.code === wanted)?.words ?? wanted;
  const missing = requires.filter((need) => !steps.find((step) => step.code === need)?.done);
  const ticket = ticketFault(found, code);
  return [
    ...lacking(found, code),
    ...holdsOn(found, code).filter(({ kind }) => kind === "hold").map(({ sentence }) => sentence),
    ...(ticket ? [ticket] : []),
    ...stopsOn(found, code, steps),
    ...missing.map((need) => `${words(need)} is not on record`),
    ...claimsOfOthers(found, crew).map((claim) => `claimed by ${claim.crew} until ${momentWords(claim.expires_at)}`),
  ];
}

/** The stretches of a line that no vehicle crosses, by the places of the structures before and after them. */
function barriersOf(own, line) {
  const place = new Map(own.map((found, at) => [found.number, at]));
  return line.barriers.map((one) => ({ ...one, at: place.get(one.back) })).filter(({ at }) => at !== undefined);
}

/** Metres along the line from its first structure, structure by structure. */
function alongOf(own) {
  const along = [0];
  for (let at = 1; at < own.length; at += 1) along.push(along[at - 1] + distance(own[at], own[at - 1]));
  return along;
}

const conditionsOf = (found, code) => [
  ...holdsOn(found, code).filter(({ kind }) => kind === "conditional").map(({ sentence }) => sentence),
  ...comingOn(found, code),
  ...(found.punch ?? []).map((words) => `punch item ${words}`),
];

function rowOf({ found, code, metres, cuts }, unit) {
  const far = metres < 1 ? "here" : `${lengthWords(metres, unit)} along the line`;
  const beyond = cuts.map((cut) => `beyond the ${cut.what} between ${cut.back} and ${cut.ahead}: ${cut.words}`);
  return { number: found.number, next_step: code, length_text: far, compass: "", travel_text: beyond.join("; "), roads_text: beyond.join("; "), in_all_text: "", conditions: conditionsOf(found, code) };
}

/** The list for a crew from a structure on; with the shape of the server's answer. */
function computed(from, crew) {
  const wanted = usualStep(crew);
  const line = lineOf(from);
  const own = heads().filter((found) => found.line === from.line);
  const [here, along, barriers] = [own.indexOf(from), alongOf(own), barriersOf(own, line)];
  const workable = [];
  const refused = [];
  own.forEach((found, at) => {
    const steps = stepsOf(found);
    const code = wanted || openSteps(steps)[0];
    if (!code || found.not_built.includes(code) || steps.find((step) => step.code === code)?.done) return;
    const reasons = stops(found, code, steps, crew);
    if (reasons.length) {
      refused.push({ number: found.number, reason: reasons.join("; also ") });
      return;
    }
    const cuts = barriers.filter((cut) => Math.min(here, at) <= cut.at && cut.at < Math.max(here, at));
    workable.push({ found, code, metres: Math.abs(along[at] - along[here]), cuts });
  });
  workable.sort((a, b) => a.cuts.length - b.cuts.length || a.metres - b.metres);
  return {
    for: crew, as_of: index().as_of, ordered_by: "line", where: null, workable_count: workable.length,
    workable: workable.slice(0, MOST).map((one) => rowOf(one, line.unit)), refused, caution: index().caution,
  };
}

export { computed };
