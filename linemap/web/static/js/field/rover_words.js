// A check by rover in words: where to stand, how far off that is, what comes next.

import { html } from "../shared/html.js";
import { poleName } from "../shared/number.js";
import { length, stakeWords, toward } from "./tape_words.js";

/** Where to stand and how: [place, how]. */
function placeWords(card, plan, { at, face }) {
  if (!face) return [stakeWords(card, plan, plan.stakes.find(({ name }) => name === at)), `rod on the hub, on the lath ${at}`];
  const side = face === "back" || face === "ahead" ? `face toward ${toward(card, face === "ahead" ? "AH" : "BK")}` : `face on the ${face}, looking toward ${toward(card, "AH")}`;
  return [`pole ${poleName(card, at)}, ${side}`, "rod upright against the pole"];
}

/** "0.31 ft right, 0.05 ft toward 9/3". */
function offWords(card, plan, off) {
  const [right, ahead] = off;
  return `${length(Math.abs(right), plan)} ${right < 0 ? "left" : "right"}, ${length(Math.abs(ahead), plan)} toward ${toward(card, ahead < 0 ? "BK" : "AH")}`;
}

/** What comes next: [what is said, what the button says, "" = nothing but to save]. */
function nextWords(card, plan, answer) {
  const wanted = html`<ul>${answer.next.places.map((place) => html`<li>${placeWords(card, plan, place)[0]}</li>`)}</ul>`;
  const many = `Take ${answer.next.places.length} places`;
  switch (answer.next.act) {
    case "again":
      return [html`<p>Most at odds is the first of these. Stand there once more; let the receiver find its fix anew:</p>${wanted}`, many];
    case "four":
      return [html`<p>What would tell more:</p>${wanted}`, many];
    case "repeat":
      return [answer.verdict === "fail" ? html`<p><b>Move nothing yet.</b> Every fail is checked again first, all of it, with a fix found anew.</p>` : html`<p>The first stake is at odds with all else: begin anew.</p>`, "Check again"];
    default:
      return [answer.verdict === "contradict" ? html`<p>It still disagrees: a stake may have moved, or the base. Leave the frame to the surveyor, or check by tape.</p>` : answer.verdict === "cannot tell" ? html`<p>No further place tells more: tape it, or leave it to the surveyor.</p>` : html``, ""];
  }
}

export { nextWords, offWords, placeWords };
