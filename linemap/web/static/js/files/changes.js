// What waits for review and what was accepted, on the page of files.

import { dropProposal, getChanges, reviewPage, undoChange } from "../shared/office_api.js";
import { html, render } from "../shared/html.js";
import { at, moment, say } from "../shared/page.js";
import { signing } from "../shared/person.js";
import { count } from "./parts.js";

const FIRST_CHANGES = 20;
const FIRST_WORDS = 12;
const FIRST_NAMES = 4;
const STATES = { waiting: "waits for its files", reading: "is being read", ready: "waits for review", refused: "cannot be loaded as it is", accepted: "is accepted" };

/** @param {Answer.Proposal} proposal */
function waitingRow(proposal) {
  const named = some(proposal.files.map((file) => file.name));
  const what = proposal.what === "undo" ? "An undo" : named || "Files";
  return html`<li class="change"><div><a href="${reviewPage(proposal.id)}"><b>${what}</b></a><p>It ${STATES[proposal.state]}${proposal.button && html`: ${proposal.button}`}. Brought ${moment(proposal.made_at)}${proposal.who && html` by ${proposal.who}`}.</p></div>
    <button type="button" data-act="drop" data-id="${proposal.id}">Drop<span class="visually-hidden"> ${what}, brought ${moment(proposal.made_at)}</span></button></li>`;
}

/** Some of many names. */
const some = (names) => `${names.slice(0, FIRST_NAMES).join(", ")}${names.length > FIRST_NAMES ? ` and ${names.length - FIRST_NAMES} more` : ""}`;

/** @param {Answer.ChangeEntry} change */
function changeRow(change) {
  const what = change.what === "undo" ? "Undone" : "Loaded";
  const more = change.words.length - FIRST_WORDS;
  const undo = change.undone_by
    ? html`<p class="state-of-change">Undone since.</p>`
    : change.kept_by
      ? html`<p class="state-of-change">${change.kept_by}</p>`
      : html`<button type="button" data-act="undo" data-id="${change.id}">Undo<span class="visually-hidden"> what ${change.who} accepted ${moment(change.at)}</span></button>`;
  return html`<li class="change" id="change-${change.id}"><div><p><b>${what}: ${some(change.files) || "an earlier change"}</b></p><p>${change.who}, <time>${moment(change.at)}</time>${change.reason && html`: ${change.reason}`}</p>
    <ul class="plain">${change.words.slice(0, FIRST_WORDS).map((each) => html`<li>${each}</li>`)}${more > 0 && html`<li>and ${more} more</li>`}</ul></div>${undo}</li>`;
}

class Changes {
  /** @type {Answer.ChangeList} */
  answer = { data_version: 0, changes: [], waiting: [] };
  all = false;

  constructor(session) {
    this.session = session;
  }

  async reload() {
    this.answer = await getChanges();
    const { waiting, changes } = this.answer;
    at("waiting").hidden = !waiting.length;
    render(at("waiting"), html`<h2 class="page-title" id="waiting-title" tabindex="-1">Waits for review</h2><ul class="changes">${waiting.map(waitingRow)}</ul>`);
    const shown = this.all ? changes : changes.slice(0, FIRST_CHANGES);
    const more = changes.length - shown.length;
    at("changes").hidden = !changes.length;
    render(at("changes"), html`<h2 class="page-title" id="changes-title">Accepted changes</h2><ul class="changes">${shown.map(changeRow)}</ul>${more > 0 && html`<button type="button" data-act="all">Show ${count(more, "more change")}</button>`}`);
  }

  async act({ act, id }) {
    say("");
    try {
      if (act === "undo") location.assign(reviewPage((await undoChange(id, signing(this.session))).id));
      if (act === "drop") await dropProposal(id);
      if (act === "all") this.all = true;
      if (act !== "undo") await this.reload();
    } catch (failure) {
      say(`Nothing was changed: ${failure.message}`);
    }
    if (act === "drop") (at("waiting").hidden ? at("chosen") : at("waiting-title")).focus();
  }
}

/**
 * Fill both parts and wire their buttons.
 * @param {Answer.Session} session
 */
async function startChanges(session) {
  const changes = new Changes(session);
  for (const id of ["waiting", "changes"]) {
    at(id).addEventListener("click", (event) => {
      const button = event.target.closest("button[data-act]");
      if (button) void changes.act(button.dataset);
    });
  }
  await changes.reload();
}

export { startChanges };
