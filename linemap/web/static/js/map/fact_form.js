// One thing seen at a structure, recorded on its panel: what, where, by whom and when. The answer says what it changes.

import { html, render } from "../shared/html.js";
import { ask } from "../shared/request.js";
import { rememberName, signature } from "../shared/person.js";

const PATIENCE_MS = 15000;
const ROLES = ["surveyor", "inspector", "manager"];

const choice = (name, words, options) =>
  html`<label>${words}<select name="${name}">${options.map(([value, text]) => html`<option value="${value}">${text}</option>`)}</select></label>`;

const measure = (name, words, unit) => html`<label>${words}, ${unit}<input name="${name}" type="number" step="any" required inputmode="decimal"></label>`;

const pole = (poles) => choice("pole", "Pole", poles);
const pointed = () =>
  choice("pointed_by", "Which pole is meant", [
    ["place", "the one standing in that place, told by the neighbours"],
    ["label", "the one whose tag or shot bears the letter"],
  ]);
const ways = [["ahead", "ahead"], ["back", "back"]];

/** What each kind of fact asks for. */
const FIELDS = {
  brand: ({ poles }) => html`${pole(poles)}${pointed()}
    <label>Length burned in, ft<input name="length_ft" type="number" min="1" max="300" step="any" inputmode="decimal"></label>
    <label>Class burned in<input name="pole_class" maxlength="20" autocomplete="off"></label>`,
  "ground wire": ({ poles }) => html`${pole(poles)}${pointed()}`,
  "arm face": () => choice("face", "Face of the poles the arm is bolted to", ways),
  tag: ({ poles }) => html`${choice("pole", "Letter on the tag", poles)}
    ${choice("looking", "Photo or look toward", ways)}${choice("side", "The tag is on the", [["left", "left"], ["right", "right"]])}`,
  plumb: ({ poles, unit }) => html`${pole(poles)}
    ${measure("lower_height", "Lower point above ground", unit)}${measure("lower_along", "Lower offset, ahead +", unit)}${measure("lower_across", "Lower offset, right +", unit)}
    ${measure("upper_height", "Upper point above ground", unit)}${measure("upper_along", "Upper offset, ahead +", unit)}${measure("upper_across", "Upper offset, right +", unit)}
    ${measure("pole_height", "Pole top above ground", unit)}`,
  "arm level": ({ unit }) => html`${measure("left_height", "Left end, looking ahead: height or elevation", unit)}
    ${measure("right_height", "Right end", unit)}${measure("arm_length", "Length between them", unit)}`,
};
const WORDS = {
  brand: "brand: length and class",
  "ground wire": "ground-wire pole",
  "arm face": "arm face",
  tag: "photo side: tag seen from a known direction",
  plumb: "plumb reading of a pole",
  "arm level": "arm level reading",
};

const two = (number) => String(number).padStart(2, "0");
const clock = (now) => `${two(now.getHours())}:${two(now.getMinutes())}`;

function form(about, session) {
  return html`<details class="release record-fact"><summary>Record what was seen at ${about.structure}</summary>
    <form><p>It stays on record with your name and the time. What follows from it is worked out.</p>
    ${choice("what", "What was seen", Object.entries(WORDS))}
    <div class="fact-fields">${FIELDS.brand(about)}</div>
    <label>Day it was seen<input name="day" type="date" required value="${about.day}"></label>
    <label>Time<input name="time" type="time" required value="${clock(new Date())}"></label>
    <label>Photo, words<textarea name="note" rows="2" maxlength="1000"></textarea></label>
    ${signature(session)}
    <button type="submit">Record it</button></form><div role="status" data-said></div></details>`;
}

const NUMBERS = new Set(["length_ft", "lower_height", "lower_along", "lower_across", "upper_height", "upper_along", "upper_across", "pole_height", "left_height", "right_height", "arm_length"]);

/** The moment chosen, in this device's own time zone. */
function moment(day, time) {
  const ahead = -new Date(`${day}T${time}`).getTimezoneOffset();
  const zone = `${ahead < 0 ? "-" : "+"}${two(Math.floor(Math.abs(ahead) / 60))}:${two(Math.abs(ahead) % 60)}`;
  return `${day}T${time}:00${zone}`;
}

function written(sent, about) {
  const { day, time, ...given } = Object.fromEntries(new FormData(sent));
  const filled = Object.entries(given).filter(([, value]) => value !== "");
  const values = filled.map(([name, value]) => [name, NUMBERS.has(name) ? Number(value) : value]);
  return { ...Object.fromEntries(values), line: about.line, structure: about.structure, at: moment(day, time) };
}

async function record(sent, about) {
  const said = sent.parentElement.querySelector("[data-said]");
  const button = sent.querySelector("button");
  const body = written(sent, about);
  button.disabled = true;
  render(said, html`<p>Recording…</p>`);
  try {
    const answer = await ask("/api/facts", { method: "POST", body, signal: AbortSignal.timeout(PATIENCE_MS) });
    rememberName(body.who);
    const head = answer.recorded ? "Recorded." : "Recorded before, and not again.";
    render(said, html`<p><b>${head}</b></p><ul class="sentences">${answer.changes.map((words) => html`<li>${words}</li>`)}</ul><p><button type="button" data-afresh>Show ${about.structure} with it</button></p>`);
  } catch (error) {
    render(said, html`<p role="alert">Not recorded: ${error.message}</p>`);
  } finally {
    button.disabled = false;
  }
}

/**
 * Offer to record what was seen in `place`, to those who may; elsewhere and without contact nothing shows.
 * `again()` is called when the structure is asked for with the new fact.
 */
async function offerFacts(place, about, again) {
  let session;
  try {
    session = await ask("/api/session", { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
  } catch {
    return;
  }
  if (!place.isConnected || !(session.local || ROLES.includes(session.role))) return;
  render(place, form(about, session));
  place.hidden = false;
  const sent = place.querySelector("form");
  sent.elements.what.addEventListener("change", () => render(place.querySelector(".fact-fields"), FIELDS[sent.elements.what.value](about)));
  sent.addEventListener("submit", (event) => {
    event.preventDefault();
    event.stopPropagation();
    void record(sent, about);
  });
  place.addEventListener("click", (event) => event.target.closest("[data-afresh]") && again());
}

export { offerFacts };
