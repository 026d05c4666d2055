// What would follow from a proposal, by weight; what needs its own word; and the one button.

import { html } from "../shared/html.js";
import { count } from "../files/parts.js";
import { nameField } from "../shared/person.js";

const FIRST_EFFECTS = 200;
/** @type {[Answer.Consequence["weight"], string][]} */
const WEIGHTS = [
  ["harm", "Takes something away"],
  ["look", "Look at this before you accept"],
  ["note", "What was meant"],
];

/** One consequence in another answer to the same question: its code and words. */
const sameness = ({ code, words }) => `${code}\n${words}`;

/** An effect in words, with its structure. @param {Answer.Effect} effect */
const effectWords = ({ structure, words }) => (structure ? `${structure}: ${words}` : words);

function effectRow(effect, i, j) {
  if (!effect.before && !effect.after) return html`<li class="effect">${effectWords(effect)}</li>`;
  return html`<li><button type="button" data-effect="${i}:${j}">${effectWords(effect)}</button></li>`;
}

/**
 * @param {Answer.Consequence} each
 * @param {number} i
 * @param {boolean} changed true = it was not there when the person looked before
 */
function consequence(each, i, changed) {
  const shown = each.effects.slice(0, FIRST_EFFECTS);
  const more = each.count - shown.length;
  const still = !shown.some(({ before, after }) => before || after);
  const isNew = changed && html`<b class="new">new</b>`;
  if (!shown.length) return html`<li class="consequence ${each.weight}"><p>${isNew}${each.words}</p></li>`;
  return html`<li class="consequence ${each.weight}"><details data-keep="follows-${each.code}"${each.weight === "harm" && html` open`}><summary>${isNew}<span>${each.words}</span></summary>
    <ul class="effects"${still && html` tabindex="0"`}>${shown.map((effect, j) => effectRow(effect, i, j))}</ul>${more > 0 && html`<p class="effect">and ${more.toLocaleString("en")} more</p>`}</details></li>`;
}

/**
 * @param {Answer.Proposal} proposal
 * @param {Answer.Proposal | null} looked what the person looked at before; null = nothing else
 */
function consequenceList(proposal, looked) {
  const before = looked && new Set(looked.consequences.map(sameness));
  const groups = WEIGHTS.map(([weight, title]) => {
    const rows = proposal.consequences.flatMap((each, i) => (each.weight === weight ? [consequence(each, i, before !== null && !before.has(sameness(each)))] : []));
    return rows.length > 0 && html`<h3>${title}</h3><ul class="weights">${rows}</ul>`;
  });
  const now = new Set(proposal.consequences.map(sameness));
  const gone = looked ? looked.consequences.filter((each) => !now.has(sameness(each))) : [];
  return html`${gone.length > 0 && html`<h3>No more so</h3><ul class="weights">${gone.map((each) => html`<li class="consequence gone"><p><s>${each.words}</s></p></li>`)}</ul>`}
    ${groups}${!proposal.consequences.length && html`<p class="nothing">Nothing else changes: no hold, structure, verdict or record.</p>`}`;
}

/** @param {Answer.NotNamed} list */
function notNamed({ kind, count: number, names, ends }) {
  const more = number - names.length;
  return html`<div class="asked"><input type="checkbox" id="ends-${kind}" name="ends" value="${kind}"${ends && html` checked`}><label for="ends-${kind}"><b>End the ${number.toLocaleString("en")} ${kind} that are not in the files</b></label>
    <p>${ends ? "They end with this load" : "They stay as they are"}: ${names.join(", ")}${more > 0 && html` and ${more} more`}.</p></div>`;
}

/**
 * @param {Answer.NeededWord} need
 * @param {Set<string>} said the words that were said already
 */
const needed = ({ word, words }, said) =>
  html`<div class="asked"><input type="checkbox" id="removes-${word}" name="removes" value="${word}"${said.has(word) && html` checked`}><label for="removes-${word}"><span>I have seen it: <b>${words}</b></span></label></div>`;

