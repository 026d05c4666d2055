// Markup of the bench for shots: the list, the shot that is looked at, what may be said of it, what that changed.

import { count } from "../files/parts.js";
import { html } from "../shared/html.js";
import { moment, option } from "../shared/page.js";
import { signature } from "../shared/person.js";
import { shotName, stateIcon } from "./shot_plan.js";

/** A pole farther from a shot than this, in ground units, is named and not offered. */
const OFFERED = 1000;

/** What waits for somebody: everything but what was decided and what was read as something else. */
const OPEN = ["conflicting", "unused", "unread"];

/** What tells a shot from others of the job. */
const keyOf = (shot) => `${shot.file}\n${shot.row}\n${shot.point}`;

/**
 * The shots of a state ("open" = what waits, "all") whose description, file or point has a text.
 * @param {readonly Answer.OpenShot[]} shots
 */
function fitting(shots, { state, text }) {
  const has = text.trim().toUpperCase();
  return shots.filter((shot) => {
    const wanted = state === "all" || (state === "open" ? OPEN.includes(shot.state) : shot.state === state);
    return wanted && `${shot.description}\n${shot.file}\n${shot.point}`.toUpperCase().includes(has);
  });
}

/** @param {Answer.OpenShots} bench */
function filterForm(bench, chosen) {
  const many = (states) => bench.shots.filter(({ state }) => states.includes(state)).length;
  const entry = (value, words, states) => html`<option value="${value}"${value === chosen && html` selected`}>${words}: ${many(states)}</option>`;
  return html`<label class="choice"><span>Shots</span><select name="became">${entry("open", "waiting for somebody", OPEN)}${Object.entries(bench.states).map(([state, words]) => entry(state, words, [state]))}${entry("all", "all of these", Object.keys(bench.states))}</select></label>
    <label class="choice"><span>Description or file has</span><input name="text" autocomplete="off" maxlength="100"></label>
    <button type="button" data-do="all">Choose all listed</button><button type="button" data-do="none">Choose none</button>`;
}

/** @param {Answer.OpenShot} shot */
function entryOf(shot, k, { active, chosen, states }) {
  const named = [shot.structure, shot.called].filter(Boolean).join(" ");
  return html`<li role="option" id="shot-${k}" data-k="${k}" class="shot${active && " active"}" aria-selected="${String(chosen)}">
    <span class="tick" data-tick aria-hidden="true">${chosen ? "✓" : ""}</span>${stateIcon(shot.state)}
    <span class="shot-words"><b>${shotName(shot)}</b> <q>${shot.description}</q>${named && html` <span>${named}</span>`}<span class="shot-state">${states[shot.state]}${shot.decision && html`, ${shot.decision.who}`}</span></span></li>`;
}

/** The shot that is looked at: what became of it, what is near, and what can be said with one press. */
function detail(/** @type {Answer.OpenShot} */ shot, { may, severalLines, states }) {
  const pole = (near) => `${near.structure} ${near.called}${severalLines ? ` of ${near.line}` : ""}`;
  const hints = shot.near.map((near, k) => {
    const words = html`<b>${pole(near)}</b> <span>${near.words}</span>`;
    return may && shot.state !== "set aside" && near.distance < OFFERED ? html`<li><button type="button" data-near="${k}">Assign to ${words}</button></li>` : html`<li>${words}</li>`;
  });
  const decision = shot.decision && html`<p class="stands" data-answer="accepted">${shot.decision.words} <time datetime="${shot.decision.at}">${moment(shot.decision.at)}</time></p>`;
  const then = shot.without.length > 0 && html`<div class="then"><p>Without this shot:</p><ul>${shot.without.map((words) => html`<li>${words}</li>`)}</ul></div>`;
  const aside = may && shot.state !== "set aside" && html`<button type="button" data-do="this aside">Set ${shotName(shot)} aside</button>`;
  const back = may && shot.decision && html`<button type="button" data-do="back">Take this decision back</button>`;
  return html`<h3>${stateIcon(shot.state)} ${shotName(shot)} <q>${shot.description}</q></h3>
    <p class="shot-state">${states[shot.state]}: ${shot.words}</p>
    <p class="source">${shot.file}, row ${shot.row}${shot.observed_on && `, ${shot.observed_on}`}; N ${shot.northing} E ${shot.easting}</p>
    ${decision}${then}${aside}${back}
    <h4>Nearest poles of the design</h4><ol class="near">${hints}</ol>`;
}

