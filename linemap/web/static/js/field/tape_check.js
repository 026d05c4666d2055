// One check by tape as it goes on: what stands, what was taped, what to tape next, what it tells. No page here.

import { expectedOf, groupOf, judge, levelDistance, misreadsOf, movesOf, readingsOf, toRepeat, zonesOf } from "./tape_solve.js";

/** Inches in a foot, centimetres in a metre: girths are taped in them. */
const GIRTH_PER = { ft: 12, m: 100 };
/** A girth between these is one, in feet; half and twice any pole of a line. */
const GIRTHS_FT = [1.5, 9];
const FOOT = 0.3048;

/**
 * @typedef {{ key: string, plan: string, lost: string[], girths: Record<string, number>, slope: boolean | null, stage: "start" | "read" | "answer",
 *   phase: "quick" | "full" | "more", taped: Record<string, { read: number, rise: number }[]>, asking: number[], at: number }} Check
 */

/** The place in memory of a check: one a structure. */
const keyOf = (card) => `${card.line}\n${card.number}`;

/** A check of a card that has not begun. @returns {Check} */
const begun = (card) => ({ key: keyOf(card), plan: card.tape.plan, lost: [], girths: {}, slope: null, stage: "start", phase: "quick", taped: {}, asking: [], at: 0 });

/** The set of readings a check is at; undefined when nothing can be proved from the stakes that stand. */
function setOf(check, plan) {
  const group = groupOf(plan, check.lost);
  if (!group) return undefined;
  const more = moreOf(check, plan);
  if (check.phase === "more" && more >= 0) return plan.sets[more];
  return plan.sets[check.phase === "quick" && group.quick >= 0 ? group.quick : group.full];
}

/** How many readings the full set has, for the stakes that stand. */
const fullSize = (check, plan) => plan.sets[groupOf(plan, check.lost)?.full ?? 0].readings.length;

/** The set with readings more, of which some may be from stakes that no other set needs; -1 = none, or one of these is lost. */
function moreOf(check, plan) {
  const more = groupOf(plan, check.lost)?.more ?? -1;
  return more >= 0 && readingsOf(plan, plan.sets[more]).every(([from]) => !check.lost.includes(from)) ? more : -1;
}

/** Is it the quick set that a check is at? It may only pass. */
const isQuick = (check, plan) => check.phase === "quick" && (groupOf(plan, check.lost)?.quick ?? -1) >= 0;

/** The radius of each pole from left to right, and which girths were taped; NaN where nothing tells it. */
function radiiOf(check, card, plan) {
  const known = [...plan.letters].map((letter) => {
    const girth = check.girths[letter];
    return girth ? girth / GIRTH_PER[plan.unit] / (2 * Math.PI) : (card.tape.radii[letter] ?? NaN);
  });
  const all = [...plan.letters].every((letter) => check.girths[letter]);
  return { radii: known, girths: known.map(() => all) };
}

/** Poles whose girth must be taped, because no table tells their radius. */
const withoutRadius = (check, card, plan) => [...plan.letters].filter((_, at) => Number.isNaN(radiiOf(check, card, plan).radii[at]));

/** Can that be a girth, in inches or centimetres? */
function isGirth(plan, girth) {
  const feet = girth / GIRTH_PER[plan.unit] / (plan.unit === "m" ? FOOT : 1);
  return feet >= GIRTHS_FT[0] && feet <= GIRTHS_FT[1];
}

const nameOf = ([from, to]) => `${from}>${to}`;
const tapedOf = (check, reading) => check.taped[nameOf(reading)] ?? [];
const levelOf = ({ read, rise }) => levelDistance(read, rise);

/** Ask for readings of the plan, by their positions; none = the answer is due. */
function ask(check, wanted) {
  Object.assign(check, { asking: wanted, at: 0, stage: wanted.length ? "read" : "answer" });
}

/** Ask for what is missing of the set the check is at. */
function askMissing(check, plan) {
  const set = setOf(check, plan);
  ask(check, set ? set.readings.filter((at) => !tapedOf(check, plan.readings[at]).length) : []);
}

/** Begin, or begin anew: the quick set where there is one. */
function start(check, plan) {
  check.phase = "quick";
  askMissing(check, plan);
}

/** The reading asked for now: its position in the plan, expected length and zones. */
function askedNow(check, card, plan) {
  const group = groupOf(plan, check.lost);
  const at = check.asking[check.at];
  const reading = plan.readings[at];
  const { radii, girths } = radiiOf(check, card, plan);
  const [expected] = expectedOf(plan, [reading], radii);
  const full = check.phase === "more" ? setOf(check, plan) : plan.sets[group.full];
  const place = full.readings.indexOf(at);
  const [good, wrong] = place < 0 ? [0, 0] : zonesOf(plan, full, girths)[place];
  return { reading, expected, good, wrong };
}

