// The map of a proposal: the line and its structures before and after, drawn above each other.

import { latOf, lonOf, worldX, worldY } from "../map/geo.js";
import { makeCanvasLayer } from "../map/layer.js";
import { haloText } from "../map/paint_line.js";
import { html, render } from "../shared/html.js";
import { drawShape, paletteOf } from "../shared/marks.js";
import { currentTheme } from "../shared/theme.js";
import { changeIcon, CHANGE_SHAPES, heldIcon, HELD_SHAPES, HOLD_SHAPE, movedIcon } from "./signs.js";

const SHORTEST_ARROW = 26; // px, so that a move of a foot is seen on a map of miles
const HEAD = 8;
const LABELS = 80;
const LABEL_CELL = 40;
const FEW = 40;
const CROWD = 200;
const FINGER = 20;
const NEAREST_ZOOM = 18;
const WORDS = { "": "stays", added: "added", removed: "taken away", moved: "moved", renumbered: "another number" };

const world = (at) => at && { x: worldX(at[0]), y: worldY(at[1]) };

/** @param {Answer.ProposalMap["places"][number]} place */
const prepared = (place) => ({ ...place, before: world(place.before), after: world(place.after) });
const spot = ({ before, after }) => after ?? before;

function pathOf(view, points) {
  const path = new Path2D();
  for (const { x, y } of points) path.lineTo(view.px(x), view.py(y));
  return path;
}

function paintLine(view, { before, after, moved }) {
  const { ctx, palette } = view;
  if (moved) {
    ctx.setLineDash([7, 5]);
    ctx.lineWidth = 1.5;
    ctx.strokeStyle = palette.change.removed;
    ctx.stroke(pathOf(view, before));
    ctx.setLineDash([]);
  }
  ctx.lineWidth = 2.5;
  ctx.strokeStyle = palette.span;
  ctx.stroke(pathOf(view, after));
}

/** From where a structure was towards where it is: at least so long that it is seen, unless many stand close. */
function paintArrow(view, { before, after }, crowded) {
  const { ctx } = view;
  const [x, y] = [view.px(before.x), view.py(before.y)];
  const [dx, dy] = [view.px(after.x) - x, view.py(after.y) - y];
  const drawn = Math.hypot(dx, dy);
  if (crowded && drawn < SHORTEST_ARROW) return;
  const length = Math.max(SHORTEST_ARROW, drawn);
  ctx.save();
  ctx.translate(x, y);
  ctx.rotate(Math.atan2(dy, dx));
  ctx.lineWidth = 2;
  ctx.strokeStyle = view.palette.change.moved;
  ctx.beginPath();
  ctx.moveTo(0, 0);
  ctx.lineTo(length, 0);
  ctx.moveTo(length - HEAD, -HEAD / 2);
  ctx.lineTo(length, 0);
  ctx.lineTo(length - HEAD, HEAD / 2);
  ctx.stroke();
  ctx.restore();
}

function paintAt(view, at, shape, colour) {
  const { ctx } = view;
  ctx.save();
  ctx.translate(view.px(at.x), view.py(at.y));
  drawShape(ctx, shape, colour);
  ctx.restore();
}

/** What becomes of a place gives its sign; what a hold becomes stands on the hold. */
function paintPlace(view, place, crowded) {
  const { palette } = view;
  const { before, after, change } = place;
  const colour = change === "renumbered" ? palette.change.moved : palette.change[change] || palette.muted;
  if (place.what === "hold") {
    paintAt(view, spot(place), HOLD_SHAPE, palette.hold);
    if (!change) return;
    paintAt(view, spot(place), HELD_SHAPES[change] ?? CHANGE_SHAPES[change], palette.ink);
    return;
  }
  if (change === "moved" && before && after) {
    paintAt(view, before, CHANGE_SHAPES.before, palette.muted);
    paintArrow(view, place, crowded);
  }
  paintAt(view, spot(place), CHANGE_SHAPES[change], colour);
}

const inView = (view, { x, y }) => view.px(x) > 0 && view.py(y) > 0 && view.px(x) < view.width && view.py(y) < view.height;

/** Names beside the places in view, one at most where several stand close together; those that stay only near by. */
function paintNames(view, places) {
  const taken = new Set();
  const seen = places.filter((place) => inView(view, spot(place)));
  for (const place of seen) {
    const at = spot(place);
    if (!place.change && seen.length > FEW) return;
    const [x, y] = [view.px(at.x) + 11, view.py(at.y) - 9];
    const cell = `${Math.round(x / LABEL_CELL)} ${Math.round(y / LABEL_CELL)}`;
    if (taken.has(cell)) continue;
    taken.add(cell);
    haloText(view, place.name, x, y);
    if (taken.size >= LABELS) return;
  }
}

class Plan {
  lines = [];
  places = [];
  /** The places in the order of their names' worth: those that change go first. */
  named = /** @type {ReturnType<typeof prepared>[]} */ ([]);
  chosen = null;

