// Every structure: stage at the middle of the arm, verdict at its ends, arm at true azimuth, poles lettered.

import { CASE_SHAPE, drawShape, HOLD_SHAPES, overviewLength, REVERSED_SHAPE, stageShape, VERDICT_SHAPES, WRONG, WRONG_SHAPE } from "../shared/marks.js";
import { haloText } from "./paint_line.js";
import { paintPoles } from "./paint_poles.js";

const CLOSE_PX = 14; // spans shorter than this on screen: overview bars only
const FULL_BARS_PX = 8; // spans at which the bars of the overview have their full length
const LABEL_PX = 34;
const LETTER_PX = 110;
const MOST_GLYPHS = 4000;
const GLYPH_ARM = 13; // half of the fixed arm, px
const FADED = 0.22;
const FARTHEST_POLE = 1.5e-4; // world pixels of zoom 0: about 16 m, half of a wide three-pole frame

/** How much is drawn, from the usual span in px. */
function detail(view, s) {
  const span = s.spanWorld * view.k;
  return { glyphs: span >= CLOSE_PX, half: span < 26 ? 7 : span < LETTER_PX ? GLYPH_ARM : 21, size: span < 26 ? 0.75 : 1, labels: span >= LABEL_PX, letters: span >= LETTER_PX };
}

function rowsInView(view, s, margin) {
  const rows = [];
  s.grid.each(view.box(margin), (i) => rows.push(i));
  return rows;
}

/** Spans from every structure in view to both neighbours; points less than a pixel from the last are passed over. */
function paintSpans(view, s, rows) {
  const path = new Path2D();
  let last = -1; // the row the pen stands at
  let penX = 0;
  let penY = 0;
  const move = (i) => path.moveTo((penX = view.px(s.x[i])), (penY = view.py(s.y[i])));
  const drawTo = (i, always) => {
    const x = view.px(s.x[i]);
    const y = view.py(s.y[i]);
    if (always || Math.abs(x - penX) + Math.abs(y - penY) >= 1) path.lineTo((penX = x), (penY = y));
    last = i;
  };
  const goesOn = (i) => i + 1 < s.n && s.line[i + 1] === s.line[i];
  for (const i of Uint32Array.from(rows).sort()) {
    if (last !== i && i > 0 && goesOn(i - 1)) {
      move(i - 1); // from a structure out of view
      drawTo(i, true);
    } else if (last !== i) {
      move(i);
    }
    if (goesOn(i)) drawTo(i + 1, i + 2 >= s.n || !goesOn(i + 1));
  }
  view.ctx.lineWidth = 1.25;
  view.ctx.strokeStyle = view.palette.span;
  view.ctx.stroke(path);
}

/** Unit vector of the arm on the screen, A towards B. */
function armDirection(s, i) {
  const { dx, dy } = s.arms;
  const length = Math.hypot(dx[i], dy[i]) || 1;
  return { ux: dx[i] / length, uy: dy[i] / length, half: length };
}

function addAlert(path, { px, py, ux, uy }) {
  path.moveTo(px + ux * 11, py + uy * 11);
  path.lineTo(px + ux * 19 - uy * 4, py + uy * 19 + ux * 4);
  path.lineTo(px + ux * 19 + uy * 4, py + uy * 19 - ux * 4);
  path.closePath();
}

/** Ask of a pixel whether something was drawn there: the first to ask has it; all outside the canvas are one. */
function pixels(view) {
  const width = Math.ceil(view.width) + 1;
  const height = Math.ceil(view.height) + 1;
  const taken = new Uint8Array(width * height + 1);
  return (px, py) => {
    const x = Math.round(px);
    const y = Math.round(py);
    const spot = x >= 0 && y >= 0 && x < width && y < height ? y * width + x : taken.length - 1;
    if (taken[spot]) return false;
    taken[spot] = 1;
    return true;
  };
}

/**
 * Far out: one bar across the line per structure, longer and darker the more is built; faults on B's side, holds
 * on A's. On a small screen the bars are as much shorter as the spans, so that they do not run into one band.
 */