/** "good", "again" or "wrong": where a reading lies in its zones. */
function zoneOf({ expected, good, wrong }, value) {
  const off = Math.abs(value - expected);
  return off <= good ? "good" : off <= wrong ? "again" : "wrong";
}

/** Keep what was read for the reading asked for, and go on to the next. */
function enter(check, plan, read, rise = 0) {
  const name = nameOf(plan.readings[check.asking[check.at]]);
  check.taped[name] = [...(check.taped[name] ?? []), { read, rise }];
  check.at += 1;
  if (check.at >= check.asking.length) check.stage = "answer";
}

/** Go back one reading, and forget what was entered for it. */
function back(check, plan) {
  if (check.at === 0) {
    check.stage = "start";
    return;
  }
  check.at -= 1;
  check.stage = "read";
  check.taped[nameOf(plan.readings[check.asking[check.at]])].pop();
}

/** A stake that is lost, or stands after all: what was taped from it is forgotten. */
function mark(check, name, lost) {
  check.lost = lost ? [...check.lost, name] : check.lost.filter((known) => known !== name);
  for (const known of Object.keys(check.taped)) if (lost && known.startsWith(`${name}>`)) delete check.taped[known];
}

/** Which readings of a set, by their positions in the plan, were taped less than twice. */
const onceTaped = (check, plan, set) => set.readings.filter((at) => tapedOf(check, plan.readings[at]).length < 2);

/** What to do next, and which readings that needs. */
function nextOf(check, plan, set, answer, misreads) {
  const disagree = set.readings.filter((at, row) => Number.isNaN(answer.values[row]) && tapedOf(check, plan.readings[at]).length === 2);
  if (disagree.length) return { act: "third", readings: disagree };
  if (answer.verdict === "pass") return { act: "save", readings: [] };
  if (isQuick(check, plan)) return { act: "complete", readings: [] };
  if (answer.verdict === "contradict") {
    const two = toRepeat(misreads).map((row) => set.readings[row]).filter((at) => onceTaped(check, plan, set).includes(at));
    const rest = two.length ? two : onceTaped(check, plan, set);
    return { act: rest.length ? "repeat" : "save", readings: rest };
  }
  if (answer.verdict === "fail" && answer.again) return { act: "again", readings: onceTaped(check, plan, set) };
  const more = moreOf(check, plan);
  if (answer.verdict === "cannot tell" && check.phase !== "more" && more >= 0) return { act: "more", readings: plan.sets[more].readings.slice(set.readings.length) };
  return { act: "save", readings: [] };
}

/** What the readings tell: verdict, quantities, moves, misreads and what to do next. */
function answerOf(check, card, plan) {
  const set = setOf(check, plan);
  const { radii, girths } = radiiOf(check, card, plan);
  const readings = readingsOf(plan, set);
  const answer = judge(plan, set, readings.map((reading) => tapedOf(check, reading).map(levelOf)), radii, girths, isQuick(check, plan));
  const misreads = answer.verdict === "contradict" ? misreadsOf(plan, set, answer.values, radii, girths) : [];
  const moves = answer.verdict === "fail" ? movesOf(plan, answer.poles, answer.gates) : [];
  const named = misreads.filter(({ chiSquare }) => chiSquare < plan.explains[set.spare - 1]);
  return { ...answer, set, readings, moves, named, repeat: toRepeat(misreads), next: nextOf(check, plan, set, answer, misreads) };
}

/** Do what comes next, as an answer says. */
function goOn(check, plan, next) {
  if (next.act === "complete") {
    check.phase = "full";
    askMissing(check, plan);
  } else if (next.act === "more") {
    check.phase = "more";
    askMissing(check, plan);
  } else ask(check, next.readings);
}

/** What is recorded of a check: the readings as they were taped, and what they told here. */
function contentOf(check, card, plan) {
  const { radii, girths } = radiiOf(check, card, plan);
  const answer = answerOf(check, card, plan);
  const used = new Set(answer.readings.map(([from]) => from));
  const round = (value) => Math.round(value * 1e6) / 1e6;
  return {
    method: "tape",
    unit: plan.unit,
    spacing: plan.spacing,
    poles: plan.letters,
    radii: radii.map(round),
    girths,
    stakes: Object.fromEntries(plan.stakes.filter(({ name }) => used.has(name)).map(({ name, right, ahead }) => [name, [right, ahead]])),
    readings: answer.readings.flatMap((reading) => tapedOf(check, reading).map(({ read, rise }) => [...reading, read, "near", ...(rise ? [rise] : [])])),
    set: isQuick(check, plan) ? "quick" : "full",
    verdict: answer.verdict,
    quantities: Object.fromEntries(answer.quantities.map((value, at) => [plan.quantities[at], [round(value), answer.gates[at][0]]]).filter(([, [value]]) => !Number.isNaN(value))),
    lost: check.lost,
  };
}

export { answerOf, askedNow, back, begun, contentOf, enter, fullSize, goOn, isGirth, keyOf, mark, radiiOf, setOf, start, withoutRadius, zoneOf };
