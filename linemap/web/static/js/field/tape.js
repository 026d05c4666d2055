// The pages of a check by tape: what stands, one reading a page with big keys, and the answer. Works without signal.

import { html, render } from "../shared/html.js";
import { poleName } from "../shared/number.js";
import { toast } from "./banner.js";
import { viewLink } from "./card.js";
import { GIRTH_UNIT, girthField, keepCheck, showNoCheck, stakeRows } from "./crew_check.js";
import { read, remember } from "./db.js";
import { planOf } from "./pack.js";
import { typedNumber } from "./readings.js";
import { answerOf, askedNow, back, begun, contentOf, enter, fullSize, goOn, isGirth, keyOf, mark, radiiOf, setOf, start, withoutRadius, zoneOf } from "./tape_check.js";
import { levelDistance, riseThatMatters } from "./tape_solve.js";
import { foundSketch, gateWords, length, misreadWords, moveWords, nextWords, quantityWords, readingParts, readingSketch, VERDICTS } from "./tape_words.js";
import { fix } from "./where.js";

const ZONES = { good: "GOOD BY ITSELF", again: "TAPE IT AGAIN", wrong: "WRONG" };
/** What is shown: the page, its card and plan, and the check. @type {{ main: any, card: any, plan: any, check: any, kept: Record<string, any> | null }} */
const here = { main: null, card: null, plan: null, check: null, kept: null };

/** Keep the checks that go on, so that a phone that dies loses nothing. */
function keep() {
  const { check, kept } = here;
  if (kept) kept[check.key] = check;
  void remember("tape", kept);
}

/** Show the check of a card; `still` says whether the page is still wanted. */
async function showTape(main, card, still) {
  const kept = (here.kept ??= (await read("meta", "tape")) ?? {});
  const plan = await planOf(card);
  if (!still()) return;
  const known = kept[keyOf(card)];
  if (!plan) {
    showNoCheck(main, card, "tape");
    return;
  }
  Object.assign(here, { main, card, plan, check: known?.plan === card.tape.plan ? known : begun(card) });
  draw();
}

function draw() {
  const { main, check } = here;
  const wanted = check.stage === "read" && !withoutRadius(check, here.card, here.plan).length;
  document.documentElement.dataset.tape = wanted ? "read" : "";
  if (wanted) drawReading();
  else if (check.stage === "answer") drawAnswer();
  else drawStart();
  main.querySelector("[data-first]")?.focus({ preventScroll: true });
  window.scrollTo(0, 0);
}

const button = (act, words, second = false) => html`<button type="button" class="save ${second && "second"}" data-tape="${act}">${words}</button>`;

function girthRow(letter, place) {
  const { check, card, plan } = here;
  const { radii } = radiiOf(check, card, plan);
  const pole = card.poles.find((one) => one.letter === letter);
  const size = pole ? [pole.length_text, pole.pole_class && `class ${pole.pole_class}`].filter(Boolean).join(" ") : "";
  const known = Number.isNaN(radii[place]) ? "no table tells its radius: tape its girth" : `radius ${length(radii[place], plan)}${check.girths[letter] ? " by its girth" : `, by the table${size && ` of ${size}`}`}`;
  return girthField(here, letter, known);
}

function drawStart() {
  const { main, card, plan, check } = here;
  const set = setOf(check, plan);
  const rise = riseThatMatters(plan, 25 * (plan.unit === "m" ? 0.3048 : 1));
  const taped = Object.values(check.taped).flat().length;
  const slopes = Object.values(card.tape.rise).some((height) => Math.abs(height) >= riseThatMatters(plan, plan.spacing));
  render(
    main,
    html`<form class="frame-check" data-girths><h1 tabindex="-1" data-first>${card.number} <small>check by tape, before tamping</small></h1>
      <p class="note">Hold the tape level, pulled tight, at one height of about ${plan.unit === "m" ? "1 m" : "3 ft"}, to the nearest face of the pole.</p>
      ${stakeRows(here, html`data-tape="mark"`)}
      ${set ? "" : html`<p class="hold hold" role="alert"><b>NOT ENOUGH</b> no readings from what stands prove this frame: set a stake anew, or leave it to the surveyor</p>`}
      <h2>How thick are the poles?</h2><p class="hint">A girth where the tape touches is better than the table, which gives the least of a class. Either tape all poles or none.</p>
      <div class="readings">${[...plan.letters].map(girthRow)}</div>
      <label class="check"><input type="checkbox" name="slope" ${(check.slope ?? slopes) ? html`checked` : ""}> The ground rises or falls ${length(rise, plan, 1)} or more in ${plan.unit === "m" ? "7.6 m" : "25 ft"}: ask for the rise</label>
      ${slopes ? html`<p class="note">By the lists the ground at the poles differs by ${length(spread(card.tape.rise), plan, 2)}.</p>` : ""}
      <p class="fault" data-fault role="alert" hidden></p>
      <a class="button wide" href="${viewLink("card", card)}">Back to the card</a>
      <div class="save-bar">${set ? button("start", taped ? "Go on taping" : `Tape ${set.readings.length} readings`) : ""}${taped ? button("anew", "Begin anew", true) : ""}</div></form>`,
  );
}

