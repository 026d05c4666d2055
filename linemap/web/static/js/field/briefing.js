// The job briefing: five subjects, what the data know of each, who was in charge. A record, and never an approval.

import { html, render } from "../shared/html.js";
import { comingBlocks, heldNow, holdBlock, toCome } from "./holds.js";
import { me } from "./me.js";
import { add } from "./outbox.js";
import { index } from "./pack.js";
import { windSaid } from "./readings.js";
import { soon } from "./sync.js";
import { stamp } from "./words.js";

/** Subjects of a job briefing as 29 CFR 1926.952(b) names them. */
const SUBJECTS = [
  ["hazards", "Hazards of the job"],
  ["procedures", "Work procedures"],
  ["precautions", "Special precautions"],
  ["energy_sources", "Energy-source controls"],
  ["ppe", "Personal protective equipment"],
];

/** What the data know of a subject. */
function reminders(card, key) {
  const rows = [...(card.near.reminders[key] ?? []), ...(key === "hazards" ? [...card.near.spans, ...windSaid(card)] : [])];
  const held = key === "precautions" ? html`${heldNow(card).map((hold) => holdBlock(hold))}${comingBlocks(card, toCome(card))}` : "";
  return html`${rows.length ? html`<ul class="known">${rows.map((words) => html`<li>${words}</li>`)}</ul>` : ""}${held}`;
}

/** @param {Phone.Card} card
 * @param {string[]} subject */
function subject(card, [key, words]) {
  return html`<section class="subject"><h2 id="about-${key}">${words}</h2>${reminders(card, key)}
    <textarea name="${key}" rows="2" maxlength="2000" aria-labelledby="about-${key}" placeholder="What was said"></textarea></section>`;
}

/** What is declared of help and hospitals, and what the lists of the job say of the nearest one. */
function helpWords(card) {
  const known = [...(index().emergency ?? []), ...(card.near.hospital ?? [])];
  return known.length ? known : ["Hospital: neither declared nor in the lists of this job"];
}

function place(card) {
  const [decimal, minutes, seconds, grid] = card.near.coordinates;
  return html`<section class="help"><h2>To call for help from here</h2>
    <ul><li><b>${decimal}</b></li><li>${minutes}</li><li>${seconds}</li><li><small>${grid}</small></li></ul>
    <p><b>Nearest road:</b> ${card.near.road_point}</p>
    ${helpWords(card).map((words) => html`<p>${words}</p>`)}</section>`;
}

/** Show the form for a structure. */
function showBriefing(main, card) {
  render(main, html`<form class="briefing" data-briefing><h1 tabindex="-1"><small>Job briefing at</small> ${card.number}</h1>
    <p>At least one a shift, and again when something changes that matters. This page keeps what was said; it approves nothing.</p>
    <label>Person in charge<input name="person_in_charge" required maxlength="100" value="${me().actor}" autocomplete="off"></label>
    ${SUBJECTS.map((one) => subject(card, one))}${place(card)}
    <p class="caution">Treat every wire as energized. Approach distances are by the operator and the person in charge. What the data do not know is not here.</p>
    <button type="submit" class="save">Save briefing</button></form>`);
}

/** Subjects of which nothing is written down in a form. */
const notCovered = (form) => SUBJECTS.filter(([name]) => !form.elements[name].value.trim()).map(([, words]) => words.toLowerCase());

/** Keep the briefing; resolves when it is on disk. */
async function saveBriefing(card, form) {
  const given = /** @type {Record<string, string>} */ (Object.fromEntries(new FormData(form)));
  const subjects = Object.fromEntries(SUBJECTS.map(([name]) => [name, given[name].trim()]));
  const entry = await add("briefing", {
    id: crypto.randomUUID(), line: card.line, structure: card.number, at: stamp(Date.now()),
    person_in_charge: given.person_in_charge.trim(), subjects,
  });
  soon();
  return entry;
}

export { showBriefing, notCovered, saveBriefing };
