// Steps that are recorded for each guy of a structure, or for the span ahead of it, beside those of poles.

import { html } from "../shared/html.js";
import { poleWords } from "../shared/number.js";

/** Is a step recorded for each of some guys? Where the schedule names none, it is one of the structure. */
const ofGuys = (step) => step.per === "guy" && (step.parts ?? []).length > 0;

/** Has a step that is not done been begun, at some poles or guys? */
const begun = (step) => !step.done && Boolean(step.poles_done || step.parts_done?.length);

/** "only pole A", "only G1, G3" of a step that is begun. */
const begunWords = (card, step) => (ofGuys(step) ? `only ${step.parts_done.join(", ")}` : `only ${poleWords(card, step.poles_done)}`);

/** Put a record into a step of guys, as the server's fold does. */
function applyGuys(step, { part, result }) {
  const named = (name) => step.parts.find((guy) => guy.toLowerCase() === name.toLowerCase()) ?? name;
  const touched = part ? [named(part)] : step.parts;
  const left = step.parts_done.filter((guy) => !touched.includes(guy));
  step.parts_done = result === "done" ? step.parts.filter((guy) => left.includes(guy) || touched.includes(guy)) : left;
  step.done = step.parts_done.length === step.parts.length;
}

/** The buttons to save a step with: one for each guy and one for all; of a span, the span is named. */
function partBar(step) {
  if (!ofGuys(step)) {
    const [span = ""] = step.parts ?? [];
    return html`<div class="save-bar"><button type="button" class="save" data-do="save" data-pole="" data-part="${span}" disabled>Save <b>${step.words}</b>${span && html`<small>${span}</small>`}</button></div>`;
  }
  const each = step.parts.map((guy) => html`<button type="button" class="save pole" data-do="save" data-pole="" data-part="${guy}" disabled>
    <small>${step.parts_done.includes(guy) ? "again" : "save"}</small><b>${guy}</b></button>`);
  return html`<div class="save-bar per-guy">${each}<button type="button" class="save whole" data-do="save" data-pole="" data-part="" disabled>Save <b>all</b></button></div>`;
}

export { ofGuys, begun, begunWords, applyGuys, partBar };
