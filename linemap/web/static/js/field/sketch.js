// Plan of one frame for the crew that stands there: which pole is A, drawn the way the person faces.
//
// A is a filled disc, B an open one, C a ringed one: the letters are told apart in glare and in grey. The arrow
// always points ahead, whichever way is up.

import { html } from "../shared/html.js";
import { poleName } from "../shared/number.js";

const [WIDTH, HEIGHT, X, Y] = [360, 318, 180, 156];
const [HALF_ARM, DISC, REACH] = [112, 31, 96];

const text = (x, y, words, size, weight = 600) =>
  html`<text x="${x.toFixed(0)}" y="${y.toFixed(0)}" text-anchor="middle" font-size="${size}" font-weight="${weight}" fill="currentColor">${words}</text>`;

/** The line towards a neighbour, named at the edge; the arrow head only ahead. */
function way({ number, end, degrees, word }) {
  if (!number && !end) return "";
  const turn = (degrees * Math.PI) / 180;
  const [x, y] = [X + REACH * Math.sin(turn), Y - REACH * Math.cos(turn)];
  const inside = Math.min(Math.max(x, 120), WIDTH - 120);
  const top = Math.cos(turn) > 0 ? y - 32 : y + 36;
  return html`<path d="M${X} ${Y}L${x.toFixed(1)} ${y.toFixed(1)}" fill="none" stroke="currentColor" stroke-width="3" stroke-dasharray="9 6"></path>
    ${word === "AHEAD" && html`<path d="M-13 16L0-8L13 16Z" transform="translate(${x.toFixed(1)} ${y.toFixed(1)}) rotate(${degrees.toFixed(1)})" fill="currentColor"></path>`}
    ${text(inside, top, `${word} ${number}`.trim(), 25, 800)}${end && text(inside, top + 18, `to ${end}`, 16, 500)}`;
}

function disc({ letter, name, x, y }) {
  const [ink, fill] = letter === "A" ? ["on", "ink"] : ["ink", "on"];
  const ring = letter === "C" && html`<circle class="crew-ring" cx="${x}" cy="${y}" r="${DISC - 7}" fill="none" stroke="currentColor" stroke-width="2"></circle>`;
  return html`<circle class="crew-${fill}" cx="${x}" cy="${y}" r="${DISC}" stroke="currentColor" stroke-width="5"></circle>${ring}
    <text class="crew-${ink}" x="${x}" y="${y + 14}" text-anchor="middle" font-size="${name.length > 2 ? 20 : 40}" font-weight="900">${name}</text>`;
}

/** Length, class and ground wire under a pole; above it for the middle one of three. */
function legend({ letter, x, y, words, wire }, crowded) {
  const size = crowded ? 14 : 17;
  const middle = crowded && letter === "B";
  const at = middle ? x + 52 : Math.min(Math.max(x, 72), WIDTH - 72);
  const from = middle ? y - 56 : y + DISC + 22;
  const lines = [...words, ...(wire ? ["GROUND WIRE"] : [])];
  return lines.map((line, place) => text(at, from + (size + 3) * place, line, line === "GROUND WIRE" ? size - 2 : size, line === "GROUND WIRE" ? 800 : 600));
}

function placed(card, sign) {
  const half = Math.max(...card.frame.poles.map(([, right, ahead]) => Math.hypot(right, ahead)), 0);
  const px = half > 0 ? HALF_ARM / half : 1;
  return card.frame.poles.map(([letter, right, ahead]) => {
    const known = card.poles.find((pole) => pole.letter === letter);
    const words = known ? [known.length_text, known.pole_class && `class ${known.pole_class}`].filter(Boolean) : [];
    const [x, y] = [X + sign * right * px, Y - sign * ahead * px].map((value) => Math.round(value * 10) / 10);
    return { letter, name: poleName(card, letter), x, y, words, wire: known?.ground_wire === true };
  });
}

/** Draw a card for a person who faces "ahead" or "back"; `line` names the ends. */
function sketch(card, line, facing) {
  const turn = facing === "ahead" ? 0 : 180;
  const poles = placed(card, turn ? -1 : 1).sort((a, b) => a.x - b.x);
  const whither = facing === "ahead" ? card.ahead || line.ahead_end : card.back || line.back_end;
  const order = poles.map(({ name }) => name).join(", ");
  const arm = poles.length > 1 && html`<path d="M${poles[0].x} ${poles[0].y}L${poles.at(-1).x} ${poles.at(-1).y}" stroke="currentColor" stroke-width="8"></path>`;
  return html`<svg class="crew-sketch" viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img" font-family="system-ui, sans-serif" color="currentColor">
    <title>Plan of structure ${card.number}</title><desc>Facing ${facing} to ${whither || "the end of the line"}: from left to right ${order}</desc>
    ${way({ number: card.back, end: line.back_end, degrees: card.frame.back_deg + turn, word: "BACK" })}
    ${way({ number: card.ahead, end: line.ahead_end, degrees: card.frame.ahead_deg + turn, word: "AHEAD" })}
    ${arm}${poles.map(disc)}${poles.map((pole) => legend(pole, poles.length > 2))}
    ${!card.frame.to_scale && text(X, 222, "spacing not known, not to scale", 15, 500)}</svg>`;
}

export { sketch };
