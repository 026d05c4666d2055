// The lists of the job on the page of files: every state a file gave them, and what each changed.

import { moment } from "../shared/page.js";
import { html } from "../shared/html.js";
import { count } from "./parts.js";

const FIRST_ROWS = 200;
const LONGEST = 120;

/**
 * What states changed, each against the one before it; "" = nothing.
 * @param {Answer.StateOfList[]} states
 */
function changed(states) {
  const sum = (of) => states.reduce((whole, state) => whole + of(state), 0);
  const counts = [
    { number: sum((state) => state.removed), words: "taken away" },
    { number: sum((state) => state.added), words: "added" },
    { number: sum((state) => state.changed), words: "changed" },
  ];
  const said = counts.filter(({ number }) => number).map(({ number, words }) => `${number.toLocaleString("en")} ${words}`);
  return said.join(", ");
}

/** A value as it is read: shapes of features are long texts. */
function asText(value) {
  if (Array.isArray(value)) return value.join(", ");
  if (typeof value === "boolean") return value ? "yes" : "no";
  const text = String(value ?? "");
  return text.length > LONGEST ? `${text.slice(0, LONGEST)}\u2026` : text;
}

/** @param {Answer.ListAnswer} list */
function rowsOfState(list) {
  const shown = list.rows.slice(0, FIRST_ROWS);
  const more = list.rows.length - shown.length;
  const cell = (value, row, place) => asText(list.called[list.fields[place].name]?.[row] ?? value);
  const heads = list.fields.map((field) => html`<th scope="col">${field.label}${field.unit && ` (${field.unit})`}</th>`);
  const changes = list.changes.slice(0, FIRST_ROWS).map((each) => html`<li>${each}</li>`);
  return html`${changes.length > 0 && html`<details open><summary>What it changed (${list.changes.length})</summary><ul>${changes}</ul></details>`}
    <div class="scroll" tabindex="0" role="group" aria-label="Rows of this state"><table><thead><tr>${heads}</tr></thead><tbody>${shown.map((values, row) => html`<tr>${values.map((value, place) => html`<td>${cell(value, row, place)}</td>`)}</tr>`)}</tbody></table></div>${more > 0 && html`<p>and ${count(more, "more row")}, all of them at /api/list</p>`}`;
}

/**
 * One state as a row of its list, with the button that opens it.
 * @param {Answer.StatesOfList} list
 * @param {Answer.StateOfList} state
 */
function stateRow(list, state) {
  const first = !list.states.some((each) => each.part === state.part && each.id < state.id);
  const from = [state.label, state.source_file].filter(Boolean).join(", ") || "entered by hand";
  return html`<tr><td>${moment(state.loaded_at)}${state.current && html` <b>now</b>`}${state.true_from !== state.loaded_at.slice(0, 10) && html`<br>true from ${state.true_from}`}<br>${from}${state.loaded_by && html`<br>by ${state.loaded_by}`}${state.part && html`<br>${state.part}`}</td><td>${state.rows.toLocaleString("en")}</td><td>${first ? "the first" : changed([state]) || "nothing"}</td>
    <td><button type="button" data-kind="${list.kind}" data-state="${state.id}" aria-expanded="false">Rows<span class="visually-hidden"> of ${list.kind}, loaded ${moment(state.loaded_at)}</span></button></td></tr>`;
}

/** @param {Answer.StatesOfList} list */
function listCard(list) {
  const now = list.states.filter((state) => state.current).reduce((sum, state) => sum + state.rows, 0);
  return html`<details class="list"><summary>${list.kind}: ${count(now, "row")}, ${count(list.states.length, "state")}</summary><p>A new file ${list.does}.</p>
    <div class="scroll" tabindex="0" role="group" aria-label="States of ${list.kind}"><table><thead><tr><th scope="col">loaded</th><th scope="col">rows</th><th scope="col">against the one before</th><th scope="col"><span class="visually-hidden">open</span></th></tr></thead><tbody>${[...list.states].reverse().map((state) => stateRow(list, state))}</tbody></table></div><div class="state" aria-live="polite"></div></details>`;
}

export { changed, listCard, rowsOfState };
