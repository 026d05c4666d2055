// Recording a step: the identifier and the time are made at the tap, and the record is on disk before it is shown.

import { html, render } from "../shared/html.js";
import { poleName, poleWords } from "../shared/number.js";
import { JOB } from "../shared/request.js";
import { fromLeft, standing, viewLink } from "./card.js";
import { holdBlock } from "./holds.js";
import { hasRole, me } from "./me.js";
import { add, sent, takeBack, waiting } from "./outbox.js";
import { head, index } from "./pack.js";
import { begun, begunWords, partBar } from "./parts.js";
import { punchWords } from "./punch.js";
import { askedBy, boxesOf, evidenceOf, fieldsOf, readingsOf, windBlock } from "./readings.js";
import { comingOn, holdsOn, lacking, openSteps, stepsOf, stopsOn, ticketFault, ticketHead } from "./steps.js";
import { soon } from "./sync.js";
import { agedBlock } from "./warnings.js";
import { asRecorded, fix, judge, words as positionWords } from "./where.js";
import { checkWords, shortDay, stamp } from "./words.js";

const STEADY_MS = 350;
const SIDE_WORDS = { 2: ["left", "right"], 3: ["left", "middle", "right"] };

function place(card) {
  const at = fix();
  if (!at) return html`<p class="where">${positionWords() || "waiting for satellites"}; recording does not wait for it</p>`;
  const judged = judge(card, at);
  if (judged.verdict !== "elsewhere") {
    return html`<p class="where">${judged.sentence}</p>`;
  }
  const there = judged.at && html`<button type="button" data-do="there" data-line="${judged.at.line}" data-number="${judged.at.number}">Go to ${judged.at.number}<small>what is entered goes along</small></button>`;
  return html`<div class="where wrong" role="alert"><p><b>WRONG PLACE?</b> ${judged.sentence}</p>${there}</div>`;
}

/** Bring only the place line up to date, so that nothing typed is lost. */
const showPlace = (main, card) => render(main.querySelector("[data-place]"), place(card));

/** The buttons to save with, always under the thumb; poles stand as the person sees them. */
function saveBar(card, step) {
  if (step.per === "guy" || step.per === "span") return partBar(step);
  if (step.per === "structure") {
    return html`<div class="save-bar"><button type="button" class="save" data-do="save" data-pole="" disabled>Save <b>${step.words}</b></button></div>`;
  }
  const letters = fromLeft(card, me().facing);
  const each = letters.map((letter, at) => html`<button type="button" class="save pole" data-do="save" data-pole="${letter}" disabled>
    <small>${step.poles_done.includes(letter) ? "again" : "save"}</small><i class="disc ${letter}">${poleName(card, letter)}</i><small>${(SIDE_WORDS[letters.length] ?? [])[at]}</small></button>`);
  return html`<div class="save-bar per-pole">${each}<button type="button" class="save whole" data-do="save" data-pole="" disabled>
    Save <b>${letters.length === 2 ? "both" : "all"}</b></button></div>`;
}

/** Is the step held by a condition now? */
const isConditional = (card, code) => holdsOn(card, code).some(({ kind }) => kind === "conditional");

function evidence(card, code, letters) {
  const [needed, there] = askedBy(code, isConditional(card, code));
  const wanted = evidenceOf(code);
  const under = there.length ? html`<p class="wanted">It goes on under a condition: <b>who is there?</b></p>${fieldsOf(there, card, letters)}` : "";
  return html`${under}${wantedOf(wanted, needed, card, letters)}`;
}

function wantedOf(wanted, needed, card, letters) {
  return wanted.length ? html`<p class="wanted">To be verified it needs: <b>${wanted.join(", ")}</b></p>${fieldsOf(needed, card, letters)}` : "";
}

/** Which crew records: asked in the open while the phone has none, else where it can be changed. */
const crewField = () => html`<label>Crew<input name="crew" maxlength="100" value="${me().crew}" list="crews" autocomplete="off"></label>
  <datalist id="crews">${index().crews.map((crew) => html`<option value="${crew}">`)}</datalist>`;

function extras(card, code) {
  const letters = fromLeft(card, me().facing);
  const [, , others] = askedBy(code, isConditional(card, code));
  return html`${!me().crew && crewField()}${evidence(card, code, letters)}<label class="photo button">Photo<input type="file" name="photo" accept="image/*" capture="environment" multiple></label>
    <div data-photos role="status"></div>
    <details class="extras"><summary>Note, more readings, who</summary>
      <label>Note<textarea name="note" rows="2" maxlength="2000"></textarea></label><p class="hint">A note proves nothing: what is measured belongs into the boxes.</p>
      ${fieldsOf(others, card, letters)}${windBlock(card)}
      <label>Who<input name="actor" maxlength="100" value="${me().actor}" autocomplete="off"></label>${me().crew && crewField()}
      <label class="check"><input type="checkbox" name="rejected"> Not accepted: must be done again</label></details>`;
}

