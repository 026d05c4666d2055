// Claims: a crew says that it works here today. They tell, they lock nothing, and they say nothing of who is there.

import { html } from "../shared/html.js";
import { me, ownCrew } from "./me.js";
import { add, waiting } from "./outbox.js";
import { soon } from "./sync.js";
import { momentWords, stamp } from "./words.js";

const ownOf = (card) => waiting().filter(({ kind, body }) => kind === "claim" && body.structure === card.number && body.line === card.line);
const standingOf = (card) => card.claims.filter(({ expires_at }) => Date.parse(expires_at) > Date.now());

/** Do two crews claim this structure, as far as the phone knows? */
const clash = (card) => new Set([...standingOf(card).map(({ crew }) => crew), ...ownOf(card).map(({ body }) => body.crew)]).size > 1;

/** The claims of a card and the button to make one. */
function claimsBlock(card) {
  const rows = [
    ...standingOf(card).map(({ crew, expires_at }) => html`<li><b>${crew}</b> until ${momentWords(expires_at)}</li>`),
    ...ownOf(card).map(({ body }) => html`<li><b>${body.crew}</b> from this phone, <b>not confirmed</b></li>`),
  ];
  return html`<section class="claims"><h2>Claims</h2>
    <ul>${rows.length ? rows : html`<li>none on record; that says nothing of who is there</li>`}</ul>
    <button type="button" class="wide" data-do="claim">Claim for ${ownCrew() || "my crew"} today</button></section>`;
}

/** Claim a structure for the crew until the end of the day. */
async function claim(card) {
  const until = new Date();
  until.setHours(23, 59, 0, 0);
  const entry = await add("claim", {
    id: crypto.randomUUID(), line: card.line, structure: card.number, crew: ownCrew(), device: me().device,
    made_at: stamp(Date.now()), expires_at: stamp(until.getTime()),
  });
  soon();
  return entry;
}

export { clash, claimsBlock, claim };