  constructor(element, said) {
    this.said = said;
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    this.map = window.L.map(element, { zoomControl: false, attributionControl: false, maxZoom: 22, zoomSnap: 0.25, wheelPxPerZoomLevel: 90, zoomAnimation: !still, fadeAnimation: false, inertia: !still, scrollWheelZoom: false, center: [0, 0], zoom: 2 });
    window.L.control.zoom({ position: "bottomright" }).addTo(this.map);
    // the wheel scrolls the page until somebody is at the map
    this.map.on("focus", () => this.map.scrollWheelZoom.enable()).on("blur", () => this.map.scrollWheelZoom.disable());
    this.map.on("click", (event) => this.pick(event.containerPoint));
    const Layer = makeCanvasLayer(window.L);
    this.layer = new Layer([(view) => this.paint(view)], paletteOf(currentTheme())).addTo(this.map);
  }

  /** @param {Answer.ProposalMap} shown */
  show(shown) {
    this.map.invalidateSize({ animate: false });
    this.lines = shown.lines.map(({ before, after, moved }) => ({ before: before.map(world), after: after.map(world), moved }));
    const places = shown.places.filter(({ before, after }) => before || after).map(prepared);
    this.places = [...places.filter(({ change }) => !change), ...places.filter(({ change }) => change)];
    this.named = this.places.filter(({ change }) => change).concat(this.places.filter(({ change }) => !change));
    this.chosen = null;
    const changed = this.places.filter(({ change }) => change).flatMap(({ before, after }) => [before, after].filter(Boolean));
    const all = [...changed, ...this.lines.filter(({ moved }) => moved).flatMap(({ before, after }) => [...before, ...after])];
    this.fit(all.length ? all : this.lines.flatMap(({ after }) => after).concat(this.places.map(spot)));
    this.layer.redraw();
  }

  fit(points) {
    if (!points.length) return;
    const corners = points.map(({ x, y }) => [latOf(y), lonOf(x)]);
    this.map.fitBounds(window.L.latLngBounds(corners), { padding: [48, 48], maxZoom: NEAREST_ZOOM, animate: false });
  }

  /** @param {Answer.Effect} effect */
  go(effect) {
    const points = [world(effect.before), world(effect.after)].filter(Boolean);
    this.chosen = points.at(-1) ?? null;
    this.fit(points);
    this.layer.redraw();
  }

  pick(point) {
    const at = this.layer.worldAt(point);
    const distance = (place) => Math.hypot(spot(place).x - at.x, spot(place).y - at.y) * at.k;
    const [near] = this.named.filter((place) => distance(place) < FINGER).sort((a, b) => distance(a) - distance(b));
    this.said(near ? `${near.what === "hold" ? "Hold " : ""}${near.name}: ${WORDS[near.change]}` : "");
  }

  paint(view) {
    view.ctx.lineJoin = view.ctx.lineCap = "round";
    for (const line of this.lines) paintLine(view, line);
    const seen = this.places.filter((place) => inView(view, spot(place)));
    const crowded = seen.filter(({ change }) => change === "moved").length > CROWD;
    for (const place of seen) paintPlace(view, place, crowded);
    if (this.chosen) paintAt(view, this.chosen, { line: "M16 0A16 16 0 1 1 -16 0A16 16 0 1 1 16 0Z", solid: "", width: 3 }, view.palette.chosen);
    paintNames(view, this.named);
  }

  usePalette() {
    this.layer.usePalette(paletteOf(currentTheme()));
  }
}

/** The signs that are on this map, each once. @param {Answer.ProposalMap} shown */
function fillLegend(element, shown) {
  const structures = new Set(shown.places.filter(({ what }) => what === "structure").map(({ change }) => change));
  const holds = new Set(shown.places.filter(({ what }) => what === "hold").map(({ change }) => change));
  /** @type {[unknown, unknown, string][]} */
  const signs = [
    [structures.has("moved"), movedIcon(), "moved; a short move is drawn longer"],
    [structures.has("added"), changeIcon("added"), "added"],
    [structures.has("removed"), changeIcon("removed"), "taken away"],
    [structures.has("renumbered"), changeIcon("renumbered"), "another number"],
    [structures.has(""), changeIcon(""), "stays"],
    [holds.has(""), heldIcon(""), "hold that stays"],
    [holds.has("added"), heldIcon("added"), "hold added"],
    [holds.has("removed"), heldIcon("removed"), "hold that ends"],
    [shown.lines.some(({ moved }) => moved), html`<svg class="sign sign-removed" viewBox="-11 -9 22 18" width="22" height="18" aria-hidden="true"><path class="line" stroke-dasharray="5 3" d="M-11 0H11"/></svg>`, "centreline before"],
  ];
  render(element, html`${signs.filter(([there]) => there).map(([, sign, words]) => html`<li>${sign}<span>${words}</span></li>`)}`);
}

export { Plan, fillLegend };
