// Centreline, its station ticks and the names of its two ends.

import { decodeDeltas, worldX, worldY } from "./geo.js";

const RAD = Math.PI / 180;
const SCALE = 1e7;

/** Prepare the payload of /api/centreline: world coordinates of vertices; of ticks once they are near enough to see. */
function prepareCentreline(payload, lines) {
  return payload.lines.map((line) => {
    const ends = lines.find((item) => item.name === line.name);
    return {
      x: decodeDeltas(line.lon, SCALE).map(worldX),
      y: decodeDeltas(line.lat, SCALE).map(worldY),
      ticks: line.ticks,
      placed: null,
      ahead: ends?.ahead_end ?? "",
      back: ends?.back_end ?? "",
    };
  });
}

function trace(view, line) {
  const path = new Path2D();
  for (let i = 0; i < line.x.length; i += 1) {
    const px = view.px(line.x[i]);
    const py = view.py(line.y[i]);
    if (i) path.lineTo(px, py);
    else path.moveTo(px, py);
  }
  return path;
}

const NAME_FONT = "600 13px system-ui, sans-serif";

/** Text with a halo of the ground colour, readable over anything. */
function haloText(view, text, x, y, { colour = view.palette.ink, font = NAME_FONT } = {}) {
  const { ctx } = view;
  ctx.font = font;
  ctx.lineJoin = "round";
  ctx.lineWidth = 4;
  ctx.strokeStyle = view.palette.halo;
  ctx.strokeText(text, x, y);
  ctx.fillStyle = colour;
  ctx.fillText(text, x, y);
}

function inside(view, px, py, margin = 40) {
  return px > -margin && py > -margin && px < view.width + margin && py < view.height + margin;
}

function paintTick(view, tick, { half, words }) {
  const px = view.px(tick.x);
  const py = view.py(tick.y);
  if (!inside(view, px, py)) return;
  const across = (tick.azimuth + 90) * RAD;
  const dx = Math.sin(across);
  const dy = -Math.cos(across);
  const { ctx } = view;
  ctx.beginPath();
  ctx.moveTo(px - dx * half, py - dy * half);
  ctx.lineTo(px + dx * half, py + dy * half);
  ctx.lineWidth = 1;
  ctx.strokeStyle = view.palette.muted;
  ctx.stroke();
  if (!words) return;
  ctx.textAlign = dx > 0.3 ? "end" : dx < -0.3 ? "start" : "center";
  ctx.textBaseline = "middle";
  const reach = half + 6;
  const font = "500 12px ui-monospace, monospace";
  haloText(view, tick.text, px - dx * reach, py - dy * reach, { colour: view.palette.muted, font });
}

const placed = (tick) => ({ ...tick, x: worldX(tick.lon), y: worldY(tick.lat) });

/** Zooms at which ticks appear: the mean distance between them in px decides, so any line length works. */
function paintTicks(view, line) {
  if (line.ticks.length < 2) return;
  const [a, b] = line.ticks.slice(0, 2).map(placed);
  const apart = Math.hypot(a.x - b.x, a.y - b.y) * view.k;
  if (apart < 4) return;
  line.placed ??= line.ticks.map(placed);
  for (const tick of line.placed) {
    if (apart < 14 && !tick.major) continue;
    paintTick(view, tick, { half: apart > 60 ? 18 : apart > 14 ? 12 : 5, words: tick.major ? apart > 16 : apart > 110 });
  }
}

/** Small open arrow heads along the line that point ahead. */
function paintHeads(view, line) {
  const { ctx } = view;
  ctx.beginPath();
  let gone = 90;
  for (let i = 1; i < line.x.length; i += 1) {
    const ax = view.px(line.x[i - 1]);
    const ay = view.py(line.y[i - 1]);
    const dx = view.px(line.x[i]) - ax;
    const dy = view.py(line.y[i]) - ay;
    const length = Math.hypot(dx, dy);
    if (!length) continue;
    const ux = dx / length;
    const uy = dy / length;
    let at = 180 - gone;
    for (; at < length; at += 180) {
      const x = ax + ux * at;
      const y = ay + uy * at;
      if (!inside(view, x, y, 10)) continue;
      ctx.moveTo(x - ux * 5 - uy * 5, y - uy * 5 + ux * 5);
      ctx.lineTo(x + ux * 2, y + uy * 2);
      ctx.lineTo(x - ux * 5 + uy * 5, y - uy * 5 - ux * 5);
    }
    gone = 180 - (at - length);
  }
  ctx.lineWidth = 2;
  ctx.lineJoin = "miter";
  ctx.strokeStyle = view.palette.muted;
  ctx.stroke();
}

function paintEnd(view, line, { tip, before, words }) {
  const px = view.px(line.x[tip]);
  const py = view.py(line.y[tip]);
  if (!words || !inside(view, px, py)) return;
  const dx = line.x[tip] - line.x[before];
  const dy = line.y[tip] - line.y[before];
  const length = Math.hypot(dx, dy) || 1;
  const { ctx } = view;
  ctx.textAlign = "start";
  ctx.textBaseline = "middle";
  const font = "700 14px system-ui, sans-serif";
  ctx.font = font;
  const wide = ctx.measureText(words).width;
  const { left, right } = view.inner;
  const wanted = px + (dx / length) * 20 + (dx >= 0 ? 6 : -6 - wide);
  const x = Math.max(left + 6, Math.min(right - wide - 6, wanted));
  const pushed = Math.abs(x - wanted) > 1; // then the words stand above or below the end, not over it
  haloText(view, words, x, py + (pushed ? Math.sign(dy || -1) * 26 : (dy / length) * 26), { font });
}

/** Painter of all centrelines. */
function centrelinePainter(lines) {
  return (view) => {
    const { ctx } = view;
    ctx.lineJoin = "round";
    for (const line of lines) {
      const path = trace(view, line);
      ctx.lineWidth = view.zoom > 15 ? 9 : 6;
      ctx.strokeStyle = view.palette.corridor;
      ctx.stroke(path);
      paintTicks(view, line);
      paintHeads(view, line);
    }
  };
}

/** Painter of the end names, above everything else. */
function endNamesPainter(lines) {
  return (view) => {
    for (const line of lines) {
      const last = line.x.length - 1;
      paintEnd(view, line, { tip: last, before: last - 1, words: line.ahead && `ahead to ${line.ahead}` });
      paintEnd(view, line, { tip: 0, before: 1, words: line.back && `back to ${line.back}` });
    }
  };
}

export { NAME_FONT, prepareCentreline, haloText, centrelinePainter, endNamesPainter };
