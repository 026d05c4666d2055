// Forms that keep a record: what is typed, buttons that wait while it is written, and what could not be kept.

import { toast } from "./banner.js";
import { notCovered, saveBriefing } from "./briefing.js";
import { punchFault, savePunch } from "./punch.js";
import { showWind } from "./readings.js";
import { entryWords, keepDraft, readingsFit, save } from "./record.js";

const waits = (form, on) => form.querySelectorAll("button").forEach((button) => (button.disabled = on));

/** Keep what a form says with `saving`, which gives the entry; then `done` is called with it. */
async function keep(form, saving, done) {
  waits(form, true);
  try {
    const entry = await saving();
    await done(entry);
    toast(`On this phone: ${entryWords(entry)}`, entry.id);
  } catch (error) {
    waits(form, false);
    toast(`NOT SAVED: ${error?.message ?? "the phone's storage is full"}. Write it down and make room.`);
  }
}

/** Keep the record of a step, of the pole or part its button is for. */
async function keepStep(card, button, pictures, done) {
  const form = button.closest("form");
  if (!readingsFit(card, form, button.dataset.pole)) return;
  form.dataset.part = button.dataset.part ?? "";
  await keep(form, () => save(card, form, button.dataset.pole, pictures), done);
}

/** Keep what is said of a punch item, or say beside the form what it lacks. */
async function keepPunch(card, form, pictures, done) {
  const said = form.querySelector("[data-fault]");
  said.textContent = punchFault(form, pictures);
  said.hidden = !said.textContent;
  if (said.textContent) said.scrollIntoView({ block: "center" });
  else await keep(form, () => savePunch(card, form, pictures), done);
}

/** Keep a briefing, and say of what nothing is written. */
async function keepBriefing(card, form, done) {
  const left = notCovered(form);
  await saveBriefing(card, form);
  done();
  toast(`The briefing is on this phone${left.length ? `; nothing written of: ${left.join(", ")}` : ""}`);
}

/** What is typed into the form of a record stays when the page is closed; wind is held against its limits at once. */
function typed(card, { target }) {
  const form = target.closest("form.record");
  if (!form) return;
  keepDraft(card, form);
  if (["wind", "gust"].includes(target.name)) showWind(card, form);
}

export { keepStep, keepPunch, keepBriefing, typed };