/** What may be said of the shots that are chosen, or of the one that is looked at. */
function sayForm(/** @type {Answer.OpenShots} */ bench, { session, numbers, lines, poles }) {
  return html`<fieldset><legend id="say-about"></legend>
    <div class="say-fields"><label>Item<select name="kind">${bench.items.map(({ item, words }) => option(item, words))}</select></label>
    <label>Structure, or control point of a check<input name="structure" list="shot-numbers" autocomplete="off" maxlength="40"></label>
    ${lines.length > 1 && html`<label>Line<select name="line">${lines.map((line) => option(line, line))}</select></label>`}
    <label>Pole<select name="pole">${option("", "none")}${["A", "B", "C"].map((letter, k) => poles[k] && option(letter, poles[k]))}</select></label></div>
    <datalist id="shot-numbers">${numbers.map((number) => html`<option value="${number}"></option>`)}</datalist>
    <div class="fields"><label>Note <em>(the reason, to set aside)</em><input name="note" maxlength="2000" autocomplete="off"></label>${signature(session)}</div>
    <div class="answers"><button type="button" data-do="assign" class="answer">Assign</button><button type="button" data-do="nearest" class="answer">Each to its nearest pole</button><button type="button" data-do="aside" class="answer">Set aside</button><button type="button" data-do="alike" class="answer">Read all described alike …</button></div></fieldset>
    <fieldset id="bench-alike" hidden><legend>All described alike</legend>
    <label>Pattern<input name="pattern" maxlength="200" autocomplete="off" aria-describedby="alike-how"></label>
    <p class="source" id="alike-how">&lt;structure&gt; stands for a number of the list, &lt;pole&gt; for a word for a pole, &lt;number&gt; for any other number. Shots of files that come later are read so too.</p>
    <div id="alike-found" role="status"></div>
    <div class="answers"><button type="button" data-do="read alike" class="answer">Read them so</button><button type="button" data-do="close alike">Close</button></div></fieldset>`;
}

/** What a pattern would read: how many, how far off, and the first of them. */
function alikeBox(/** @type {Answer.ShotsAlike} */ { words, shots }) {
  const first = shots.slice(0, 8).map((each) => html`<li><b>${each.point || `row ${each.row}`}</b> <q>${each.description}</q> ${each.structure} ${each.called}${each.words && html`, ${each.words}`}</li>`);
  return html`<p><b>${words}.</b></p><ul>${first}${shots.length > first.length && html`<li>and ${shots.length - first.length} more</li>`}</ul>`;
}

/** What was decided, and every verdict it changed. */
function doneBox(/** @type {Answer.ShotsAnswer} */ answer, what) {
  const moved = answer.changed.length
    ? html`<p>${answer.changed.map((each) => `${each.structure}: ${each.before} → ${each.after}`).join("; ")}</p>`
    : html`<p>No verdict changed.</p>`;
  const listed = answer.words.slice(0, 6).map((words) => html`<li>${words}</li>`);
  const more = answer.words.length > listed.length && html`<li>and ${count(answer.words.length - listed.length, "decision")} more</li>`;
  return html`<h3 tabindex="-1">${what === "take back" ? "Taken back" : "Recorded"}</h3><ul>${listed}${more}</ul>${moved}
    ${what !== "take back" && html`<button type="button" data-do="undo">Undo: take this back</button>`}`;
}

export { OFFERED, alikeBox, detail, doneBox, entryOf, filterForm, fitting, keyOf, sayForm };
