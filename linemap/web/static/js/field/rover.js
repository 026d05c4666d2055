// The pages of a check by rover: where positions come from, one place a page, and the answer. Works without signal.

import { html, render } from "../shared/html.js";
import { poleName } from "../shared/number.js";
import { toast } from "./banner.js";
import { viewLink } from "./card.js";
import { girthField, keepCheck, showNoCheck, stakeRows } from "./crew_check.js";
import { read, remember } from "./db.js";
import { index, planOf } from "./pack.js";
import { answerOf, back, begun, contentOf, goOn, isTaken, keepFix, placeNow, residualNow, secondsOf, stakesFor, start, take, takeIn } from "./rover_check.js";
import { BAUDS, hasSerial, openBrowser, openKind, openSerial, stop } from "./rover_source.js";
import { nextWords, offWords, placeSketch, placeWords } from "./rover_words.js";
import { isGirth, keyOf, withoutRadius } from "./tape_check.js";
import { movesOf } from "./tape_solve.js";
import { foundSketch, gateWords, length, moveWords, quantityWords, VERDICTS } from "./tape_words.js";

/** A position older than this is none, milliseconds. */
const FRESH_MS = 3000;

/** What is shown: page, card, plan, the check, the newest position and what is said of the source, the place being taken. */
/** @type {{ main: any, card: any, plan: any, check: any, kept: Record<string, any> | null, position: any, heard: number, said: string, taking: any, stage: "start" | "stand" | "answer" }} */
const here = { main: null, card: null, plan: null, check: null, kept: null, position: null, heard: 0, said: "", taking: null, stage: "start" };

const rule = () => index().rover;

/** Is this page shown? Elsewhere positions are let go; a receiver stays open for the next structure. */
const isShown = () => document.documentElement.dataset.view === "rover";

function keep() {
  const { check, kept } = here;
  if (kept) kept[check.key] = check;
  void remember("rover", kept);
}

/** Show the check of a card; `still` says whether the page is still wanted. */
async function showRover(main, card, still) {
  const kept = (here.kept ??= (await read("meta", "rover")) ?? {});
  const plan = await planOf(card);
  if (!still()) return;
  if (!plan || !rule()) {
    showNoCheck(main, card, "rover");
    return;
  }
  const known = kept[keyOf(card)];
  if (here.check?.key !== keyOf(card)) here.stage = "start";
  Object.assign(here, { main, card, plan, check: known?.plan === card.tape.plan ? known : begun(card, rule()), taking: null });
  draw();
}

function draw() {
  const { main, check } = here;
  if (here.stage === "stand" && !placeNow(check)) here.stage = check.places.length ? "answer" : "start";
  ({ start: drawStart, stand: drawStand, answer: drawAnswer })[here.stage]();
  main.querySelector("[data-first]")?.focus({ preventScroll: true });
  window.scrollTo(0, 0);
}

const button = (act, words, off = false) => html`<button type="button" class="save" data-rover="${act}" ${off ? html`disabled` : ""}>${words}</button>`;

const option = (value, words, chosen) => html`<option value="${value}" ${String(value) === String(chosen) ? html`selected` : ""}>${words}</option>`;

function drawStart() {
  const { main, card, plan, check } = here;
  const standing = stakesFor(check, plan);
  const begin = check.fixes.length ? "Go on" : "Begin";
  render(
    main,
    html`<form class="frame-check" data-rover-start><h1 tabindex="-1" data-first>${card.number} <small>check by rover, before tamping</small></h1>
      <h2>Where do positions come from?</h2>
      <button type="button" class="stake-mark source" data-rover="browser" aria-pressed="${openKind() === "browser"}"><span>This phone's browser<small>with a receiver that feeds the phone's own position</small></span></button>
      <label>What its accuracy means<select name="circle">${rule().circles.map(([name]) => option(name, name === "68 %" ? "68 % of positions (as phones say it)" : name === "95 %" ? "95 % of positions" : name, check.circle))}</select></label>
      ${hasSerial() ? html`<button type="button" class="stake-mark source" data-rover="serial" aria-pressed="${openKind() === "serial"}"><span>Receiver by cable or Bluetooth<small>NMEA sentences GGA, GST and RMC</small></span></button>
      <label>Baud<select name="baud">${BAUDS.map((baud) => option(baud, baud, check.baud))}</select></label>` : html`<p class="note">This browser reads no receiver by cable or Bluetooth.</p>`}
      <div data-source role="status"></div>
      ${stakeRows(here, html`data-rover="mark"`)}
      ${standing.length ? "" : html`<p class="hold hold" role="alert"><b>NO STAKE</b> without a stake nothing shows what the base is off: set one anew, or leave it to the surveyor</p>`}
      ${standing.length === 2 && standing[0] === standing[1] ? html`<p class="hold conditional"><b>ONE STAKE</b> if it was moved, that shows nowhere; two are better</p>` : ""}
      <div class="readings">${withoutRadius({ ...check, girths: {} }, card, plan).map((letter) => girthField(here, letter, "no table tells its radius"))}</div>
      <p class="fault" data-fault role="alert" hidden></p>
      <a class="button wide" href="${viewLink("card", card)}">Back to the card</a>
      <div class="save-bar">${standing.length ? button("stand", `${begin}: ${check.fixes.length ? check.places.length - check.fixes.length : 2 + 3 * plan.letters.length} places`) : ""}${check.fixes.length ? button("anew", "Begin anew") : ""}</div></form>`,
  );
  showSource();
}

