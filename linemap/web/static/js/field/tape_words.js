// A check by tape in words and drawings: stakes by the neighbouring structures, what was found, what to move.

import { html } from "../shared/html.js";
import { poleName } from "../shared/number.js";
import { lineOf } from "./pack.js";

const VERDICTS = { pass: "STANDS AS DESIGNED", fail: "DOES NOT STAND AS DESIGNED", "cannot tell": "CANNOT TELL", contradict: "READINGS CONTRADICT EACH OTHER" };
const [WIDTH, HEIGHT, LOW] = [360, 236, 190];
/** Poles are drawn so many times as far off as they are. */
const TIMES = 6;

const length = (value, plan, digits = plan.unit === "m" ? 3 : 2) => `${value.toFixed(digits)} ${plan.unit}`;

/** What lies ahead or back of a card: "9/3", or the name of the line's end. */
function toward(card, way) {
  const line = lineOf(card);
  return way === "AH" ? card.ahead || line.ahead_end || "the ahead end" : card.back || line.back_end || "the back end";
}

/** "stake toward 9/3, 25 ft from A"; those along the arm are "beyond B". */
function stakeWords(card, plan, stake) {
  const pole = stake.pole ? poleName(card, stake.pole) : "the centre";
  const far = `${stake.distance} ${plan.unit}`;
  return "LR".includes(stake.way) ? `stake beyond ${pole}, ${far} out` : `stake toward ${toward(card, stake.way)}, ${far} from ${pole}`;
}

/** From where a reading is taped, and to what: [from, to]. */
function readingParts(card, plan, [from, to]) {
  const stake = plan.stakes.find(({ name }) => name === from);
  const pole = html`<b>pole ${poleName(card, to)}</b>`;
  if (!stake) return [html`<b>pole ${poleName(card, from)}</b>, face toward ${poleName(card, to)}`, html`${pole}, face toward ${poleName(card, from)}`];
  return [html`<b>${stakeWords(card, plan, stake)}</b>`, html`${pole}, the face nearest to the stake`];
}

/** A reading in one line: "stake toward 9/3, 25 ft from A, to pole B". */
function readingWords(card, plan, [from, to]) {
  const stake = plan.stakes.find(({ name }) => name === from);
  return `${stake ? stakeWords(card, plan, stake) : `pole ${poleName(card, from)}`} to pole ${poleName(card, to)}`;
}

const SIDES = { along: ["ahead", "back"], across: ["right", "left"], bow: ["ahead", "back"] };

/** One quantity with its uncertainty: "turned 1.54° clockwise (± 0.24°)". */
function quantityWords(card, plan, name, value, sigma) {
  const around = 1.96 * sigma;
  if (name === "rotation") {
    const size = `${Math.abs(value).toFixed(2)}°`;
    return `turned ${size} ${value < 0 ? "counterclockwise" : "clockwise"} seen from above (± ${around.toFixed(2)}°)`;
  }
  const size = `${length(Math.abs(value), plan)}`;
  const sigmaWords = `(± ${length(around, plan)})`;
  if (name.startsWith("spacing")) {
    const gap = Array.from(name.slice(8), (letter) => poleName(card, letter)).join(" to ");
    return `${gap ? `spacing ${gap}` : "spacing"} ${length(plan.spacing + value, plan)}, ${size} too ${value < 0 ? "short" : "long"} ${sigmaWords}`;
  }
  const [plus, minus] = SIDES[name];
  const what = name === "bow" ? `pole ${poleName(card, plan.letters[1])} off the line of the others` : "centre";
  return `${what} ${size} ${value < 0 ? minus : plus} ${sigmaWords}`;
}

