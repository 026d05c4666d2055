// Roads, rivers, other lines, access, gates, parcels, crossings, hospitals and how far holds reach, beneath the line.

import { worldX, worldY } from "./geo.js";
import { haloText } from "./paint_line.js";

const STYLES = {
  parcel: { width: 1, dash: [2, 5], from: 12, words: 15 },
  river: { width: 5, dash: [], from: 0, words: 12 },
  road: { width: 4, dash: [], from: 0, words: 13 },
  access: { width: 2, dash: [9, 4], from: 11, words: 15 },
  "other line": { width: 1.5, dash: [14, 4, 2, 4], from: 0, words: 13 },
  crossing: { width: 2, dash: [], from: 12, words: 15 },
  gate: { width: 2, dash: [], from: 12, words: 14 },
  hospital: { width: 3, dash: [], from: 0, words: 9 },
  "hold buffer": { width: 3, dash: [10, 6], from: 0, words: 11 },
};
const ORDER = Object.keys(STYLES);

const project = ([lon, lat]) => [worldX(lon), worldY(lat)];

/** Parts of a geometry: [kind, list of runs of world points]. */
function parts(geometry) {
  const { type, coordinates, geometries } = geometry;
  switch (type) {
    case "Point":
      return [["point", [[project(coordinates)]]]];
    case "MultiPoint":
      return [["point", coordinates.map((at) => [project(at)])]];
    case "LineString":
      return [["line", [coordinates.map(project)]]];
    case "MultiLineString":
      return [["line", coordinates.map((run) => run.map(project))]];
    case "Polygon":
      return [["area", coordinates.map((run) => run.map(project))]];
    case "MultiPolygon":
      return [["area", coordinates.flat().map((run) => run.map(project))]];
    case "GeometryCollection":
      return geometries.flatMap(parts);
    default:
      return [];
  }
}

/** Prepare the GeoJSON of /api/context; unknown layers are left out. */
function prepareContext(collection) {
  const features = collection.features
    .filter((feature) => feature.geometry && STYLES[feature.properties.layer])
    .map((feature) => ({ ...feature.properties, parts: parts(feature.geometry) }));
  features.sort((a, b) => ORDER.indexOf(a.layer) - ORDER.indexOf(b.layer));
  return features;
}

function trace(view, run) {
  run.forEach(([x, y], i) => {
    if (i) view.ctx.lineTo(view.px(x), view.py(y));
    else view.ctx.moveTo(view.px(x), view.py(y));
  });
}

/** A gate is two posts with a leaf between; a crossing is a small open cross. */
function sign(ctx, layer, x, y) {
  ctx.beginPath();
  if (layer === "gate") {
    ctx.moveTo(x - 6, y - 5);
    ctx.lineTo(x - 6, y + 5);
    ctx.moveTo(x + 6, y - 5);
    ctx.lineTo(x + 6, y + 5);
    ctx.moveTo(x - 6, y + 3);
    ctx.lineTo(x + 6, y - 3);
  } else {
    ctx.moveTo(x - 5, y);
    ctx.lineTo(x + 5, y);
    ctx.moveTo(x, y - 5);
    ctx.lineTo(x, y + 5);
  }
  ctx.stroke();
}

function paintShape(view, feature) {
  const { ctx } = view;
  for (const [kind, runs] of feature.parts) {
    if (kind === "point") {
      for (const [[x, y]] of runs) sign(ctx, feature.layer, view.px(x), view.py(y));
      continue;
    }
    ctx.beginPath();
    for (const run of runs) trace(view, run);
    ctx.stroke();
  }
}

/** A point of the feature that lies in view, to write the name at. */
function anchor(view, feature) {
  let best = null;
  let least = Infinity;
  for (const [, runs] of feature.parts) {
    for (const run of runs) {
      for (const [x, y] of run) {
        const px = view.px(x);
        const py = view.py(y);
        const from = Math.hypot(px - view.width / 2, py - view.height / 2);
        if (px > 60 && py > 20 && px < view.width - 60 && py < view.height - 20 && from < least) {
          least = from;
          best = [px, py];
        }
      }
    }
  }
  return best;
}

function paintName(view, feature) {
  const at = anchor(view, feature);
  if (!at) return;
  view.ctx.textAlign = "start";
  view.ctx.textBaseline = "alphabetic";
  const font = feature.layer === "river" ? "italic 500 13px system-ui, sans-serif" : "500 12px system-ui, sans-serif";
  haloText(view, feature.name, at[0] + 9, at[1] - 7, { colour: view.palette.muted, font });
}

/** Painter of context features. */
function contextPainter(features) {
  return (view) => {
    const { ctx } = view;
    ctx.lineJoin = "round";
    ctx.lineCap = "butt";
    for (const feature of features) {
      const style = STYLES[feature.layer];
      if (view.zoom < style.from) continue;
      ctx.strokeStyle = view.palette.context[feature.layer];
      ctx.lineWidth = view.zoom < 12 ? style.width * 0.55 : style.width;
      ctx.setLineDash(style.dash);
      paintShape(view, feature);
    }
    ctx.setLineDash([]);
    for (const feature of features) {
      if (feature.name && view.zoom >= STYLES[feature.layer].words) paintName(view, feature);
    }
  };
}

export { prepareContext, contextPainter };
