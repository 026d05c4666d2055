// The drawing of files brought: each in its own colour, north up, in the unit of their coordinates.

import { haloText } from "../map/paint_line.js";
import { inView, paintAt, pathOf, PlanMap } from "../map/plan_map.js";
import { icon, paths } from "../shared/icons.js";
import { ring } from "../shared/marks.js";

const COLOURS = 6;
/** World pixels of zoom 0 that all of it takes: the map's zooms lie about it. */
const WIDE = 80;
const BAR_PX = 140;
/** What stands at the places of a file, by its kind. */
const SHAPES = {
  structures: { line: ring(5.5), solid: "", width: 2.2 },
  centreline: { line: "M0-7L7 0L0 7L-7 0Z", solid: "", width: 2.2 },
  shots: { line: "M-4-4L4 4M4-4L-4 4", solid: "", width: 2.2 },
  "": { line: "M-4.5-4.5H4.5V4.5H-4.5Z", solid: "", width: 2.2 },
};
const UNITS = { m: ["m", "km", 1000], ft: ["ft", "mi", 5280], ftUS: ["ft", "mi", 5280] };

/**
 * A bar no longer than `most`, as long as 1, 2 or 5 and noughts of what its words count.
 * @param {string} unit
 */
function roundBar(most, unit) {
  const [small, large, many] = UNITS[unit] ?? ["units of the files", "", Infinity];
  const [one, sign] = most < many ? [1, small] : [many, large];
  const power = 10 ** Math.floor(Math.log10(most / one));
  const count = [5, 2, 1].map((digit) => digit * power).find((round) => round * one <= most) ?? power;
  return { length: count * one, words: `${count.toLocaleString("en", { maximumSignificantDigits: 3 })} ${sign}` };
}

class FilesPlan extends PlanMap {
  files = /** @type {{ name: string, shape: any, colour: string, lines: any[], places: any[] }[]} */ ([]);
  /** Those of them that are switched on. @type {typeof this.files} */
  shown = [];
  unit = "";
  scale = 1;

  /** @param {Set<string>} hidden names of files that are switched off */
  constructor(element, hidden, said) {
    super(element, said);
    this.hidden = hidden;
  }

  /** @param {Answer.LookedAt} looked */
  show(looked) {
    const spots = looked.drawn.flatMap(({ places, lines }) => [...places.map(([, spot]) => spot), ...lines.flat()]);
    const middle = [0, 1].map((axis) => (Math.min(...spots.map((spot) => spot[axis])) + Math.max(...spots.map((spot) => spot[axis]))) / 2);
    const reach = Math.max(...spots.map(([east, north]) => Math.max(Math.abs(east - middle[0]), Math.abs(north - middle[1]))));
    this.scale = WIDE / 2 / (reach || 1);
    this.unit = looked.unit;
    const at = ([east, north]) => ({ x: 128 + (east - middle[0]) * this.scale, y: 128 - (north - middle[1]) * this.scale });
    this.files = looked.drawn.map(({ name, lines, places }, k) => ({
      name,
      shape: shapeOf(looked, name),
      colour: colourOf(k),
      lines: lines.map((line) => line.map(at)),
      places: places.map(([label, spot]) => ({ name: label, at: at(spot), quiet: false, file: name })),
    }));
    this.begin();
    this.choose();
    this.fit(this.named.map((place) => place.at));
  }

  /** Draw what is switched on. */
  choose() {
    this.shown = this.files.filter(({ name }) => !this.hidden.has(name));
    // the numbers of structures go before what lies at them
    const rank = ({ shape }) => (shape === SHAPES.structures ? 0 : 1);
    this.named = [...this.shown].sort((a, b) => rank(a) - rank(b)).flatMap(({ places }) => places);
    this.layer.redraw();
  }

  words(place) {
    return [place.name, place.file].filter(Boolean).join(", ");
  }

  paint(view) {
    const { ctx } = view;
    for (const { colour, lines } of this.shown) {
      ctx.lineWidth = 2;
      ctx.strokeStyle = view.palette.file[colour];
      for (const line of lines) ctx.stroke(pathOf(view, line));
    }
    for (const { shape, colour, places } of this.shown) {
      for (const { at } of places) if (inView(view, at)) paintAt(view, at, shape, view.palette.file[colour]);
    }
  }

  draw(view) {
    super.draw(view);
    if (this.begun) this.paintBar(view);
  }

  /** The scale bar, and where north is. */
  paintBar(view) {
    const { ctx, inner } = view;
    const { length, words } = roundBar(BAR_PX / view.k / this.scale, this.unit);
    const [x, y, end] = [inner.left + 14, inner.bottom - 14, inner.left + 14 + length * this.scale * view.k];
    ctx.lineWidth = 2;
    ctx.strokeStyle = view.palette.ink;
    ctx.beginPath();
    for (const [from, to] of [[[x, y - 6], [x, y]], [[x, y], [end, y]], [[end, y], [end, y - 6]], [[x + 4, y - 30], [x + 4, y - 52]], [[x, y - 46], [x + 4, y - 52]], [[x + 8, y - 46], [x + 4, y - 52]]]) {
      ctx.moveTo(from[0], from[1]);
      ctx.lineTo(to[0], to[1]);
    }
    ctx.stroke();
    haloText(view, words, x + 2, y - 10);
    haloText(view, "N", x + 14, y - 38);
  }
}

const colourOf = (k) => String((k % COLOURS) + 1);
/** @param {Answer.LookedAt} looked */
const shapeOf = (looked, name) => SHAPES[looked.files.find((file) => file.name === name)?.kind ?? ""] ?? SHAPES[""];

/**
 * The sign of a file that is drawn; undefined = nothing of it is.
 * @param {Answer.LookedAt} looked
 */
function signOf(looked, name) {
  const k = looked.drawn.findIndex((drawn) => drawn.name === name && drawn.places.length > 0);
  return k < 0 ? undefined : icon(`file-${colourOf(k)}`, paths(shapeOf(looked, name)));
}

export { FilesPlan, signOf };