/** Show the photos taken so far, each with a way to leave it out. */
function showPhotos(main, pictures, words = "") {
  const box = main.querySelector("[data-photos]");
  if (!box) return;
  for (const old of box.querySelectorAll("img")) URL.revokeObjectURL(old.src);
  const one = ({ id, data, type }, count) => html`<li><img src="${URL.createObjectURL(new Blob([data], { type }))}" alt="photo ${count + 1}">
    <button type="button" data-do="drop" data-id="${id}">Leave out</button></li>`;
  render(box, html`${words && html`<p>${words}</p>`}${pictures.length ? html`<p>${pictures.length} photo${pictures.length > 1 ? "s" : ""} with this record</p><ul class="plain taken">${pictures.map(one)}</ul>` : ""}`);
}

function stepChoice(card, steps) {
  const open = openSteps(steps);
  const note = (step) => (step.done ? `done ${shortDay(step.when, index().as_of)}` : open.includes(step.code) ? (begun(step) ? begunWords(card, step) : "") : step.built ? "not its turn yet" : "none here");
  const chip = (step) => html`<a class="button" href="${viewLink("record", card, { s: step.code })}">${step.words}${note(step) && html`<small>${note(step)}</small>`}</a>`;
  const rank = (step) => (open.includes(step.code) ? 0 : step.done ? 2 : 1);
  return html`<h2>Which step?</h2><div class="chips">${[...steps].sort((a, b) => rank(a) - rank(b)).map(chip)}</div>`;
}

/** What stands in the way of a step by what is on the phone; it is shown, and stops nothing. */
function inTheWay(card, code, steps) {
  const rules = index().workflow.steps;
  const words = (wanted) => rules.find((rule) => rule.code === wanted)?.words ?? wanted;
  const { requires = [], roles = [] } = rules.find((rule) => rule.code === code) ?? {};
  const missing = requires.filter((need) => !steps.find((known) => known.code === need)?.done);
  const ticket = ticketFault(card, code);
  const held = holdsOn(card, code);
  return html`${held.map((hold) => holdBlock(hold))}
    ${stopsOn(card, code, steps).map((stop) => html`<p class="hold hold"><b>STOP</b> ${stop}</p>`)}
    ${ticket && html`<p class="hold hold"><b>${ticketHead(card)}</b> ${ticket}</p>`}
    ${comingOn(card, code, !held.length).map((coming) => html`<p class="hold coming"><b>${coming}</b></p>`)}
    ${lacking(card, code).map((lack) => html`<p class="hold conditional"><b>MATERIAL</b> ${lack}</p>`)}
    ${!hasRole(roles) && html`<p class="note">Counts as done once ${roles.join(" or ")} records it too. Yours is kept, and they are asked.</p>`}
    ${missing.length ? html`<p class="note">Before it, not recorded: ${missing.map(words).join(", ")}. It is kept as you say it, with a remark.</p>` : ""}${agedBlock()}`;
}

/** Show the record page of a card; without a step code the steps are offered; `corrects` is the record it replaces. */
function showRecord(main, card, code, corrects = "") {
  const steps = stepsOf(card);
  const step = steps.find((known) => known.code === code);
  if (!step) {
    render(main, html`<div class="record"><h1 tabindex="-1"><small>Record at</small> ${card.number}</h1>${stepChoice(card, steps)}
      <a class="button wide" href="${viewLink("card", card)}">Back to the card</a></div>`);
    return;
  }
  const replaced = corrects && [...sent(), ...waiting()].find(({ id }) => id === corrects);
  render(
    main,
    html`<form class="record" data-step="${code}" data-number="${card.number}" data-corrects="${corrects}"><h1 tabindex="-1">${card.number} <small>${step.words}</small></h1>
      ${replaced && html`<p class="note">Corrects the record <b>${entryWords(replaced)}</b>. Both stay in the history; this one counts.</p>`}
      <div data-place></div>${inTheWay(card, code, steps)}${step.per === "pole" ? standing(card) : ""}${extras(card, code)}<p class="fault" data-fault role="alert" hidden></p>
      <div class="pair"><a class="button" href="${viewLink("record", card, { s: "", ...(corrects && { x: corrects }) })}">Other step</a><a class="button" href="${viewLink("card", card)}">Not now</a></div>${saveBar(card, step)}</form>`,
  );
  fill(main.querySelector("form"), { ...(replaced && boxesOf(replaced.body, card)), ...draft(card, code, corrects) });
  showPlace(main, card);
  steady(main);
}

const DRAFT = `linemap-draft-${JOB}`;

const draftKey = (card, code, corrects) => [card.line, card.number, code, corrects].join("\n");

/** What was typed for this record and not saved, when the page was closed or left in between. */
function draft(card, code, corrects) {
  try {
    const kept = JSON.parse(sessionStorage.getItem(DRAFT) ?? "null");
    return kept?.key === draftKey(card, code, corrects) ? kept.values : {};
  } catch {
    return {}; // storage may be closed in private windows
  }
}