const spread = (rise) => Math.max(...Object.values(rise)) - Math.min(...Object.values(rise));

/** Take girths and slope out of the form; false, with words beside them, when one cannot be. */
function takeStart() {
  const { main, check, plan, card } = here;
  const form = main.querySelector("form");
  const said = form.querySelector("[data-fault]");
  check.slope = form.elements.slope.checked;
  for (const letter of plan.letters) {
    const text = form.elements[`girth.${letter}`].value.trim();
    const girth = text ? typedNumber(text, "") : 0;
    if (text && !isGirth(plan, girth)) {
      said.textContent = `${text} ${GIRTH_UNIT[plan.unit]} is no girth of pole ${poleName(card, letter)}: tape around it, like ${plan.unit === "m" ? "121" : "47.6"}`;
      said.hidden = false;
      form.elements[`girth.${letter}`].focus();
      return false;
    }
    if (girth) check.girths[letter] = girth;
    else delete check.girths[letter];
  }
  const without = withoutRadius(check, card, plan);
  said.textContent = without.length ? `Tape the girth of pole ${without.map((letter) => poleName(card, letter)).join(" and ")}: no table tells its radius` : "";
  said.hidden = !without.length;
  if (without.length) form.elements[`girth.${without[0]}`].focus();
  return !without.length;
}

const KEYS = ["7", "8", "9", "⌫", "4", "5", "6", ".", "1", "2", "3", "-", "0"];
const KEY_NAMES = { "⌫": "delete the last", ".": "point", "-": "inches follow" };

function drawReading() {
  const { main, card, plan, check } = here;
  const asked = askedNow(check, card, plan);
  const [from, to] = readingParts(card, plan, asked.reading);
  const again = (check.taped[asked.reading.join(">")] ?? []).length;
  const [low, high] = [-1, 1].map((way) => (off) => (asked.expected + way * off).toFixed(2));
  const key = (sign) => html`<button type="button" class="key" data-tape="key" data-sign="${sign}" aria-label="${KEY_NAMES[sign] ?? sign}" ${sign === "-" && plan.unit === "m" ? html`disabled` : ""}>${sign}</button>`;
  render(
    main,
    html`<form class="frame-check taping" data-entry><h1 tabindex="-1"><small>${card.number}, reading ${check.at + 1} of ${check.asking.length}${again ? ", once more" : ""}</small></h1>
      <p class="from">From ${from}</p><p class="to">to ${to}</p>
      <p class="expected">Expected <b>${length(asked.expected, plan)}</b><small>good ${low(asked.good)} to ${high(asked.good)}, again to ${low(asked.wrong)} or ${high(asked.wrong)}, wrong beyond</small></p>${asked.expected > plan.errors.sag_from ? html`<p class="hint">So far out a slack tape sags: pull it tight, or hold up its middle.</p>` : ""}
      ${readingSketch(card, plan, asked.reading, check.lost)}
      <div class="entry"><label>Read, ${plan.unit}<input name="read" data-first inputmode="none" maxlength="12" autocomplete="off" aria-describedby="zone"></label>
      ${check.slope ? html`<label class="rise">Rise<input name="rise" inputmode="decimal" maxlength="6" autocomplete="off" placeholder="0"></label>` : ""}<p id="zone" class="zone" data-zone role="status"></p></div>
      <div class="keypad">${KEYS.map(key)}<button type="button" class="key" data-tape="back" aria-label="back to the reading before">◀</button><button type="submit" class="key next primary">Next</button></div></form>`,
  );
}

/** What stands in the boxes: { read, rise, level }, NaN where it is no length. Digits without a point are hundredths. */
function typedNow() {
  const { main, plan } = here;
  const form = main.querySelector("[data-entry]");
  const text = form.elements.read.value.trim();
  const rise = form.elements.rise?.value.trim().replace(",", ".") ?? "";
  const plain = /^\d{3,5}$/.test(text);
  const value = plain ? Number(text) / (plan.unit === "m" && text.length > 3 ? 1000 : 100) : plan.unit === "m" && text.includes("-") ? NaN : text ? typedNumber(text, "") : NaN;
  const up = rise ? Number(rise) : 0;
  return { text, read: value, rise: up, level: levelDistance(value, up) };
}

