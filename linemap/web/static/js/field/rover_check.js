// One check by rover as it goes on: where to stand next, the position being taken, what it tells. No page here.

import { inFrame, judgeRover, lacking, meanVariance } from "./rover_solve.js";
import { keyOf, radiiOf } from "./tape_check.js";

/** @typedef {{ at: string, face: string }} Place */
/** @typedef {import("./rover_solve.js").Fix} Fix */
/** A position being taken: sums over those that count, relative to the first of them. */
/** @typedef {{ first: any, count: number, longitude: number, latitude: number, variance: number, accuracy_m: number, last: number, moved: boolean }} Taking */
/**
 * @typedef {{ key: string, plan: string, lost: string[], girths: Record<string, number>, circle: string, baud: number,
 *   places: Place[], fixes: Fix[], origin: number, dropped: Fix[], fails: number, phase: "three" | "four" | "again" }} Check
 */

/** Sigmas a position may lie off the mean while the rod stands still. */
const STILL = 6;
const FACES = ["back", "left", "ahead", "right"];

/** A check of a card that has not begun. @returns {Check} */
const begun = (card, rule) => ({ key: keyOf(card), plan: card.tape.plan, lost: [], girths: {}, circle: rule.circles[0][0], baud: 115200, places: [], fixes: [], origin: NaN, dropped: [], fails: 0, phase: "three" });

/** Faces of a pole in the order to take them: the outer side between back and ahead, the last one where it tells more. */
function facesOf(plan, letter, fromAhead) {
  const outer = letter === plan.letters[plan.letters.length - 1] ? "right" : "left";
  const [first, last] = fromAhead ? ["ahead", "back"] : ["back", "ahead"];
  return { three: [first, outer, last], fourth: FACES.find((face) => ![first, outer, last].includes(face)) ?? "" };
}

/** A stake to begin with and another to end with, of those that stand: one back and one ahead where there are. */
function stakesFor(check, plan) {
  const standing = plan.stakes.filter(({ name }) => !check.lost.includes(name));
  const rank = (way) => [...standing].sort((a, b) => way.indexOf(a.way) - way.indexOf(b.way));
  const first = rank(["BK", "L", "R", "AH"])[0];
  const last = rank(["AH", "R", "L", "BK"]).find((stake) => stake !== first) ?? first;
  return first ? [first.name, last.name] : [];
}

const isAhead = (place) => place % 2 === 1;

/** Say where to stand, from the first stake to the last; nothing where no stake stands. */
function start(check, plan) {
  const [first, last] = stakesFor(check, plan);
  const faces = [...plan.letters].flatMap((letter, place) => facesOf(plan, letter, isAhead(place)).three.map((face) => ({ at: letter, face })));
  Object.assign(check, { places: first ? [{ at: first, face: "" }, ...faces, { at: last, face: "" }] : [], fixes: [], origin: NaN, dropped: [], phase: "three" });
}

/** The place to stand at now; undefined when all are taken. @returns {Place | undefined} */
const placeNow = (check) => check.places[check.fixes.length];

/** Begin to take the place that is due. @returns {Taking} */
const take = () => ({ first: null, count: 0, longitude: 0, latitude: 0, variance: 0, accuracy_m: 0, last: NaN, moved: false });

const METRES = 111320;

/** How far a position lies from the mean of those before it, metres. */
function strayed(taking, position) {
  const north = (position.latitude - taking.first.latitude - taking.latitude / taking.count) * METRES;
  const east = (position.longitude - taking.first.longitude - taking.longitude / taking.count) * METRES * Math.cos((position.latitude * Math.PI) / 180);
  return Math.hypot(east, north);
}

/** Take in a position that counts; one after the rod moved begins anew. */
function takeIn(taking, position) {
  if (taking.count && strayed(taking, position) > STILL * Math.max(position.sigma_m, Math.sqrt(taking.variance / taking.count))) Object.assign(taking, take(), { moved: true });
  taking.first ??= position;
  taking.count += 1;
  taking.longitude += position.longitude - taking.first.longitude;
  taking.latitude += position.latitude - taking.first.latitude;
  taking.variance += position.sigma_m ** 2;
  taking.accuracy_m = Math.max(taking.accuracy_m, position.accuracy_m);
  taking.last = position.at;
}

const secondsOf = (taking) => (taking.count ? taking.last - taking.first.at : 0);

/** Is a place taken: long enough, with enough positions? */
const isTaken = (taking, rule) => taking.count >= rule.epochs && secondsOf(taking) >= rule.seconds - 1;

const rounded = (value, digits) => Number(value.toFixed(digits));

/** The fix a place has so far. @returns {Fix} */
function fixOf(check, taking) {
  const place = /** @type {Place} */ (placeNow(check));
  const origin = Number.isNaN(check.origin) ? taking.first.at : check.origin;
  return {
    ...place,
    longitude: rounded(taking.first.longitude + taking.longitude / taking.count, 10),
    latitude: rounded(taking.first.latitude + taking.latitude / taking.count, 10),
    start: rounded(Math.max(taking.first.at - origin, 0), 1),
    seconds: rounded(Math.max(secondsOf(taking), 1), 1),
    epochs: taking.count,
    accuracy_m: rounded(taking.accuracy_m, 4),
    sigma_m: rounded(Math.max(Math.sqrt(taking.variance / taking.count), 0.0005), 5),
  };
}

