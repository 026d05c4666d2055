// The job briefing: five subjects, who was in charge, where and when. A record, and never an approval.

import { html, render } from "../html.js";
import { me } from "./me.js";
import { add } from "./outbox.js";
import { soon } from "./sync.js";
import { stamp } from "./words.js";

/** Subjects of a job briefing as 29 CFR 1910.269(c)(2) names them. */
const SUBJECTS = [
  ["hazards", "Hazards of the job"],
  ["procedures", "Work procedures"],
  ["precautions", "Special precautions"],
  ["energy_sources", "Energy-source controls"],
  ["ppe", "Personal protective equipment"],
];

/** Show the form for a structure. */
export function showBriefing(main, card) {
  render(main, html`<form class="briefing" data-briefing><h1 tabindex="-1"><small>${card.number}</small> Job briefing</h1>
    <p>At least one a shift, and again when something changes that matters. This page records what was said; it approves nothing.</p>
    <label>Person in charge<input name="person_in_charge" required maxlength="100" value="${me().actor}" autocomplete="off"></label>
    ${SUBJECTS.map(([name, words]) => html`<label>${words}<textarea name="${name}" rows="2" required maxlength="2000"></textarea></label>`)}
    <button type="submit" class="save">Save briefing</button></form>`);
}

/** Keep the briefing; resolves when it is on disk. */
export async function saveBriefing(card, form) {
  const given = Object.fromEntries(new FormData(form));
  const subjects = Object.fromEntries(SUBJECTS.map(([name]) => [name, given[name].trim()]));
  const entry = await add("briefing", {
    id: crypto.randomUUID(), line: card.line, structure: card.number, at: stamp(Date.now()),
    person_in_charge: given.person_in_charge.trim(), subjects,
  });
  soon();
  return entry;
}

/** Claim a structure for the crew until the end of the day. */
export async function claim(card) {
  const until = new Date();
  until.setHours(23, 59, 0, 0);
  const entry = await add("claim", {
    id: crypto.randomUUID(), line: card.line, structure: card.number, crew: me().crew, device: me().device,
    made_at: stamp(Date.now()), expires_at: stamp(until.getTime()),
  });
  soon();
  return entry;
}
