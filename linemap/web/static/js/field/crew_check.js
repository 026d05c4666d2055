// What the pages of both checks before tamping share, by tape and by rover: stakes, girths, no plan, and the record.

import { html, render } from "../shared/html.js";
import { poleName } from "../shared/number.js";
import { toast } from "./banner.js";
import { backTo, viewLink } from "./card.js";
import { remember } from "./db.js";
import { me } from "./me.js";
import { add } from "./outbox.js";
import { soon } from "./sync.js";
import { stakeWords } from "./tape_words.js";
import { asRecorded } from "./where.js";
import { stamp } from "./words.js";

const GIRTH_UNIT = { ft: "in", m: "cm" };

/** Say why there is no check of a card; `method` is "tape" or "rover". */
function showNoCheck(main, card, method) {
  const why = card.tape?.why || "this phone has no plan of it yet: load the line anew";
  render(main, html`<div class="frame-check"><h1 tabindex="-1">${card.number} <small>check by ${method}</small></h1><p class="note">No check by ${method} here: ${why}.</p>
    <a class="button wide" href="${viewLink("card", card)}">Back to the card</a></div>`);
}

/** A button for each stake that says whether it stands, and what is said of those that do not count; `act` is what it does. */
function stakeRows({ check, card, plan }, act) {
  const row = ({ name, ...stake }) => html`<li><button type="button" class="stake-mark" ${act} data-name="${name}" aria-pressed="${check.lost.includes(name)}">
    <span>${stakeWords(card, plan, { name, ...stake })}<small>on the lath ${name}</small></span><b>${check.lost.includes(name) ? "LOST" : "stands"}</b></button></li>`;
  return html`<h2>Which stakes stand?</h2><ul class="plain">${plan.stakes.map(row)}</ul>
    ${card.tape.left_out.map((name) => html`<p class="hold conditional"><b>NOT USED</b> ${name} was shot where it does not belong</p>`)}`;
}

/** The field for the girth of a pole; `known` says what is known of its radius. */
const girthField = ({ check, card, plan }, letter, known) => html`<label>Girth of pole ${poleName(card, letter)}, ${GIRTH_UNIT[plan.unit]}<small>${known}</small><input name="girth.${letter}" inputmode="decimal" maxlength="8" autocomplete="off" value="${check.girths[letter] ?? ""}"></label>`;

/** Keep a check as a record of its structure, forget it among those that go on, and go back to the card. */
async function keepCheck(method, { card, check, kept }, content, position) {
  const { crew, actor, device } = me();
  const back = backTo(card);
  const entry = await add("event", {
    id: crypto.randomUUID(),
    line: card.line,
    structure: card.number,
    pole: "",
    step: "",
    what: "check",
    result: "done",
    happened_at: stamp(Date.now()),
    crew,
    actor,
    device,
    position: asRecorded(position),
    revision_seen: card.revision,
    supersedes: "",
    readings: [],
    note: "",
    photos: [],
    content,
  });
  delete kept?.[check.key];
  await remember(method, kept);
  soon();
  back();
  toast(`On this phone: check by ${method} at ${card.number}, ${content.verdict}`, entry.id);
}

export { GIRTH_UNIT, girthField, keepCheck, showNoCheck, stakeRows };
