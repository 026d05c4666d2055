// A map of lines and named places that are few enough to be drawn one by one: of a proposal, of files brought.

import { paletteOf, drawShape } from "../shared/marks.js";
import { currentTheme } from "../shared/theme.js";
import { latOf, lonOf } from "./geo.js";
import { makeCanvasLayer } from "./layer.js";
import { haloText, NAME_FONT } from "./paint_line.js";

const LABELS = 80;
const LABEL_HEIGHT = 18;
const FEW = 40;
const FINGER = 20;
const NEAREST_ZOOM = 18;

/**
 * A place by its world pixels of zoom 0; a quiet one has its name written only where few places are in view.
 * @typedef {{ name: string, at: { x: number, y: number }, quiet: boolean } & Record<string, any>} NamedPlace
 */

function pathOf(view, points) {
  const path = new Path2D();
  for (const { x, y } of points) path.lineTo(view.px(x), view.py(y));
  return path;
}

function paintAt(view, at, shape, colour) {
  const { ctx } = view;
  ctx.save();
  ctx.translate(view.px(at.x), view.py(at.y));
  drawShape(ctx, shape, colour);
  ctx.restore();
}

const inView = (view, { x, y }) => view.px(x) > 0 && view.py(y) > 0 && view.px(x) < view.width && view.py(y) < view.height;

/** Names beside the places in view, those that would stand over another left out. */
function paintNames(view, places) {
  const taken = /** @type {{ x: number, y: number, end: number }[]} */ ([]);
  const seen = places.filter(({ name, at }) => name && inView(view, at));
  view.ctx.font = NAME_FONT;
  for (const { name, at, quiet } of seen) {
    if (quiet && seen.length > FEW) return;
    const [x, y] = [view.px(at.x) + 11, view.py(at.y) - 9];
    const end = x + view.ctx.measureText(name).width + 4;
    if (taken.some((other) => Math.abs(other.y - y) < LABEL_HEIGHT && x < other.end && other.x < end)) continue;
    taken.push({ x, y, end });
    haloText(view, name, x, y);
    if (taken.length >= LABELS) return;
  }
}

/** What every such map does; what it paints, and says of a place that is picked, is its own. */
class PlanMap {
  /** The places in the order of their names' worth. @type {NamedPlace[]} */
  named = [];
  begun = false;

  /**
   * @param {HTMLElement} element
   * @param {(words: string) => void} said takes the words of what is picked
   */
  constructor(element, said) {
    this.said = said;
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    this.map = window.L.map(element, { zoomControl: false, attributionControl: false, maxZoom: 22, zoomSnap: 0.25, wheelPxPerZoomLevel: 90, zoomAnimation: !still, fadeAnimation: false, inertia: !still, scrollWheelZoom: false, center: [0, 0], zoom: 2 });
    window.L.control.zoom({ position: "bottomright" }).addTo(this.map);
    // the wheel scrolls the page until somebody is at the map
    this.map.on("focus", () => this.map.scrollWheelZoom.enable()).on("blur", () => this.map.scrollWheelZoom.disable());
    this.map.on("click", (event) => this.pick(event.containerPoint));
    const Layer = makeCanvasLayer(window.L);
    this.layer = new Layer([(view) => this.draw(view)], paletteOf(currentTheme())).addTo(this.map);
  }

  /** Draw from now on; before, there is nothing to draw. */
  begin() {
    this.begun = true;
    this.map.invalidateSize({ animate: false });
  }

  draw(view) {
    if (!this.begun) return;
    view.ctx.lineJoin = view.ctx.lineCap = "round";
    this.paint(view);
    paintNames(view, this.named);
  }

  paint(_view) {}

  /** @param {NamedPlace} place */
  words(place) {
    return place.name;
  }

  /** @param {number} [nearest] the zoom it comes as near as */
  fit(points, nearest = NEAREST_ZOOM) {
    if (!points.length) return;
    const corners = points.map(({ x, y }) => [latOf(y), lonOf(x)]);
    this.map.fitBounds(window.L.latLngBounds(corners), { padding: [48, 48], maxZoom: nearest, animate: false });
  }

  pick(point) {
    const spot = this.layer.worldAt(point);
    const distance = ({ at }) => Math.hypot(at.x - spot.x, at.y - spot.y) * spot.k;
    const [near] = this.named.filter((place) => distance(place) < FINGER).sort((a, b) => distance(a) - distance(b));
    this.said(near ? this.words(near) : "");
    if (near) this.picked(near);
  }

  /** @param {NamedPlace} _place */
  picked(_place) {}

  usePalette() {
    this.layer.usePalette(paletteOf(currentTheme()));
  }
}

export { PlanMap, inView, paintAt, pathOf };
