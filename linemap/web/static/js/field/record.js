// Recording a step: the identifier and the time are made at the tap, and the record is on disk before it is shown.

import { html, render } from "../html.js";
import { holdBlock } from "./card.js";
import { me } from "./me.js";
import { add, sent, takeBack, waiting } from "./outbox.js";
import { index } from "./pack.js";
import { holdsOn, openSteps, stepsOf, ticketFault } from "./steps.js";
import { soon } from "./sync.js";
import { fix, judge, words as positionWords } from "./where.js";
import { poleWords, stamp } from "./words.js";

const recordLink = (card, code) => `#${new URLSearchParams({ v: "record", n: card.number, l: card.line, s: code })}`;

function place(card) {
  const at = fix();
  if (!at) return html`<p class="where">${positionWords() || "waiting for satellites"}; recording does not wait for it</p>`;
  const judged = judge(card, at);
  if (judged.verdict !== "elsewhere") {
    return html`<p class="where">${judged.sentence || "The position is too poor to tell structures apart."}</p>`;
  }
  const there = judged.at && html`<a class="button" href="#${new URLSearchParams({ v: "card", n: judged.at.number, l: judged.at.line })}">Go to ${judged.at.number}</a>`;
  return html`<div class="where wrong" role="alert"><p><b>WRONG PLACE?</b> ${judged.sentence}</p>${there}</div>`;
}

/** Bring only the place line up to date, so that nothing typed is lost. */
export const showPlace = (main, card) => render(main.querySelector("[data-place]"), place(card));

function saveButtons(card, step) {
  if (step.per === "structure") {
    return html`<button type="button" class="save" data-do="save" data-pole="">Save <b>${step.words}</b></button>`;
  }
  const letters = [...card.left_to_right].sort();
  const each = letters.map((letter) => html`<button type="button" class="save pole" data-do="save" data-pole="${letter}">
    Save <i class="disc ${letter}">${letter}</i>${step.poles_done.includes(letter) && html`<small>already recorded</small>`}</button>`);
  return html`<div class="pair">${each}</div><button type="button" class="save whole" data-do="save" data-pole="">
    Save <b>${letters.length === 2 ? "both poles" : "all poles"}</b></button>`;
}

function wind() {
  return html`<fieldset><legend>Wind reading, mph</legend><div class="pair"><label>Speed<input name="speed" type="number" inputmode="decimal" min="0" max="200" step="any"></label>
    <label>Gust<input name="gust" type="number" inputmode="decimal" min="0" max="200" step="any"></label></div><p data-wind role="status"></p></fieldset>`;
}

/** What is said of a wind reading: only that the limit is passed, never that it is not. */
export function windWords(speed, gust, limit) {
  const highest = Math.max(speed || 0, gust || 0);
  if (!highest) return "";
  if (limit === null) return "No wind limit is set for this job. The person in charge decides.";
  if (highest <= limit) return "Recorded. The person in charge decides.";
  return `${highest} mph is above the employer's limit of ${limit} mph. The person in charge decides; this page decides nothing.`;
}

function extras() {
  return html`<label class="photo button">Photo<input type="file" name="photo" accept="image/*" capture="environment" multiple></label>
    <p data-photos role="status"></p>
    <details class="extras"><summary>Note, wind, brand, who, rejected</summary>
      <label>Note<textarea name="note" rows="2" maxlength="2000"></textarea></label>${wind()}
      <label>Brand seen on the pole<input name="brand" maxlength="200" autocomplete="off" placeholder="length, class, species, date"></label>
      <label>Who<input name="actor" maxlength="100" value="${me().actor}" autocomplete="off"></label>
      <label>Crew<input name="crew" maxlength="100" value="${me().crew}" list="crews" autocomplete="off"></label>
      <datalist id="crews">${index().crews.map((crew) => html`<option value="${crew}">`)}</datalist>
      <label class="check"><input type="checkbox" name="rejected"> Not accepted: must be done again</label></details>`;
}