function paintOverview(view, s, { rows, codes, verdicts, shown }) {
  const bars = codes.map(() => new Path2D());
  const alerts = new Path2D();
  const holds = new Path2D();
  const isFree = pixels(view);
  const scale = Math.max(0.35, Math.min(1, (s.spanWorld * view.k) / FULL_BARS_PX));
  for (const i of rows) {
    if (!shown[i]) continue;
    const px = view.px(s.x[i]);
    const py = view.py(s.y[i]);
    const alert = verdicts[s.verdict[i]] === "fail" || s.reversed[i] || s.worst[i] >= WRONG || s.cases[i] > 0;
    const free = isFree(px, py);
    if (!alert && !s.hold[i] && !free) continue;
    const { ux, uy } = armDirection(s, i);
    if (alert) addAlert(alerts, { px, py, ux, uy });
    if (s.hold[i]) holds.rect(px - ux * 16 - 3, py - uy * 16 - 3, 6, 6);
    if (!free) continue;
    const half = (overviewLength(s.stage[i]) / 2 + 1) * scale;
    bars[s.stage[i]].moveTo(px - ux * half, py - uy * half);
    bars[s.stage[i]].lineTo(px + ux * half, py + uy * half);
  }
  view.ctx.lineWidth = 2.5 * Math.max(0.6, scale);
  codes.forEach((code, stage) => {
    view.ctx.strokeStyle = view.palette.stage[code] ?? view.palette.muted;
    view.ctx.stroke(bars[stage]);
  });
  view.ctx.fillStyle = view.palette.verdict.fail;
  view.ctx.fill(alerts);
  view.ctx.fillStyle = view.palette.hold;
  view.ctx.fill(holds);
}

function paintStage(view, code, size) {
  const { ctx, palette } = view;
  ctx.save();
  ctx.scale(size, size);
  ctx.fillStyle = palette.halo;
  ctx.beginPath();
  ctx.arc(0, 0, 7.5, 0, 7);
  ctx.fill();
  drawShape(ctx, stageShape(code), palette.stage[code] ?? palette.muted);
  ctx.restore();
}

function paintVerdict(view, verdict, { angle, reach, size }) {
  const { ctx, palette } = view;
  for (const turn of [angle, angle + Math.PI]) {
    ctx.save();
    ctx.rotate(turn);
    ctx.translate(reach, 0);
    ctx.scale(size, size);
    drawShape(ctx, VERDICT_SHAPES[verdict], palette.verdict[verdict]);
    ctx.restore();
  }
}

/** Reversed or anything else wrong stands clear of the arm ahead of it, hold behind it. */
function paintBadges(view, s, { i, angle, size, away }) {
  const { ctx, palette } = view;
  if (s.reversed[i]) {
    ctx.save();
    ctx.rotate(angle);
    ctx.translate(0, -away);
    ctx.scale(size, size);
    drawShape(ctx, REVERSED_SHAPE, palette.reversed);
    ctx.restore();
  }
  const wrong = s.worst[i] >= WRONG && !s.reversed[i];
  if (wrong || s.cases[i]) {
    const far = s.reversed[i] ? away + 17 * size : away;
    ctx.save();
    ctx.translate(Math.sin(angle) * far, -Math.cos(angle) * far);
    ctx.scale(size, size);
    drawShape(ctx, s.cases[i] ? CASE_SHAPE : WRONG_SHAPE, palette.verdict.fail);
    ctx.restore();
  }
  if (s.hold[i]) {
    ctx.save();
    ctx.translate(-Math.sin(angle) * away, Math.cos(angle) * away);
    ctx.scale(size, size);
    ctx.fillStyle = palette.halo;
    ctx.fillRect(-8.5, -8.5, 17, 17);
    drawShape(ctx, HOLD_SHAPES[s.hold[i]], palette.hold);
    ctx.restore();
  }
}

function paintGlyph(view, s, { i, level, codes, verdicts, alpha, exaggeration }) {
  const { ctx, palette } = view;
  const { ux, uy, half } = armDirection(s, i);
  const real = half * view.k;
  const wide = s.poles[i] === 3 ? 1.5 : 1;
  const arm = Math.max(level.half * wide, s.arms.known[i] ? real : 0);
  const px = view.px(s.x[i]);
  const py = view.py(s.y[i]);
  const poles = arm > level.half * wide || level.letters;
  ctx.globalAlpha = alpha;
  ctx.save();
  ctx.translate(px, py);
  ctx.lineWidth = 2.5;
  ctx.lineCap = "butt";
  ctx.strokeStyle = palette.ink;
  ctx.beginPath();
  ctx.moveTo(-ux * arm, -uy * arm);
  ctx.lineTo(ux * arm, uy * arm);
  if (s.poles[i] === 3) {
    ctx.moveTo(-uy * 4, ux * 4);
    ctx.lineTo(uy * 4, -ux * 4);
  }
  ctx.stroke();
  const angle = Math.atan2(uy, ux);
  const size = Math.min(1.25, level.size * (arm > 40 ? 1.25 : 1));
  paintVerdict(view, verdicts[s.verdict[i]], { angle, reach: arm + (poles ? 8 : 1), size });
  paintBadges(view, s, { i, angle, size, away: 17 * size + (poles ? 11 : 0) });
  if (poles && s.poles[i] === 3) ctx.translate((-ux * arm) / 2, (-uy * arm) / 2); // the centre pole stands at the middle
  paintStage(view, codes[s.stage[i]], size);
  ctx.restore();
  if (poles) paintPoles(view, s, { i, px, py, ux, uy, arm, real: arm === real, exaggeration });
}