/** "pole B 0.34 ft toward 9/3". */
function moveWords(card, plan, { letter, ahead, right }) {
  const outer = [plan.letters[0], plan.letters[plan.letters.length - 1]];
  const side = right > 0 ? `right, looking toward ${toward(card, "AH")}` : `left, looking toward ${toward(card, "AH")}`;
  const parts = [ahead && `${length(Math.abs(ahead), plan)} toward ${toward(card, ahead > 0 ? "AH" : "BK")}`, right && `${length(Math.abs(right), plan)} to the ${side}`];
  return `${outer.includes(letter) || plan.letters.length === 3 ? "pole " : ""}${poleName(card, letter)} ${parts.filter(Boolean).join(" and ")}`;
}

/** "stake toward 9/3, 25 ft from A, to pole B read 1.00 ft long". */
function misreadWords(card, plan, readings, { readings: rows, slip, amount }) {
  const [first, second] = rows.map((row) => readingWords(card, plan, readings[row]));
  if (slip === "exchanged") return `${first} and ${second}: written the wrong way round`;
  if (slip === "side") return `${first}: taped to the side of the pole, not its near face`;
  if (slip === "far face") return `${first}: taped to the far face of the pole`;
  return `${first}: read ${length(amount, plan)} too ${slip}`;
}

/** Which side of its gates a quantity lies on, and its tolerance. */
function gateWords(plan, answer, at) {
  const size = Math.abs(answer.quantities[at]);
  const [, inside, outside] = answer.gates[at];
  const said = size <= inside ? "within" : size > outside && answer.next.act !== "complete" ? "OUT" : "unknown";
  const limit = plan.quantities[at] === "rotation" ? `${plan.limits[at].toFixed(2)}°` : length(plan.limits[at], plan, 2);
  return html` <b class="gate" data-gate="${said}">${said}</b> <small>of ± ${limit}</small>`;
}

const LEFT = {
  contradict: "All was taped twice and still disagrees: a stake may have moved. Mark it lost, or leave the frame to the surveyor.",
  "cannot tell": "No further reading of the tape tells more: leave it to the surveyor, or set the frame closer and check it anew.",
};

/** What comes next: [what is said, what the button says, "" = nothing but to save]; `left` readings complete the full set. */
function nextWords(card, plan, answer, left) {
  const wanted = answer.next.readings.map((at) => readingWords(card, plan, plan.readings[at]));
  const list = html`<ul>${wanted.map((words) => html`<li>${words}</li>`)}</ul>`;
  const these = wanted.length === 1 ? "it" : `these ${wanted.length}`;
  switch (answer.next.act) {
    case "complete":
      return [html`<p>The quick readings do not prove it, and fail nothing either: a mistake would not show in them.</p>`, `Tape ${left} more`];
    case "third":
      return [html`<p>Two readings of one distance differ by more than ${length(plan.errors.agree, plan)}. A third one decides:</p>${list}`, `Tape ${these} a third time`];
    case "repeat":
      return [html`<p>Tape again:</p>${list}`, `Tape ${these} again`];
    case "again":
      return [html`<p><b>Move nothing yet.</b> Every fail is taped again first.</p>`, `Tape ${wanted.length} again`];
    case "more":
      return [html`<p>What would tell more:</p>${list}`, `Tape ${these}`];
    default:
      return [LEFT[answer.verdict] ? html`<p>${LEFT[answer.verdict]}</p>` : html``, ""];
  }
}

function scaled(plan) {
  const half = (plan.spacing * (plan.poles.length - 1)) / 2;
  const px = 104 / half;
  return (/** @type {number[]} */ [right, ahead]) => [WIDTH / 2 + right * px, HEIGHT / 2 - ahead * px];
}

const shown = (value) => value.toFixed(1);

/** @typedef {[number, number]} Place */

