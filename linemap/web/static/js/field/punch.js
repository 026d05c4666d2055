// Punch items at a structure: opened, closed and opened again on the phone, with words and photos; nothing asks
// the server. An item closes on evidence alone: a photo, or words.

import { html, render } from "../shared/html.js";
import { poleName } from "../shared/number.js";
import { me } from "./me.js";
import { add } from "./outbox.js";
import { index } from "./pack.js";
import { notInPack } from "./steps.js";
import { soon } from "./sync.js";
import { asRecorded, fix } from "./where.js";
import { today } from "./when.js";
import { shortDay, stamp, viewLink } from "./words.js";

const SEVERITIES = ["minor", "major", "stops the work"];

/** What a record of this phone does to the items of a structure. */
function apply(items, { content, photos }) {
  const known = items.find(({ item }) => item === content.item);
  if (!known && content.action !== "opened") return items;
  const proved = Boolean(content.evidence || photos.length);
  const open = content.action === "closed" ? (known?.open ?? true) && !proved : true;
  const { item, text = "", severity = "", owner = "", due = "", part = "" } = content;
  const fresh = known ? { ...known, open, local: true } : { item, text, severity, owner, due, part, open, finding: "", history: [], local: true };
  return [...items.filter((other) => other !== known), fresh];
}

/** The items of a card with what this phone recorded, open ones first. */
function itemsOf(card) {
  let items = (card.punch ?? []).map((one) => ({ ...one, local: false }));
  for (const { body } of notInPack(card)) if (body.what === "punch" && body.result !== "withdrawn") items = apply(items, body);
  return items.sort((a, b) => Number(b.open) - Number(a.open));
}

const isLate = ({ open, due }) => open && due !== "" && due < today();

function dueWords(one) {
  if (!one.due || !one.open) return "";
  const day = shortDay(one.due, index().as_of);
  return isLate(one) ? html`, <b>was due ${day}</b>` : html`, due ${day}`;
}

/** One item on the card, with the way to close it or to open it again. */
function itemRow(card, one) {
  const link = viewLink("punch", card, { i: one.item });
  return html`<li class="${one.open ? "open" : "closed"}"><p><b>${one.item}</b> ${one.open ? "open" : "closed"}${one.severity && html`, ${one.severity}`}${one.part && html`, at ${one.part}`}${one.local && html` <b class="local">this phone</b>`}<br>${one.text}<br>
    <small>${one.owner ? `for ${one.owner}` : "nobody named"}${dueWords(one)}</small>${one.finding && html`<br><b>${one.finding}</b>`}</p>
    <a class="button" href="${link}">${one.open ? "Close" : "Open again"}</a></li>`;
}

/** The punch list of a card: open items, and closed ones folded away. */
function punchBlock(card) {
  const items = itemsOf(card);
  const [open, closed] = [items.filter((one) => one.open), items.filter((one) => !one.open)];
  const list = (some) => html`<ul class="plain punch">${some.map((one) => itemRow(card, one))}</ul>`;
  return html`<section class="punch-list"><h2>Punch list</h2>${open.length ? list(open) : html`<p class="note">No open item is recorded here.</p>`}
    ${closed.length ? html`<details class="part"><summary><b>${closed.length} closed</b></summary>${list(closed)}</details>` : ""}
    <a class="button wide" href="${viewLink("punch", card, { i: "" })}">New punch item</a></section>`;
}

/** A warning for the top of a card: items that are past their day, or stop the work. */
function punchWarning(card) {
  const urgent = itemsOf(card).filter((one) => one.open && (isLate(one) || one.severity === "stops the work"));
  return urgent.map((one) => html`<p class="hold conditional"><b>PUNCH</b> ${one.item}: ${one.text}${one.part && ` (${one.part})`}${dueWords(one)}</p>`);
}

const whoFields = () => html`<details class="extras"><summary>Who</summary><label>Who<input name="actor" maxlength="100" value="${me().actor}" autocomplete="off"></label>
  <label>Crew<input name="crew" maxlength="100" value="${me().crew}" autocomplete="off"></label></details>`;

const photoField = (words) => html`<label class="photo button">${words}<input type="file" name="photo" accept="image/*" capture="environment" multiple></label><div data-photos role="status"></div>`;

const fault = html`<p class="fault" data-fault role="alert" hidden></p>`;