/** Who signs: whoever is signed in, else a name that is asked for. */
const signature = ({ session, who }) =>
  session.local
    ? nameField("by", who)
    : html`<p>Signed as <b>${session.name}</b></p>`;

const dropButton = ({ what }) => html`<button type="button" data-act="drop">${what === "undo" ? "Drop this undo" : "Drop these files"}</button>`;

/**
 * The part that accepts: lists whose other records may end, words of their own, reason, name, the button. Of
 * what is refused nothing can be accepted.
 * @param {Answer.Proposal} proposal
 * @param {{ said: Set<string>, reason: string, who: string, session: Answer.Session }} given
 */
function acceptForm(proposal, given) {
  const named = proposal.files.some(({ fields }) => fields.length > 0);
  if (proposal.state === "refused") return html`${named && html`<div class="fields">${signature(given)}</div>`}<div class="answers">${dropButton(proposal)}</div>`;
  return html`<h2 class="page-title" id="accept-title">Accept it</h2>
    ${proposal.not_named.map(notNamed)}
    ${proposal.needs.map((need) => needed(need, given.said))}
    <div class="fields"><label>Why, for the record<input name="reason" required maxlength="2000" autocomplete="off" value="${given.reason}"></label>${signature(given)}</div>
    <p id="missing" class="missing"></p>
    <div class="answers"><button type="submit" class="main" aria-describedby="missing">${proposal.button}</button>${dropButton(proposal)}</div>`;
}

/** What keeps a form from being sent, in words, and the control to begin with; null = nothing. */
function missing(form) {
  const [word] = form.querySelectorAll("input[name=removes]:not(:checked)");
  if (word) return { words: "Say with the boxes above that you have seen what is taken away.", control: word };
  const { reason, by } = form.elements;
  if (!reason.value.trim()) return { words: "Say why, for the record.", control: reason };
  if (by && !by.value.trim()) return { words: "Give your name.", control: by };
  return null;
}

/** @param {Answer.Accepted} accepted */
function doneBox(accepted) {
  return html`<h2 class="page-title" id="done-title" tabindex="-1">Done</h2><ul class="did">${accepted.words.map((each) => html`<li>${each}</li>`)}</ul>
    <div class="answers"><a class="button" href="/">See it on the map</a><a class="button" href="/files">Files and changes</a><button type="button" data-act="undo" data-id="${accepted.change}">Undo this change</button></div>`;
}

/** One sentence that says what the files are. @param {Answer.Proposal} proposal */
function sentence(proposal) {
  if (proposal.what === "undo") return `This would undo an accepted change: the lists stand again as before it. Asked for by ${proposal.who}.`;
  const kinds = [...new Set(proposal.files.map((file) => file.kind || "not recognised"))].join(", ");
  const used = proposal.files.reduce((sum, file) => sum + file.rows_used, 0);
  const all = proposal.files.reduce((sum, file) => sum + file.rows_in, 0);
  const files = proposal.files.length === 1 ? proposal.files[0].name : count(proposal.files.length, "file");
  const rows = all > 0 ? `; ${used.toLocaleString("en")} of ${count(all, "row")} would be used` : "";
  return `${files}: ${kinds}${rows}. Brought by ${proposal.who || "somebody at this machine"}; nothing is stored yet.`;
}

/** What is taken away, before all the rest. @param {Answer.Proposal} proposal */
function gravest({ consequences }) {
  const rows = consequences.filter(({ weight }) => weight === "harm");
  return rows.length > 0 && html`<div class="refusal"><p><b>This takes something away.</b></p><ul class="plain">${rows.map(({ words }) => html`<li>${words}</li>`)}</ul></div><div class="answers"><a class="button" href="#follows-title">See what would follow</a></div>`;
}

export { consequenceList, gravest, effectWords, acceptForm, missing, doneBox, sentence };
