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

const [WIDTH, HEIGHT] = [360, 190];

/** Where to stand: poles as discs, stakes as squares, the place as a filled one; ahead is up. At a pole stakes are off it. */
function placeSketch(card, plan, { at, face }) {
  const far = Math.max(...plan.stakes.flatMap(({ right, ahead }) => [Math.abs(right) / 2, Math.abs(ahead)]));
  const px = face ? 220 / (plan.spacing * (plan.poles.length - 1)) : 62 / far;
  const on = ([right, ahead]) => [WIDTH / 2 + right * px, HEIGHT / 2 - ahead * px];
  const stakes = (face ? [] : plan.stakes).map(({ name, right, ahead }) => {
    const [x, y] = on([right, ahead]);
    return html`<rect class="check-stake ${name === at ? "used" : ""}" x="${x - 7}" y="${y - 7}" width="14" height="14"></rect>`;
  });
  const [right, ahead] = { back: [0, -1], ahead: [0, 1], left: [-1, 0], right: [1, 0] }[face] ?? [0, 0];
  const poles = plan.poles.map((pole, place) => {
    const letter = plan.letters[place];
    const [x, y] = on(pole);
    const beside = letter === at ? html`<rect class="check-stake used" x="${x + 24 * right - 7}" y="${y - 24 * ahead - 7}" width="14" height="14"></rect>` : "";
    return html`<circle class="check-pole ${letter === at ? "used" : ""}" cx="${x}" cy="${y}" r="15"></circle><text class="check-letter" x="${x}" y="${y + 6}" text-anchor="middle">${poleName(card, letter)}</text>${beside}`;
  });
  return html`<svg class="check-sketch where" viewBox="0 0 ${WIDTH} ${HEIGHT}" aria-hidden="true"><text class="check-way" x="${WIDTH / 2}" y="17" text-anchor="middle">▲ ${toward(card, "AH")}</text>
    <text class="check-way" x="${WIDTH / 2}" y="${HEIGHT - 7}" text-anchor="middle">▼ ${toward(card, "BK")}</text>${stakes}${poles}</svg>`;
}

export { nextWords, offWords, placeSketch, placeWords };