function showZone() {
  const { main, card, plan, check } = here;
  const said = main.querySelector("[data-zone]");
  const { text, read: value, level } = typedNow();
  const asked = askedNow(check, card, plan);
  const zone = text.length < 3 || Number.isNaN(level) || value < asked.expected / 3 ? "" : zoneOf(asked, level);
  said.dataset.zone = zone;
  const off = level - asked.expected;
  const size = Math.abs(off) < 0.005 ? "as expected" : `${length(Math.abs(off), plan, 2)} ${off < 0 ? "short" : "long"}`;
  said.textContent = zone ? `${length(value, plan)} ${ZONES[zone]}, ${size}` : "";
}

function press(sign) {
  const box = here.main.querySelector("[name=read]");
  box.value = sign === "⌫" ? box.value.slice(0, -1) : box.value + sign;
  showZone();
}

function entered() {
  const { check, plan, main, card } = here;
  const { text, read: value, rise, level } = typedNow();
  const said = main.querySelector("[data-zone]");
  if (Number.isNaN(level) || value <= 0 || value > 4 * askedNow(check, card, plan).expected) {
    said.dataset.zone = "wrong";
    said.textContent = text ? `${text} is no length to there${rise ? " with that rise" : ""}; type it like ${plan.unit === "m" ? "7.42" : "24.36 or 24-4"}` : "Type what was read";
    main.querySelector("[name=read]").focus();
    return;
  }
  enter(check, plan, value, rise);
  keep();
  draw();
}

function drawAnswer() {
  const { main, card, plan, check } = here;
  if (!setOf(check, plan)) {
    check.stage = "start";
    draw();
    return;
  }
  const answer = answerOf(check, card, plan);
  const [said, act] = nextWords(card, plan, answer, fullSize(check, plan) - answer.readings.length);
  const known = !Number.isNaN(answer.quantities[0]);
  const row = (name, at) => html`<li>${quantityWords(card, plan, name, answer.quantities[at], answer.gates[at][0])}${gateWords(plan, answer, at)}</li>`;
  const saved = act ? "Save as it is" : "Save the check";
  render(
    main,
    html`<div class="frame-check answer"><h1 tabindex="-1" data-first><small>${card.number}, check by tape</small></h1>
      <p class="verdict" data-verdict="${answer.verdict}" role="status"><b>${answer.next.act === "complete" ? "NOT PROVED YET" : VERDICTS[answer.verdict]}</b></p>
      ${answer.named.length ? html`<p>It would agree if</p><ul>${answer.named.slice(0, 2).map((one) => html`<li>${misreadWords(card, plan, answer.readings, one)}</li>`)}</ul>` : ""}
      ${answer.verdict === "fail" && !answer.again ? html`<p class="hold hold"><b>MOVE</b> ${answer.moves.map((one) => moveWords(card, plan, one)).join("; ") || "less than is worth moving"}</p>` : ""}${said}
      ${known && answer.verdict !== "contradict" ? html`${foundSketch(card, plan, answer.poles, answer.again ? [] : answer.moves)}<ul class="plain found">${plan.quantities.map(row)}</ul>` : ""}
      <p class="hint">± holds 95 %. The surveyor's shots judge; this check is the crew's own.</p>
      <div class="pair"><button type="button" data-tape="stakes">Stakes</button><a class="button" href="${viewLink("card", card)}">Not now</a></div>
      <div class="save-bar">${act ? button("go", act) : ""}${button("save", saved, Boolean(act))}</div></div>`,
  );
}

/** Keep the check as a record, and forget it here. */
const save = async () => keepCheck("tape", here, contentOf(here.check, here.card, here.plan), fix());

const ACTIONS = {
  mark: ({ dataset }) => {
    takeStart();
    mark(here.check, dataset.name, !here.check.lost.includes(dataset.name));
  },
  start: () => takeStart() && start(here.check, here.plan),
  anew: () => Object.assign(here.check, { taped: {}, phase: "quick", stage: "start" }),
  back: () => back(here.check, here.plan),
  stakes: () => Object.assign(here.check, { stage: "start" }),
  go: () => goOn(here.check, here.plan, answerOf(here.check, here.card, here.plan).next),
};

async function clicked({ target }) {
  const pressed = /** @type {Element} */ (target).closest("[data-tape]");
  if (!pressed || !here.main?.contains(pressed)) return;
  const act = pressed.dataset.tape;
  if (act === "key") return press(pressed.dataset.sign);
  if (act === "save") {
    pressed.disabled = true;
    return save().catch((error) => toast(`NOT SAVED: ${error?.message ?? "the phone's storage is full"}. Write it down and make room.`));
  }
  if (ACTIONS[act](pressed) === false) return;
  keep();
  draw();
}

document.addEventListener("click", (event) => void clicked(event));
document.addEventListener("input", ({ target }) => /** @type {Element} */ (target).closest("[data-entry]") && showZone());
document.addEventListener("submit", (event) => {
  const form = /** @type {Element} */ (event.target);
  if (form.matches("[data-entry]")) entered();
  else if (form.matches("[data-girths]") && ACTIONS.start() !== false) {
    keep();
    draw();
  }
});

export { showTape };
