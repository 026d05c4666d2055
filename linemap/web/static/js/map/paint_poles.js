// Poles apart and named, and where they were set against where they belong.

import { haloText } from "./paint_line.js";

const POLE_RADIUS_M = 0.2; // drawn no smaller than 4 px; a 75 ft class 2 pole is about this at the ground line
const WORLD_PER_METRE = 256 / 40075016.7;

function dot(ctx, { x, y, radius, fill, stroke, dash = [] }) {
  ctx.beginPath();
  ctx.arc(x, y, radius, 0, 7);
  if (fill) {
    ctx.fillStyle = fill;
    ctx.fill();
  }
  ctx.setLineDash(dash);
  ctx.lineWidth = 2;
  ctx.strokeStyle = stroke;
  ctx.stroke();
  ctx.setLineDash([]);
}

/** Fractions of the half arm at which the poles stand, A first. */
const places = (count) => (count === 3 ? [-1, 0, 1] : [-1, 1]);

function paintLetter(view, letter, { x, y, ux, uy, fraction, radius }) {
  const { ctx } = view;
  ctx.textAlign = "center";
  ctx.textBaseline = "middle";
  // beside the pole, to the ahead side, so that the verdict mark beyond it stays free
  const away = radius + 11;
  haloText(view, letter, x + uy * away + ux * fraction * 2, y - ux * away + uy * fraction * 2, { font: "800 14px system-ui, sans-serif" });
}

/** Set position: filled; design: open; the line between them is the residual, drawn `exaggeration` times. */
function paintSet(view, { design, set, radius, exaggeration }) {
  const { ctx, palette } = view;
  const x = design.x + (view.px(set.x) - design.x) * exaggeration;
  const y = design.y + (view.py(set.y) - design.y) * exaggeration;
  ctx.lineWidth = 2;
  ctx.strokeStyle = palette.chosen;
  ctx.beginPath();
  ctx.moveTo(design.x, design.y);
  ctx.lineTo(x, y);
  ctx.stroke();
  dot(ctx, { x, y, radius: Math.max(4, radius * 0.7), fill: palette.ink, stroke: palette.halo });
  return { x, y };
}

/** Surveyed poles in the order of the design places they stand at: a reversed frame has its letters exchanged. */
function standingAt(s, i) {
  const set = s.setPolesOf(i)?.slice(0, s.poles[i]);
  return s.reversed[i] ? set?.reverse() : set;
}

/** Draw the poles of one structure; set positions only where the drawing is to scale. */
function paintPoles(view, s, { i, px, py, ux, uy, arm, real, exaggeration }) {
  const { ctx, palette } = view;
  const perMetre = WORLD_PER_METRE / Math.cos((s.lat[i] * Math.PI) / 180);
  const radius = Math.max(4, POLE_RADIUS_M * perMetre * view.k);
  const set = real ? standingAt(s, i) : undefined;
  const stood = [];
  places(s.poles[i]).forEach((fraction, pole) => {
    const design = { x: px + ux * arm * fraction, y: py + uy * arm * fraction };
    dot(ctx, { ...design, radius, fill: palette.halo, stroke: palette.ink });
    if (set?.[pole]) stood.push(paintSet(view, { design, set: set[pole], radius, exaggeration }));
    paintLetter(view, s.poleWordsOf(i)[pole], { ...design, ux, uy, fraction, radius });
  });
  if (stood.length < 2) return;
  ctx.lineWidth = 1.5;
  ctx.setLineDash([5, 4]);
  ctx.strokeStyle = palette.chosen;
  ctx.beginPath();
  ctx.moveTo(stood[0].x, stood[0].y);
  for (const at of stood.slice(1)) ctx.lineTo(at.x, at.y);
  ctx.stroke();
  ctx.setLineDash([]);
}

export { paintPoles };