function stepChoice(card, steps) {
  const open = openSteps(steps);
  const chip = ({ code, words }) => html`<a class="button" href="${recordLink(card, code)}">${words}${!open.includes(code) && html`<small>out of order</small>`}</a>`;
  const order = [...steps].sort((a, b) => open.includes(b.code) - open.includes(a.code));
  return html`<h2>Which step?</h2><div class="chips">${order.map(chip)}</div>`;
}

/** Show the record page of a card; without a step code the steps are offered. */
export function showRecord(main, card, code) {
  const steps = stepsOf(card);
  const step = steps.find((known) => known.code === code);
  if (!step) {
    render(main, html`<div class="record"><h1 tabindex="-1">Record at ${card.number}</h1>${stepChoice(card, steps)}</div>`);
    return;
  }
  const missing = index().workflow.steps.find((rule) => rule.code === code).requires.filter((need) => !steps.find((known) => known.code === need)?.done);
  render(
    main,
    html`<form class="record" data-step="${code}" data-number="${card.number}"><h1 tabindex="-1"><small>${card.number}</small> ${step.words}</h1>
      ${holdsOn(card, code).map(holdBlock)}
      ${ticketFault(card, code) && html`<p class="hold hold"><b>TICKET</b> ${ticketFault(card, code)}</p>`}
      ${missing.length ? html`<p class="note">Before it, not recorded: ${missing.join(", ")}. It is kept as you say it, with a remark.</p>` : ""}
      <div data-place></div>${saveButtons(card, step)}${extras()}
      <div class="pair"><a class="button" href="${recordLink(card, "")}">Other step</a><a class="button" href="#${new URLSearchParams({ v: "card", n: card.number, l: card.line })}">Not now</a></div></form>`,
  );
  showPlace(main, card);
}

const number = (text) => (text === "" || text === undefined ? null : Number(text));

function bodyOf(card, form, pole, at) {
  const given = Object.fromEntries(new FormData(form));
  const position = fix();
  const [speed, gust] = [number(given.speed), number(given.gust)];
  return {
    id: crypto.randomUUID(),
    line: card.line,
    structure: card.number,
    pole,
    step: form.dataset.step,
    result: given.rejected ? "rejected" : "done",
    happened_at: stamp(at),
    crew: given.crew.trim(),
    actor: given.actor.trim(),
    device: me().device,
    position: position && { longitude: position.longitude, latitude: position.latitude, accuracy_m: position.accuracy_m },
    revision_seen: card.revision,
    supersedes: "",
    brand_seen: given.brand.trim(),
    wind: speed === null ? null : { speed_mph: speed, gust_mph: gust },
    note: [given.note.trim().replace(/\r\n?/g, "\n"), speed === null && gust !== null ? `gust ${gust} mph` : ""].filter(Boolean).join("; "),
    photos: [],
  };
}

/** Keep what the form says, with its photos; resolves when it is on disk. */
export async function save(card, form, pole, pictures) {
  const body = bodyOf(card, form, pole, Date.now());
  body.photos = pictures.map(({ id }) => id);
  const entry = await add("event", body, pictures);
  soon();
  return entry;
}

/** Words of a record: "dug, pole A at 9/2". */
export const entryWords = ({ kind, body }) =>
  kind === "event"
    ? `${body.result === "done" ? "" : `${body.result}: `}${body.step}${body.pole && `, ${poleWords(body.pole)}`} at ${body.structure}`
    : `${kind} at ${body.structure}`;

/** Take a record back: unsent ones vanish; for others a withdrawal is recorded, and the history stays. */
export async function undo(id) {
  if (await takeBack(id)) return "taken back";
  const entry = [...waiting(), ...sent()].find((known) => known.id === id);
  if (!entry || entry.kind !== "event") return "it was sent already";
  const body = { ...entry.body, id: crypto.randomUUID(), result: "withdrawn", supersedes: id, happened_at: stamp(Date.now()), photos: [], note: "recorded by mistake" };
  await add("event", body);
  soon();
  return "a withdrawal is recorded; the history stays";
}