const gate = () => `A check needs a fixed RTK position of ${rule().gate_m} m or better, in its own words: a receiver on a rod, with corrections from a base. A phone alone is never good enough.`;

/** What is said of the newest position: { good, words }. */
function sourceNow() {
  const { position } = here;
  if (!openKind()) return { good: false, words: here.said || "Choose where positions come from." };
  if (!position || Date.now() - here.heard > FRESH_MS) return { good: false, words: here.said || "Waiting for a position…" };
  if (position.why) return { good: false, words: position.why };
  return { good: true, words: `${openKind() === "serial" ? "Fixed RTK, good" : "Good"} to ${position.accuracy_m.toFixed(3)} m by its own words` };
}

function showSource() {
  const box = here.main?.querySelector("[data-source]");
  if (!box) return;
  const { good, words } = sourceNow();
  const refused = !good && here.position?.why && openKind();
  render(box, html`<p class="${good ? "ticket" : refused ? "hold hold" : "hold conditional"}"><b>${good ? "COUNTS" : refused ? "REFUSED" : "NO POSITION"}</b> ${words}</p>${good ? "" : html`<p class="hint">${gate()}</p>`}`);
}

function drawStand() {
  const { main, card, check } = here;
  const place = /** @type {any} */ (placeNow(check));
  const [where, how] = placeWords(card, here.plan, place);
  render(
    main,
    html`<div class="frame-check standing"><h1 tabindex="-1" data-first><small>${card.number}, place ${check.fixes.length + 1} of ${check.places.length}</small></h1>
      <p class="from"><b>${where}</b></p><p class="to">${how}</p>${placeSketch(card, here.plan, place)}
      <div class="rover-run" data-run role="status" aria-live="off"></div><div data-source></div>
      <div class="pair"><button type="button" data-rover="back">${check.fixes.length ? "Place before" : "Back"}</button><button type="button" data-rover="setup">Stakes, receiver</button></div>
      <div class="save-bar">${here.taking ? button("halt", "Stop") : button("take", html`Stand here <b>${rule().seconds} s</b>`)}</div></div>`,
  );
  showSource();
  showRun();
}

function showRun() {
  const { main, card, plan, check, taking } = here;
  const box = main.querySelector("[data-run]");
  if (!box || !taking) return;
  const residual = residualNow(check, card, plan, rule(), taking);
  const seconds = Math.min(Math.round(secondsOf(taking)), rule().seconds);
  const what = check.fixes.length ? "off the design" : "off by the base: taken out of all";
  render(
    box,
    html`<p class="rover-time"><b>${seconds}</b> of ${rule().seconds} s, ${taking.count} positions</p><progress max="${rule().seconds}" value="${seconds}" aria-label="time at this place"></progress>
      ${residual ? html`<p>${offWords(card, plan, residual.off)}<small>${what}, ± ${length(residual.spread, plan)}; standing longer hardly betters it</small></p>` : ""}
      ${taking.moved ? html`<p class="hold conditional"><b>MOVED</b> the rod moved; it begins anew</p>` : ""}`,
  );
}

function heard(position) {
  if (!isShown()) return openKind() === "browser" ? stop() : undefined;
  Object.assign(here, { position, heard: Date.now(), said: "" });
  const { taking, check } = here;
  if (taking && !position.why) {
    takeIn(taking, position);
    if (isTaken(taking, rule())) {
      keepFix(check, taking);
      here.taking = null;
      keep();
      navigator.vibrate?.(200);
      return draw();
    }
    showRun();
  }
  return showSource();
}

function said(words) {
  here.said = words;
  here.position = null;
  showSource();
}