/** The frame as it was found on its design, drawn `TIMES` as far off, ahead upwards. */
function foundSketch(card, plan, poles, moves) {
  const at = scaled(plan);
  const off = (pole, [right, ahead]) => [right + TIMES * (pole[0] - right), ahead + TIMES * (pole[1] - ahead)];
  /** @type {(place: number[]) => Place} */
  const within = ([x, y]) => [Math.min(Math.max(x, 24), WIDTH - 24), Math.min(Math.max(y, 48), HEIGHT - 48)];
  const places = poles.map((pole, which) => within(at(off(pole, plan.poles[which]))));
  const design = plan.poles.map(at);
  const arm = (ends, kind) => html`<path class="tape-arm ${kind}" d="M${ends[0].map(shown).join(" ")}L${ends[ends.length - 1].map(shown).join(" ")}"></path>`;
  const disc = ([x, y], which) => html`<circle class="check-pole" cx="${shown(x)}" cy="${shown(y)}" r="17"></circle>
    <text class="check-letter" x="${shown(x)}" y="${shown(y + 6)}" text-anchor="middle">${poleName(card, plan.letters[which])}</text>`;
  const moved = moves.map(({ letter }) => plan.letters.indexOf(letter));
  const words = poles.map((_, which) => (moved.includes(which) ? `${poleName(card, plan.letters[which])} to be moved` : "")).filter(Boolean).join(", ");
  return html`<svg class="check-sketch" viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img"><title>Frame as found on its design</title><desc>${words || "no pole to be moved"}</desc>
    <text class="check-way" x="${WIDTH / 2}" y="18" text-anchor="middle">▲ ${toward(card, "AH")}</text><text class="check-way" x="${WIDTH / 2}" y="${HEIGHT - 8}" text-anchor="middle">▼ ${toward(card, "BK")}</text>
    ${arm(design, "design")}${design.map(([x, y]) => html`<circle class="tape-place" cx="${shown(x)}" cy="${shown(y)}" r="21"></circle>`)}${arm(places, "found")}${places.map(disc)}</svg>
    <p class="hint">Dashed: design. Off by ${TIMES} times as much as found.</p>`;
}

/** Where the tape goes: stakes as squares, poles as discs, ahead upwards. */
function readingSketch(card, plan, [from, to], lost) {
  const far = Math.max(...plan.stakes.flatMap(({ right, ahead }) => [Math.abs(right) / 2, Math.abs(ahead)]));
  const px = 62 / far;
  const at = (right, ahead) => [WIDTH / 2 + right * px, LOW / 2 - ahead * px];
  const places = new Map([...plan.stakes.map((stake) => [stake.name, at(stake.right, stake.ahead)]), ...plan.poles.map(([right, ahead], which) => [plan.letters[which], at(right, ahead)])]);
  const [start, end] = [places.get(from), places.get(to)];
  const stakes = plan.stakes.filter(({ name }) => !lost.includes(name)).map(({ name }) => {
    const [x, y] = places.get(name);
    return html`<rect class="check-stake ${name === from ? "used" : ""}" x="${shown(x - 7)}" y="${shown(y - 7)}" width="14" height="14"></rect>`;
  });
  return html`<svg class="check-sketch where" viewBox="0 0 ${WIDTH} ${LOW}" aria-hidden="true"><text class="check-way" x="${WIDTH / 2}" y="17" text-anchor="middle">▲ ${toward(card, "AH")}</text>
    <text class="check-way" x="${WIDTH / 2}" y="${LOW - 7}" text-anchor="middle">▼ ${toward(card, "BK")}</text><path class="tape-line" d="M${start.map(shown).join(" ")}L${end.map(shown).join(" ")}"></path>${stakes}
    ${[...plan.letters].map((letter) => html`<circle class="check-pole ${letter === to || letter === from ? "used" : ""}" cx="${shown(places.get(letter)[0])}" cy="${shown(places.get(letter)[1])}" r="13"></circle>
    <text class="check-letter" x="${shown(places.get(letter)[0])}" y="${shown(places.get(letter)[1] + 6)}" text-anchor="middle">${poleName(card, letter)}</text>`)}</svg>`;
}

export { VERDICTS, foundSketch, gateWords, length, misreadWords, moveWords, nextWords, quantityWords, readingParts, readingSketch, stakeWords, toward };
