// Holds on a card: in force, to come or just ended by the job's clock, as sentences.

import { html } from "../shared/html.js";
import { comingWords, endedLately, isNear, momentSaid, now, standing } from "./when.js";

/** The holds of a card or a head that are in force. */
const heldNow = ({ holds }, at = now()) => holds.filter((hold) => standing(hold, at) === "in force");

/** Those that are to come, the next one first. */
const toCome = ({ holds }, at = now()) => holds.filter((hold) => standing(hold, at) === "to come").sort((a, b) => (a.begins < b.begins ? -1 : 1));

/** Those that begin within a few days. */
const soonHeld = (card, at = now()) => toCome(card, at).filter((hold) => isNear(hold, at));

/** Those that begin later than that. */
const laterHeld = (card, at = now()) => toCome(card, at).filter((hold) => !isNear(hold, at));

/** Those that ended lately by their own list, which nobody released. */
const justEnded = ({ holds }, at = now()) => holds.filter((hold) => standing(hold, at) === "over" && endedLately(hold, at));

/** One hold in force as a block; with the place of its release, which shows only for whom it names. */
const holdBlock = (hold, release = false) => html`<p class="hold ${hold.kind}">
  <b>${hold.kind === "hold" ? "HOLD" : "CONDITION"}</b> ${hold.sentence}</p>${release ? html`<div data-hold="${hold.id}" hidden></div>` : ""}`;

/** Do two holds touch a step in common? */
const meet = (one, other) => one.stops.some((code) => other.stops.includes(code));

/** Holds that are to come at a card, as blocks: "hold HN-1 from tomorrow", "free until Thu 06:00" where none holds now. */
function comingBlocks(card, holds) {
  const held = heldNow(card).filter(({ kind }) => kind === "hold");
  return holds.map((hold) => {
    const free = !held.some((other) => meet(hold, other));
    return html`<p class="hold coming"><b>${comingWords(hold, free)}</b> ${hold.sentence}</p>`;
  });
}

/** What ended lately, in sentences. */
const endedWords = (card) => justEnded(card).map(({ id, kind, ends }) => `${kind === "hold" ? "hold" : "condition"} ${id} ended ${momentSaid(ends)} by its list; ask whether it was made longer`);

export { comingBlocks, endedWords, heldNow, holdBlock, laterHeld, soonHeld, toCome };