function drawAnswer() {
  const { main, card, plan, check } = here;
  const answer = answerOf(check, card, plan, rule());
  const told = answer.quantities.length > 0;
  const moves = answer.verdict === "fail" && check.fails > 0 ? movesOf(plan, answer.poles, answer.gates) : [];
  const [words, act] = nextWords(card, plan, answer);
  const row = (name, at) => html`<li>${quantityWords(card, plan, name, answer.quantities[at], answer.gates[at][0])}${gateWords(plan, answer, at)}</li>`;
  render(
    main,
    html`<div class="frame-check answer"><h1 tabindex="-1" data-first><small>${card.number}, check by rover</small></h1>
      <p class="verdict" data-verdict="${answer.verdict}" role="status"><b>${answer.verdict === "contradict" ? "PLACES CONTRADICT EACH OTHER" : VERDICTS[answer.verdict]}</b></p>
      ${answer.why && html`<p class="hold conditional"><b>WHY</b> ${answer.why}</p>`}
      ${moves.length ? html`<p class="hold hold"><b>MOVE</b> ${moves.map((one) => moveWords(card, plan, one)).join("; ")}</p>` : ""}${words}
      ${told && answer.verdict !== "contradict" ? html`${foundSketch(card, plan, answer.poles, moves)}<ul class="plain found">${plan.quantities.map(row)}</ul>` : ""}
      ${told ? html`<p>By the stakes the base is ${offWords(card, plan, answer.shift)}; that is taken out.</p>` : ""}
      <p class="hint">± holds 95 %. The surveyor's shots judge; this check is the crew's own.</p>
      <div class="pair"><button type="button" data-rover="back">Place before</button><a class="button" href="${viewLink("card", card)}">Not now</a></div>
      <div class="save-bar">${act ? button("go", act) : ""}${button("save", act ? "Save as it is" : "Save the check")}</div></div>`,
  );
}

/** Keep the check as a record, at the place of its first position, and forget it here. */
async function save() {
  const { check, card, plan } = here;
  await keepCheck("rover", here, contentOf(check, card, plan, rule(), openKind() || ""), check.fixes[0] ?? null);
  here.check = null;
}

/** Take girths out of the form; false, with words, when one is missing or cannot be. */
function takeGirths() {
  const { main, check, plan, card } = here;
  const form = main.querySelector("[data-rover-start]");
  if (!form) return true;
  for (const letter of withoutRadius({ ...check, girths: {} }, card, plan)) {
    const girth = Number(form.elements[`girth.${letter}`].value.trim().replace(",", "."));
    if (!isGirth(plan, girth)) {
      const fault = form.querySelector("[data-fault]");
      fault.textContent = `Tape the girth of pole ${poleName(card, letter)}: no table tells its radius`;
      fault.hidden = false;
      form.elements[`girth.${letter}`].focus();
      return false;
    }
    check.girths[letter] = girth;
  }
  return true;
}

const ACTIONS = {
  browser: () => openBrowser(rule(), here.check.circle, heard, said),
  serial: () => openSerial(rule(), here.check.baud, heard, said).catch((error) => said(error?.name === "NotFoundError" ? "no receiver was chosen" : `the receiver cannot be opened: ${error?.message ?? error}`)),
  mark: ({ dataset: { name } }) => {
    const { check } = here;
    check.lost = check.lost.includes(name) ? check.lost.filter((known) => known !== name) : [...check.lost, name];
    Object.assign(check, { places: [], fixes: [] });
  },
  stand: () => {
    if (!takeGirths()) return false;
    if (!here.check.places.length) start(here.check, here.plan);
    here.stage = "stand";
    return true;
  },
  anew: () => Object.assign(here.check, { places: [], fixes: [], fails: 0 }),
  take: () => (here.taking = take()),
  halt: () => (here.taking = null),
  back: () => {
    here.taking = null;
    here.stage = here.check.fixes.length ? "stand" : "start";
    back(here.check);
  },
  setup: () => Object.assign(here, { taking: null, stage: "start" }),
  go: () => {
    goOn(here.check, here.plan, answerOf(here.check, here.card, here.plan, rule()));
    here.stage = "stand";
  },
};

async function clicked({ target }) {
  const pressed = /** @type {Element} */ (target).closest("[data-rover]");
  if (!pressed || !here.main?.contains(pressed)) return;
  const act = pressed.dataset.rover;
  if (act === "save") {
    pressed.disabled = true;
    await save().catch((error) => toast(`NOT SAVED: ${error?.message ?? "the phone's storage is full"}. Write it down and make room.`));
    return;
  }
  if ((await ACTIONS[act](pressed)) === false) return;
  keep();
  draw();
}

document.addEventListener("click", (event) => void clicked(event));
document.addEventListener("change", ({ target }) => {
  const box = /** @type {any} */ (target);
  if (!box.closest?.("[data-rover-start]")) return;
  if (box.name === "circle") here.check.circle = box.value;
  if (box.name === "baud") here.check.baud = Number(box.value);
  if (box.name === "circle" && openKind() === "browser") openBrowser(rule(), here.check.circle, heard, said);
});
setInterval(() => isShown() && showSource(), 1000);

export { showRover };
