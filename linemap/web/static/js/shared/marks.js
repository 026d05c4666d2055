// The signs of the map, drawn alike on canvas, in lists and in the legend.
// Stage of framing = mark at the middle of the arm: shape, fill and colour, with more ink the more is built.
// Orientation verdict = what stands at the two ends of the arm. Hold = a barred badge beside the structure.

import { inTheme } from "./theme.js";

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

/** Something is wrong: a triangle with a bar and a point cut out. */
const WRONG_SHAPE = { line: "", solid: "M0-8.5L8.5 7H-8.5ZM-1-3.5V2H1V-3.5ZM-1 3.5V5.5H1V3.5Z", width: 0 };

/** An open case: a flag on its staff. */
const CASE_SHAPE = { line: "", solid: "M-6-8H-4V8H-6ZM-3-8H7L4-4L7 0H-3Z", width: 0 };

/** How much findings matter, as the server counts: from this on something is wrong, and work stops. */
const WRONG = 3;
const STOPS = 4;

/** Holds: 0 none, 1 conditional (outlined, one bar), 2 hold (solid, two bars cut out). */
const HOLD_SHAPES = [
  null,
  { line: `${box(6)}M0-3V3`, solid: "", width: 2 },
  { line: "", solid: `${box(7)}M-3.4-4V4H-1V-4ZM1-4V4H3.4V-4Z`, width: 0 },
];
const HOLD_WORDS = ["no hold", "conditional hold", "hold"];

/** Length of the overview bar across the line, px, by stage index: more built, longer. */
const overviewLength = (stage) => 5 + stage * 2.2;

const LAYERS = ["road", "river", "other line", "access", "gate", "parcel", "crossing", "hospital", "hold buffer"];

/** Colours of the map in a theme, as the style sheets have them. */
function paletteOf(theme) {
  return inTheme(theme, () => {
    const style = getComputedStyle(document.documentElement);
    const colour = (name) => style.getPropertyValue(`--${name.replaceAll(" ", "-")}`).trim();
    const each = (prefix, names) => Object.fromEntries(names.map((name) => [name, colour(`${prefix}-${name}`)]));
    return {
      ground: colour("ground"),
      ink: colour("ink"),
      muted: colour("muted"),
      corridor: colour("corridor"),
      span: colour("span"),
      halo: colour("halo"),
      stage: each("stage", Object.keys(STAGE_SHAPES)),
      verdict: each("verdict", Object.keys(VERDICT_SHAPES)),
      reversed: colour("verdict-fail"),
      hold: colour("hold"),
      chosen: colour("chosen"),
      file: each("file", ["1", "2", "3", "4", "5", "6"]),
      change: each("change", ["added", "removed", "moved"]),
      context: each("context", LAYERS),
    };
  });
}

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

export { ring, STAGE_SHAPES, stageShape, VERDICT_SHAPES, REVERSED_SHAPE, WRONG_SHAPE, CASE_SHAPE, WRONG, STOPS, HOLD_SHAPES, HOLD_WORDS, overviewLength, paletteOf, drawShape };