/** Keep what was taken, and go on to the next place. */
function keepFix(check, taking) {
  const fix = fixOf(check, taking);
  if (Number.isNaN(check.origin)) check.origin = taking.first.at;
  check.fixes.push(fix);
}

/** Go back one place, and forget what was taken there. */
const back = (check) => void check.fixes.pop();

const stakePlaces = (plan) => Object.fromEntries(plan.stakes.map(({ name, right, ahead }) => [name, [right, ahead]]));
const centreOf = (card) => ({ longitude: card.longitude, latitude: card.latitude, azimuth_deg: card.azimuth_deg });

/** Where the place being taken should be, right and ahead of the centre, by the design. */
function wantedAt(plan, rule, radii, { at, face }) {
  if (!face) return stakePlaces(plan)[at];
  const place = plan.letters.indexOf(at);
  const out = { back: [0, -1], ahead: [0, 1], left: [-1, 0], right: [1, 0] }[face];
  return plan.poles[place].map((value, axis) => value + (radii[place] + rule.rod) * out[axis]);
}

/**
 * What a place being taken is off: [right, ahead] and how well that is known (95 %). At the first stake it is
 * what the base is off, and that is taken out of all others.
 */
function residualNow(check, card, plan, rule, taking) {
  const place = placeNow(check);
  if (!place || !taking.count) return null;
  const { radii } = radiiOf(check, card, plan);
  const offOf = (fix) => inFrame(fix, centreOf(card), rule.metre).map((value, axis) => value - wantedAt(plan, rule, radii, fix)[axis]);
  const now = fixOf(check, taking);
  const base = check.fixes.length ? offOf(check.fixes[0]) : [0, 0];
  const spread = 1.96 * Math.sqrt(meanVariance(now.seconds, rule.noise)) * now.sigma_m * rule.metre;
  return { off: offOf(now).map((value, axis) => value - base[axis]), spread };
}

/** What the places taken tell, and what comes next. */
function answerOf(check, card, plan, rule) {
  const { radii } = radiiOf(check, card, plan);
  const lacks = lacking({ letters: plan.letters }, rule, check.fixes);
  if (lacks) return { lacks, verdict: "cannot tell", why: lacks, quantities: [], gates: [], poles: [], shift: [0, 0], odd: null, next: { act: "save", places: [] } };
  const found = judgeRover(plan, rule, { centre: centreOf(card), stakes: stakePlaces(plan), radii, fixes: check.fixes });
  return { lacks: "", ...found, next: nextOf(check, plan, found) };
}

/** What to do next: fourth faces where three cannot tell, the odd place once more, all of it after a first fail. */
function nextOf(check, plan, found) {
  const [first, last] = stakesFor(check, plan);
  const ending = check.fixes[check.fixes.length - 1].at === last ? first : last;
  if (found.verdict === "contradict" && found.odd === 0) return { act: "repeat", places: [] };
  if (found.verdict === "contradict" && check.phase !== "again") {
    return { act: "again", places: [check.fixes[found.odd], { at: ending, face: "" }].map(({ at, face }) => ({ at, face })) };
  }
  if (found.verdict === "cannot tell" && !found.why && check.phase === "three") {
    const more = [...plan.letters].map((letter, place) => ({ at: letter, face: facesOf(plan, letter, isAhead(place)).fourth }));
    return { act: "four", places: [...more.reverse(), { at: ending, face: "" }] };
  }
  if (found.verdict === "fail" && check.fails === 0) return { act: "repeat", places: [] };
  return { act: "save", places: [] };
}

/** Do what comes next, as an answer says. */
function goOn(check, plan, found) {
  const { act, places } = found.next;
  if (act === "repeat") {
    start(check, plan);
    check.fails += Number(found.verdict === "fail");
    return;
  }
  if (act === "again") check.dropped.push(...check.fixes.splice(found.odd, 1));
  check.phase = act;
  check.places = [...check.fixes.map(({ at, face }) => ({ at, face })), ...places];
}

/** What is recorded of a check: where one stood, and what that told here. */
function contentOf(check, card, plan, rule, source) {
  const { radii } = radiiOf(check, card, plan);
  const found = answerOf(check, card, plan, rule);
  const used = new Set(check.fixes.filter(({ face }) => !face).map(({ at }) => at));
  return {
    method: "rover",
    unit: plan.unit,
    spacing: plan.spacing,
    poles: plan.letters,
    radii: radii.map((radius) => rounded(radius, 4)),
    stakes: Object.fromEntries(Object.entries(stakePlaces(plan)).filter(([name]) => used.has(name))),
    centre: centreOf(card),
    fixes: check.fixes,
    dropped: check.dropped,
    source,
    circle: source === "browser" ? check.circle : "",
    verdict: found.verdict,
    quantities: Object.fromEntries(found.quantities.map((value, at) => [plan.quantities[at], [rounded(value, 6), rounded(found.gates[at][0], 6)]])),
    failed_before: check.fails,
  };
}

export { answerOf, back, begun, contentOf, goOn, isTaken, keepFix, placeNow, residualNow, secondsOf, stakesFor, start, take, takeIn };
