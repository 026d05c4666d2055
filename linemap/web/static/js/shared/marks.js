// The signs of the map, drawn alike on canvas, in lists and in the legend.
// Stage of framing = mark at the middle of the arm: shape, fill and colour, with more ink the more is built.
// Orientation verdict = what stands at the two ends of the arm. Hold = a barred badge beside the structure.

const ring = (r) => `M${r} 0A${r} ${r} 0 1 1 ${-r} 0A${r} ${r} 0 1 1 ${r} 0Z`;
const box = (r) => `M${-r} ${-r}H${r}V${r}H${-r}Z`;

/** Path data about (0, 0), at most 6 from it: `line` is stroked, `solid` is filled. */
const STAGE_SHAPES = {
  none: { line: ring(3), solid: "", width: 1.5 },
  staked: { line: "M-4-4L4 4M4-4L-4 4", solid: "", width: 2 },
  spotted: { line: "M-5-2.5H5M-5 2.5H5", solid: "", width: 2 },
  dug: { line: ring(4.6), solid: ring(1.6), width: 2 },
  framed: { line: box(4.4), solid: "M-4.4-4.4V4.4H4.4Z", width: 2 },
  set: { line: box(4.6), solid: box(4.6), width: 2 },
  inspected: { line: "M0-7L7 0L0 7L-7 0Z", solid: "M0-7L7 0L0 7L-7 0Z", width: 1 },
};

/** The shape of a stage; one the page does not know is drawn as nothing recorded. */
const stageShape = (code) => STAGE_SHAPES[code] ?? STAGE_SHAPES.none;

/** Drawn at both ends of the arm, x pointing outward: square bars pass, heavy slanted ones fail. */
const VERDICT_SHAPES = {
  pass: { line: "M1-4.5V4.5", solid: "", width: 2.5 },
  fail: { line: "", solid: "M3-8.5H9.5L3 8.5H-3.5Z", width: 0 },
  "cannot tell": { line: "M6.5 0A3 3 0 1 1 .5 0A3 3 0 1 1 6.5 0Z", solid: "", width: 2 },
  "not surveyed": { line: "", solid: "", width: 0 },
};

/** A and B the other way round: two half arrows passing each other along the arm. */
const REVERSED_SHAPE = { line: "M-9-2.6H9L4-8M9 2.6H-9L-4 8", solid: "", width: 2 };

/** Holds: 0 none, 1 conditional (outlined, one bar), 2 hold (solid, two bars cut out). */
const HOLD_SHAPES = [
  null,
  { line: `${box(6)}M0-3V3`, solid: "", width: 2 },
  { line: "", solid: `${box(7)}M-3.4-4V4H-1V-4ZM1-4V4H3.4V-4Z`, width: 0 },
];
const HOLD_WORDS = ["no hold", "conditional hold", "hold"];

/** Length of the overview bar across the line, px, by stage index: more built, longer. */
const overviewLength = (stage) => 5 + stage * 2.2;

const LIGHT = {
  ground: "#f3f1ea",
  ink: "#14202b",
  muted: "#56626c",
  corridor: "#dcd8ca",
  span: "#3c4852",
  halo: "#fbfaf6",
  stage: {
    none: "#767e86",
    staked: "#7d6a1f",
    spotted: "#3d7a2e",
    dug: "#0f6e78",
    framed: "#1a56a0",
    set: "#2c2a78",
    inspected: "#0b0e14",
  },
  verdict: { pass: "#3f4b55", fail: "#b81f14", "cannot tell": "#8a4a00", "not surveyed": "#767e86" },
  reversed: "#b81f14",
  hold: "#a33a00",
  chosen: "#c8500a",
  context: {
    road: "#a89f8c",
    river: "#7fa6bd",
    "other line": "#8d7aa3",
    access: "#a08a55",
    gate: "#6d5c2c",
    parcel: "#b9b3a2",
    crossing: "#5f6b74",
  },
};

const DARK = {
  ground: "#11181e",
  ink: "#eef0ea",
  muted: "#a9b3ba",
  corridor: "#2a353d",
  span: "#b4bec5",
  halo: "#11181e",
  stage: {
    none: "#8b949b",
    staked: "#bfa94f",
    spotted: "#82c46d",
    dug: "#55c8cb",
    framed: "#86b9ff",
    set: "#cdcfff",
    inspected: "#ffffff",
  },
  verdict: { pass: "#c3ccd2", fail: "#ff8a75", "cannot tell": "#ffc06b", "not surveyed": "#8b949b" },
  reversed: "#ff8a75",
  hold: "#ff9d57",
  chosen: "#ffab5e",
  context: {
    road: "#6a6656",
    river: "#3d6a86",
    "other line": "#7d6a96",
    access: "#86713f",
    gate: "#c2ad73",
    parcel: "#47504f",
    crossing: "#9aa5ad",
  },
};

const PALETTES = { light: LIGHT, dark: DARK };

const paths = new Map();

/** Path2D of path data, made once. */
function pathOf(data) {
  if (!paths.has(data)) paths.set(data, new Path2D(data));
  return paths.get(data);
}

/** Draw one shape about the canvas origin. */
function drawShape(ctx, shape, colour) {
  if (shape.solid) {
    ctx.fillStyle = colour;
    ctx.fill(pathOf(shape.solid), "evenodd");
  }
  if (shape.line) {
    ctx.strokeStyle = colour;
    ctx.lineWidth = shape.width;
    ctx.stroke(pathOf(shape.line));
  }
}

export { STAGE_SHAPES, stageShape, VERDICT_SHAPES, REVERSED_SHAPE, HOLD_SHAPES, HOLD_WORDS, overviewLength, PALETTES, pathOf, drawShape };
