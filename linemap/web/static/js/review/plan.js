// The map of a proposal: the line and its structures before and after, drawn above each other.

import { worldX, worldY } from "../map/geo.js";
import { inView, paintAt, pathOf, PlanMap } from "../map/plan_map.js";
import { html, render } from "../shared/html.js";
import { changeIcon, CHANGE_SHAPES, heldIcon, HELD_SHAPES, HOLD_SHAPE, movedIcon } from "./signs.js";

const SHORTEST_ARROW = 26; // px, so that a move of a foot is seen on a map of miles
const HEAD = 8;
const CROWD = 200;
const WORDS = { "": "stays", added: "added", removed: "taken away", moved: "moved", renumbered: "another number" };

const world = (at) => at && { x: worldX(at[0]), y: worldY(at[1]) };

/** @param {Answer.ProposalMap["places"][number]} place */
const prepared = (place) => {
  const [before, after] = [world(place.before), world(place.after)];
  // names of places that stay only near by
  return { ...place, before, after, at: after ?? before, quiet: !place.change };
};

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

/** What becomes of a place gives its sign; what a hold becomes stands on the hold. */
function paintPlace(view, place, crowded) {
  const { palette } = view;
  const { before, after, change } = place;
  const colour = change === "renumbered" ? palette.change.moved : palette.change[change] || palette.muted;
  if (place.what === "hold") {
    paintAt(view, place.at, HOLD_SHAPE, palette.hold);
    if (!change) return;
    paintAt(view, place.at, HELD_SHAPES[change] ?? CHANGE_SHAPES[change], palette.ink);
    return;
  }
  if (change === "moved" && before && after) {
    paintAt(view, before, CHANGE_SHAPES.before, palette.muted);
    paintArrow(view, place, crowded);
  }
  paintAt(view, place.at, CHANGE_SHAPES[change], colour);
}

class Plan extends PlanMap {
  lines = [];
  places = [];
  chosen = null;

  /** @param {Answer.ProposalMap} shown */
  show(shown) {
    this.begin();
    this.lines = shown.lines.map(({ before, after, moved }) => ({ before: before.map(world), after: after.map(world), moved }));
    const places = shown.places.filter(({ before, after }) => before || after).map(prepared);
    this.places = [...places.filter(({ change }) => !change), ...places.filter(({ change }) => change)];
    this.named = this.places.filter(({ change }) => change).concat(this.places.filter(({ change }) => !change));
    this.chosen = null;
    const changed = this.places.filter(({ change }) => change).flatMap(({ before, after }) => [before, after].filter(Boolean));
    const all = [...changed, ...this.lines.filter(({ moved }) => moved).flatMap(({ before, after }) => [...before, ...after])];
    this.fit(all.length ? all : this.lines.flatMap(({ after }) => after).concat(this.places.map(({ at }) => at)));
    this.layer.redraw();
  }

  /** @param {Answer.Effect} effect */
  go(effect) {
    const points = [world(effect.before), world(effect.after)].filter(Boolean);
    this.chosen = points.at(-1) ?? null;
    this.fit(points);
    this.layer.redraw();
  }

  words(place) {
    return `${place.what === "hold" ? "Hold " : ""}${place.name}: ${WORDS[place.change]}`;
  }

  paint(view) {
    for (const line of this.lines) paintLine(view, line);
    const seen = this.places.filter(({ at }) => inView(view, at));
    const crowded = seen.filter(({ change }) => change === "moved").length > CROWD;
    for (const place of seen) paintPlace(view, place, crowded);
    if (this.chosen) paintAt(view, this.chosen, { line: "M16 0A16 16 0 1 1 -16 0A16 16 0 1 1 16 0Z", solid: "", width: 3 }, view.palette.chosen);
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