/** Keep what is typed, until it is saved or another record is begun. */
function keepDraft(card, form) {
  const { step, corrects } = form.dataset;
  const values = Object.fromEntries([...new FormData(form)].filter(([name, value]) => typeof value === "string" && !["crew", "actor"].includes(name)));
  try {
    sessionStorage.setItem(DRAFT, JSON.stringify({ key: draftKey(card, step, corrects), values }));
  } catch {
    // the form still holds it
  }
}

/** Go on with this record at the structure it belongs to, with what is typed; the photos the page takes along. */
function takeAlong(form, to) {
  const { step, corrects } = form.dataset;
  keepDraft(to, form);
  location.hash = viewLink("record", to, { s: step, ...(corrects && { x: corrects }) });
}

function dropDraft() {
  try {
    sessionStorage.removeItem(DRAFT);
  } catch {
    // nothing was kept
  }
}

function fill(form, values) {
  for (const [name, value] of Object.entries(values)) {
    const box = form.elements[name];
    if (!box) continue;
    if (box.type === "checkbox") box.checked = value === "on";
    else box.value = value;
    if (value) box.closest("details")?.setAttribute("open", "");
  }
}

/** Say what is wrong with the readings of a form, beside the box it is in; true = nothing is. */
function readingsFit(card, form, pole) {
  const said = form.querySelector("[data-fault]");
  for (const box of form.querySelectorAll("[aria-invalid]")) box.removeAttribute("aria-invalid");
  try {
    readingsOf(card, form, pole);
    said.hidden = true;
    return true;
  } catch (error) {
    if (!error.box) throw error;
    error.box.closest("details")?.setAttribute("open", "");
    error.box.setAttribute("aria-invalid", "true");
    (error.box.closest("fieldset") ?? error.box.closest(".reading")).after(said);
    said.textContent = `NOT SAVED. ${error.message}`;
    said.hidden = false;
    error.box.focus();
    said.scrollIntoView({ block: "center" });
    return false;
  }
}

/** The second tap of a gloved thumb must not save what just appeared under it. */
function steady(main) {
  const buttons = main.querySelectorAll(".save-bar button");
  setTimeout(() => buttons.forEach((button) => (button.disabled = false)), STEADY_MS);
}

function bodyOf(card, form, pole, at) {
  const given = /** @type {Record<string, string>} */ (Object.fromEntries(new FormData(form)));
  return {
    id: crypto.randomUUID(),
    line: card.line,
    structure: card.number,
    pole,
    step: form.dataset.step,
    ...(form.dataset.part && { part: form.dataset.part }),
    result: given.rejected ? "rejected" : "done",
    happened_at: stamp(at),
    crew: given.crew.trim(),
    actor: given.actor.trim(),
    device: me().device,
    position: asRecorded(fix()),
    revision_seen: card.revision,
    supersedes: form.dataset.corrects,
    readings: readingsOf(card, form, pole),
    note: given.note.trim().replace(/\r\n?/g, "\n"),
    photos: [],
  };
}

/** Keep what the form says, with its photos; resolves when it is on disk. */
async function save(card, form, pole, pictures) {
  const body = bodyOf(card, form, pole, Date.now());
  body.photos = pictures.map(({ id }) => id);
  const entry = await add("event", body, pictures);
  dropDraft();
  soon();
  return entry;
}

/** What a record is called that is no step. */
const WHAT = { case: "answer to a case", moved: "move of a record" };

/** Words of a record: "dug, pole A at 9/2". */
function entryWords({ kind, body }) {
  if (kind !== "event") return `${kind} at ${body.structure}`;
  const found = head(body.line, body.structure);
  const pole = body.pole && (found ? poleWords(found, body.pole) : `pole ${body.pole}`);
  const taken = [undefined, "done"].includes(body.result) ? "" : `${body.result}: `;
  return `${taken}${body.what === "punch" ? punchWords(body) : body.what === "check" ? checkWords(body) : (WHAT[body.what] ?? [body.step, body.part].filter(Boolean).join(" "))}${pole && `, ${pole}`} at ${body.structure}`;
}

/** Take a record back: unsent ones vanish; for others a withdrawal is recorded, and the history stays. */
async function undo(id) {
  if (await takeBack(id)) return "Taken back; nothing of it was sent";
  const entry = [...waiting(), ...sent()].find((known) => known.id === id);
  if (!entry || entry.kind !== "event") return "It was sent already";
  const body = { ...entry.body, id: crypto.randomUUID(), result: "withdrawn", supersedes: id, actor: me().actor, device: me().device, happened_at: stamp(Date.now()), photos: [], readings: [], wind: null, brand_seen: "", note: "recorded by mistake" };
  await add("event", body);
  soon();
  return "Withdrawn; the history keeps both";
}

export { showPlace, showPhotos, showRecord, keepDraft, takeAlong, readingsFit, save, entryWords, undo };