/** Numbers (and stations when there is room) beside the arm; the first written wins its place. */
function paintLabels(view, s, { rows, level, alphaOf }) {
  const taken = new Set();
  const { ctx, palette } = view;
  ctx.textBaseline = "middle";
  for (const i of rows) {
    const { ux, uy, half } = armDirection(s, i);
    const reach = Math.max(level.half * (s.poles[i] === 3 ? 1.5 : 1), half * view.k) + (level.letters ? 23 : 16);
    const side = ux >= -0.2 ? 1 : -1;
    const x = view.px(s.x[i]) + side * ux * reach;
    const y = view.py(s.y[i]) + side * uy * reach;
    const spot = `${Math.round(x / 40)} ${Math.round(y / 15)}`;
    if (taken.has(spot)) continue;
    taken.add(spot);
    ctx.globalAlpha = alphaOf(i);
    ctx.textAlign = Math.abs(ux) < 0.3 ? "center" : "start";
    const drop = Math.abs(ux) < 0.3 ? Math.sign(side * uy) * 9 : 0;
    haloText(view, s.number[i], x, y + drop, { font: "700 13px system-ui, sans-serif" });
    if (!level.letters) continue;
    haloText(view, s.station_text[i], x, y + drop + 16, { colour: palette.muted, font: "500 12px ui-monospace, monospace" });
  }
  ctx.globalAlpha = 1;
}

function paintChosen(view, s, { i, level }) {
  const { ctx, palette } = view;
  ctx.save();
  const { half } = armDirection(s, i);
  const arm = level.glyphs ? level.half * (s.poles[i] === 3 ? 1.5 : 1) : 8;
  const radius = Math.max(arm, half * view.k) + (level.letters ? 27 : 18);
  ctx.translate(view.px(s.x[i]), view.py(s.y[i]));
  for (const [width, colour] of [[7, palette.halo], [3.5, palette.chosen]]) {
    ctx.lineWidth = width;
    ctx.strokeStyle = colour;
    for (let quarter = 0; quarter < 4; quarter += 1) {
      ctx.beginPath();
      ctx.arc(0, 0, radius, (quarter * Math.PI) / 2 + 0.3, ((quarter + 1) * Math.PI) / 2 - 0.3);
      ctx.stroke();
    }
  }
  ctx.restore();
}

/** Painter of structures; `state` holds what the page has chosen: shown rows, chosen row, exaggeration. */
function structuresPainter(s, { codes, verdicts, state }) {
  return (view) => {
    const margin = 80 + FARTHEST_POLE * view.k;
    const rows = rowsInView(view, s, margin);
    paintSpans(view, s, rows);
    const level = detail(view, s);
    if (state.chosen >= 0) paintChosen(view, s, { i: state.chosen, level });
    const alphaOf = (i) => (state.shown[i] ? 1 : FADED);
    if (level.glyphs && rows.length <= MOST_GLYPHS) {
      for (const i of rows) {
        paintGlyph(view, s, { i, level, codes, verdicts, alpha: alphaOf(i), exaggeration: state.exaggeration });
      }
      view.ctx.globalAlpha = 1;
      if (level.labels) paintLabels(view, s, { rows, level, alphaOf });
    } else {
      paintOverview(view, s, { rows, codes, verdicts, shown: state.shown });
    }
  };
}

/** Row of the structure nearest a point, within `reach` px of its centre or arm; -1 when none. */
function pickStructure(s, at, reach) {
  const far = reach / at.k;
  const arm = 12 / at.k + 1e-6;
  let best = -1;
  let least = far;
  s.grid.each({ minX: at.x - far - arm, minY: at.y - far - arm, maxX: at.x + far + arm, maxY: at.y + far + arm }, (i) => {
    const { dx, dy } = s.arms;
    const length2 = dx[i] * dx[i] + dy[i] * dy[i] || 1e-30;
    const rx = at.x - s.x[i];
    const ry = at.y - s.y[i];
    const t = Math.max(-1, Math.min(1, (rx * dx[i] + ry * dy[i]) / length2));
    const from = Math.hypot(rx - t * dx[i], ry - t * dy[i]);
    if (from < least) {
      least = from;
      best = i;
    }
  });
  return best;
}

export { structuresPainter, pickStructure };
