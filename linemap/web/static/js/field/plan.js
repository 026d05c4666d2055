// A plan of the surroundings from what is on the phone: structures, access, gates, water, other lines. North up.

import { html, render } from "../shared/html.js";
import { cardLink } from "./card.js";
import { heldNow } from "./holds.js";
import { heads, lineOf, mileOf } from "./pack.js";
import { fix } from "./where.js";
import { lengthWords } from "./words.js";

const SIDE = 366;
const MARGIN = 34;
/** Structures back and ahead that are drawn. */
const AROUND = 4;
const METRES_PER_DEGREE = 111320;

const WORDS = { access: "access road", road: "road", river: "river", "other line": "other line", gate: "gate", wetland: "wetland", crossing: "crossing: see the card" };

/** A north-up drawing around some points: [longitude, latitude] to pixels, and pixels a metre. */
function scaleFor(points) {
  const lon = points.map((point) => point[0]);
  const lat = points.map((point) => point[1]);
  const east = METRES_PER_DEGREE * Math.cos(((Math.min(...lat) + Math.max(...lat)) / 2) * (Math.PI / 180));
  const middle = [(Math.min(...lon) + Math.max(...lon)) / 2, (Math.min(...lat) + Math.max(...lat)) / 2];
  const across = Math.max((Math.max(...lon) - Math.min(...lon)) * east, (Math.max(...lat) - Math.min(...lat)) * METRES_PER_DEGREE, 200);
  const px = (SIDE - 2 * MARGIN) / across;
  const at = ([x, y]) => [SIDE / 2 + (x - middle[0]) * east * px, SIDE / 2 - (y - middle[1]) * METRES_PER_DEGREE * px];
  return { at, px };
}

const path = (points, at) => points.map((point, place) => `${place ? "L" : "M"}${at(point).map((value) => value.toFixed(1)).join(" ")}`).join("");

/** All runs of points of a geometry, and all single points. */
function runs({ type, coordinates, geometries }) {
  if (type === "GeometryCollection") return geometries.flatMap(runs);
  if (type === "Point") return [[coordinates]];
  if (type === "LineString" || type === "MultiPoint") return [coordinates];
  return type === "MultiPolygon" ? coordinates.flat() : coordinates;
}

/** The features of the miles of some structures, each once. */
async function contextOf(near) {
  const first = near.filter((one, place) => near.findIndex(({ mile }) => mile === one.mile) === place);
  const packs = (await Promise.all(first.map(mileOf))).filter(Boolean);
  return [...new Map(packs.flatMap((pack) => pack.context).map((one) => [JSON.stringify(one), one])).values()];
}

function feature({ geometry, properties }, at) {
  const { layer, name } = properties;
  return runs(geometry).map((points) => {
    if (points.length > 1) return html`<path class="plan-line" data-layer="${layer}" d="${path(points, at)}"></path>`;
    const [x, y] = at(points[0]);
    if (x < 0 || y < 0 || x > SIDE || y > SIDE) return "";
    const inside = Math.min(Math.max(x, 4 * name.length + 8), SIDE - 4 * name.length - 8);
    return html`<rect class="plan-mark" data-layer="${layer}" x="${x - 7}" y="${y - 7}" width="14" height="14"></rect><text x="${inside}" y="${y + 44}" text-anchor="middle">${name}</text>`;
  });
}

/** One structure; the numbers stand above and below in turn, so that close ones can be read. */
function tower(card, place, here, at) {
  const [x, y] = at([card.longitude, card.latitude]);
  const held = heldNow(card).some(({ kind }) => kind === "hold");
  return html`<circle class="${card.number === here.number ? "plan-here" : "plan-tower"}" cx="${x}" cy="${y}" r="${card.number === here.number ? 9 : 7}"></circle>
    ${held && html`<path class="plan-held" d="M${x - 9} ${y - 9}L${x + 9} ${y + 9}M${x - 9} ${y + 9}L${x + 9} ${y - 9}"></path>`}
    <text class="plan-number" x="${x}" y="${place % 2 ? y + 27 : y - 14}" text-anchor="middle">${card.number}</text>`;
}

function self(at, px) {
  const own = fix();
  if (!own) return "";
  const [x, y] = at([own.longitude, own.latitude]);
  if (x < 0 || y < 0 || x > SIDE || y > SIDE) return "";
  return html`<circle class="plan-self" cx="${x}" cy="${y}" r="${Math.max(8, own.accuracy_m * px)}"></circle><text x="${x}" y="${y + 24}" text-anchor="middle">you</text>`;
}

/** A layer in words; other lines by their names, since a pipeline is no wire. */
function layerWords(layer, around) {
  const words = WORDS[layer] ?? layer;
  if (layer !== "other line") return words;
  const names = new Set(around.filter(({ properties }) => properties.layer === layer).map(({ properties }) => properties.name).filter(Boolean));
  return names.size ? `${words}: ${[...names].join(", ")}` : words;
}

/** Show the plan around a card; what lies around it is read from the disk first. */
async function showPlan(main, card, stillHere) {
  const own = heads().filter(({ line }) => line === card.line);
  const place = own.findIndex(({ number }) => number === card.number);
  const near = own.slice(Math.max(0, place - AROUND), place + AROUND + 1);
  const points = near.map(({ longitude, latitude }) => [longitude, latitude]);
  const { at, px } = scaleFor(points);
  const around = await contextOf(near);
  if (!stillHere()) return;
  const layers = [...new Set(around.map(({ properties }) => properties.layer))];
  const { ahead_end, unit } = lineOf(card);
  const bar = unit === "m" ? 200 : 304.8;
  render(
    main,
    html`<div class="plan"><h1 tabindex="-1"><small>Around</small> ${card.number}</h1>
      <svg viewBox="0 0 ${SIDE} ${SIDE}" role="img" aria-label="Plan around ${card.number}, north up">
        ${around.map((one) => feature(one, at))}<path class="plan-own" d="${path(points, at)}"></path>
        ${near.map((one, nth) => tower(one, nth, card, at))}${self(at, px)}
        <path class="plan-bar" d="M12 ${SIDE - 12}h${bar * px}"></path><text x="12" y="${SIDE - 20}">${lengthWords(bar, unit)}</text>
        <text x="${SIDE - 20}" y="26" text-anchor="middle">N</text><path class="plan-bar" d="M${SIDE - 20} 52v-18l-6 8m6 -8l6 8"></path></svg>
      <p>North up. The line runs ahead to <b>${ahead_end || "the higher numbers"}</b>, from ${near[0].number} to ${near.at(-1)?.number}. A cross marks a hold.</p>
      <ul class="plain legend">${layers.map((layer) => html`<li><i class="plan-key" data-layer="${layer}"></i>${layerWords(layer, around)}</li>`)}</ul>
      <p><b>Treat every wire as energized.</b></p>
      <a class="button wide" href="${cardLink(card)}">Back to the card</a></div>`,
  );
}

export { showPlan };