function openForm(card) {
  const poles = [...card.left_to_right].sort().map((letter) => html`<option value="${letter}">pole ${poleName(card, letter)}</option>`);
  const guys = (card.steps.find(({ per }) => per === "guy")?.parts ?? []).map((guy) => html`<option value="${guy}">guy ${guy}</option>`);
  return html`<label>What is wrong<textarea name="text" rows="3" maxlength="2000" required></textarea></label>
    ${photoField("Photo")}
    <label>Where<select name="part"><option value="">the structure</option>${poles}${guys}</select></label>
    <label>How much it matters<select name="severity"><option value="">not said</option>${SEVERITIES.map((words) => html`<option>${words}</option>`)}</select></label>
    <label>Who must do it<input name="owner" maxlength="100" list="owners" autocomplete="off"></label><datalist id="owners">${index().crews.map((crew) => html`<option value="${crew}">`)}</datalist>
    <label>Due<input type="date" name="due"></label>${whoFields()}${fault}
    <div class="save-bar"><button type="submit" class="save">Save <b>item</b></button></div>`;
}

/** Whose closing counts, where the job says so. */
const closers = () => (index().punch_roles?.length ? html`<p class="note">In this job an item is closed by: <b>${index().punch_roles.join(", ")}</b>. What others say is kept, and the item stays open.</p>` : "");

const closeForm = () => html`<p class="wanted">It closes on evidence: <b>a photo, or words</b></p>${closers()}${photoField("Photo")}
  <label>What shows that it is done<textarea name="evidence" rows="2" maxlength="2000" placeholder="torqued to 90, seen by inspector"></textarea></label>`;

const againForm = html`<label>What is wrong still<textarea name="text" rows="3" maxlength="2000" required></textarea></label>${photoField("Photo")}`;

/** Show the form of an item of a card; "" = a new one. */
function showPunch(main, card, item) {
  const one = itemsOf(card).find((known) => known.item === item);
  const action = !one ? "opened" : one.open ? "closed" : "reopened";
  const head = one
    ? html`<h1 tabindex="-1"><small>${one.open ? "Close at" : "Open again at"}</small> ${card.number} <small>${one.item}</small></h1><p><b>${one.text}</b>${one.part && html`, at ${one.part}`}</p>
      ${one.history.length ? html`<ul class="history">${one.history.map((words) => html`<li>${words}</li>`)}</ul>` : ""}`
    : html`<h1 tabindex="-1"><small>Punch item at</small> ${card.number}</h1>`;
  const fields = !one
    ? openForm(card)
    : html`${one.open ? closeForm() : againForm}${whoFields()}${fault}<div class="save-bar"><button type="submit" class="save">${one.open ? "Close" : "Open again"} <b>${one.item}</b></button></div>`;
  render(main, html`<form class="record punch-form" data-punch data-action="${action}" data-item="${one ? one.item : ""}">${head}${fields}
    <a class="button wide" href="${viewLink("card", card)}">Not now</a></form>`);
}

/** A new item's name: no two phones make the same. */
const newItem = () => `P-${crypto.randomUUID().slice(0, 6).toUpperCase()}`;

/** What is wrong with a form, in words; "" = nothing. */
function punchFault(form, pictures) {
  if (form.dataset.action !== "closed") return form.elements.text.value.trim() ? "" : "Say what is wrong.";
  return pictures.length || form.elements.evidence.value.trim() ? "" : "Take a photo, or write what shows that it is done.";
}

/** Keep what a form says, with its photos; resolves when it is on disk. */
async function savePunch(card, form, pictures) {
  const given = /** @type {Record<string, string>} */ (Object.fromEntries([...new FormData(form)].filter(([, value]) => typeof value === "string")));
  const said = (name) => (given[name] ?? "").trim().replace(/\r\n?/g, "\n");
  const pole = "ABC".includes(said("part")) ? said("part") : "";
  const content = { item: form.dataset.item || newItem(), action: form.dataset.action };
  for (const name of ["text", "severity", "owner", "due", "evidence"]) if (said(name)) content[name] = said(name);
  if (said("part") && !pole) content.part = said("part");
  const body = {
    id: crypto.randomUUID(), line: card.line, structure: card.number, pole, what: "punch", result: "done", happened_at: stamp(Date.now()),
    crew: said("crew"), actor: said("actor"), device: me().device,
    position: asRecorded(fix()),
    revision_seen: card.revision, content, photos: pictures.map(({ id }) => id),
  };
  const entry = await add("event", body, pictures);
  soon();
  return entry;
}

/** "punch item P-1A2B3C closed". */
const punchWords = ({ content }) => `punch item ${content.item} ${content.action}${content.text ? `: ${content.text}` : ""}`;

export { punchBlock, punchWarning, showPunch, punchFault, savePunch, punchWords };
