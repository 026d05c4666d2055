// The map of the bench: shots by what became of them, the design poles near them, and the line.

import { decodeDeltas, worldX, worldY } from "../map/geo.js";
import { inView, paintAt, pathOf, PlanMap } from "../map/plan_map.js";
import { html, render } from "../shared/html.js";
import { icon, paths } from "../shared/icons.js";
import { ring } from "../shared/marks.js";

const SCALE = 1e7;
const AT_POLES = 21;
/** Where a shot lies farther from every pole than this, in ground units, the map is not drawn so wide by itself. */
const FAR = 5000;

/**
 * What may become of a shot: its shape, and the colour of the palette it has on the map.
 * @type {Record<Answer.OpenShot["state"], { shape: { line: string, solid: string, width: number }, colour: (palette: any) => string }>}
 */
const STATES = {
  conflicting: { shape: { line: "", solid: "M-8-6L0 0L-8 6ZM8-6L0 0L8 6Z", width: 0 }, colour: (palette) => palette.verdict.fail },
  unused: { shape: { line: "M-5.5-5.5H5.5V5.5H-5.5Z", solid: "", width: 2.5 }, colour: (palette) => palette.verdict["cannot tell"] },
  unread: { shape: { line: `${ring(7)}M-3-3L3 3M3-3L-3 3`, solid: "", width: 2 }, colour: (palette) => palette.ink },
  "no pole": { shape: { line: "M0-6L6 0L0 6L-6 0Z", solid: "", width: 2 }, colour: (palette) => palette.muted },
  "set aside": { shape: { line: "M-6-6L6 6M6-6L-6 6", solid: "", width: 2.5 }, colour: (palette) => palette.muted },
  assigned: { shape: { line: ring(7), solid: ring(3.5), width: 2 }, colour: (palette) => palette.change.added },
};
const POLE = { line: ring(4), solid: "", width: 1.5 };
const CHOSEN = { line: ring(13), solid: "", width: 3 };

const world = (at) => at && { x: worldX(at[0]), y: worldY(at[1]) };
const stateIcon = (state) => icon(`shot-${state.replace(" ", "-")}`, paths(STATES[state].shape), { width: 20 });
/** @param {Answer.OpenShot} shot */
const shotName = (shot) => shot.point || `row ${shot.row}`;

/** The poles near a shot, without one that is much farther than the nearest. @param {Answer.OpenShot} shot */
const about = ({ near }) => near.filter(({ distance }) => distance < FAR && distance < 3 * near[0].distance + 60);

class ShotPlan extends PlanMap {
  lines = [];
  shots = /** @type {any[]} */ ([]);
  poles = /** @type {any[]} */ ([]);
  /** @type {any} */
  active = null;
  chosen = new Set();
  /** @type {Answer.OpenShots["states"]} */
  states = {};

  /**
   * @param {HTMLElement} element
   * @param {(words: string) => void} said
   * @param {(place: any) => void} picked takes the shot or the pole that is picked
   */
  constructor(element, said, picked) {
    super(element, said);
    this.picked = picked;
  }

  /** @param {Answer.Centrelines} centrelines */
  draws({ lines }) {
    this.lines = lines.map(({ lon, lat }) => {
      const [x, y] = [decodeDeltas(lon, SCALE), decodeDeltas(lat, SCALE)];
      return Array.from(x, (degrees, k) => world([degrees, y[k]]));
    });
  }

  /**
   * @param {Answer.OpenShot[]} shots those that are listed
   * @param {{ fit: boolean, states: Answer.OpenShots["states"] }} how
   */
  show(shots, { fit, states }) {
    this.begin();
    this.states = states;
    this.shots = shots.filter(({ at }) => at).map((shot) => ({ shot, name: shotName(shot), at: world(shot.at), quiet: false }));
    const poles = new Map();
    for (const near of shots.flatMap((shot) => shot.near)) poles.set(`${near.line}\n${near.structure}\n${near.pole}`, near);
    this.poles = [...poles.values()].map((near) => ({ near, name: `${near.structure} ${near.called}`, at: world(near.at), quiet: true }));
    this.name();
    if (fit) this.fitAll();
    this.layer.redraw();
  }

  /** Of names that would stand over each other the one of the shot that is looked at stays. */
  name() {
    const first = this.shots.filter(({ shot }) => shot === this.active);
    this.named = [...first, ...this.shots.filter(({ shot }) => shot !== this.active), ...this.poles];
  }

  fitAll() {
    const here = this.shots.filter(({ shot }) => shot.near[0]?.distance < FAR);
    const points = (here.length ? here : this.shots).map(({ at }) => at);
    this.fit(points.length ? points : this.lines.flat());
  }

  /** @param {Answer.OpenShot | null} shot */
  go(shot, { fit }) {
    this.active = shot;
    if (shot?.at && fit) this.fit([world(shot.at), ...about(shot).map(({ at }) => world(at))], AT_POLES);
    this.name();
    this.layer.redraw();
  }

  words(place) {
    const { shot, near, name } = /** @type {any} */ (place);
    return shot ? `Shot ${name}: ${this.states[shot.state]}` : `Pole ${near.structure} ${near.called} as designed`;
  }

  paint(view) {
    const { ctx, palette } = view;
    ctx.lineWidth = 2;
    ctx.strokeStyle = palette.span;
    for (const line of this.lines) ctx.stroke(pathOf(view, line));
    for (const { at } of this.poles) if (inView(view, at)) paintAt(view, at, POLE, palette.span);
    if (this.active?.at) this.paintWays(view);
    for (const { shot, at } of this.shots) {
      if (!inView(view, at)) continue;
      const { shape, colour } = STATES[shot.state];
      paintAt(view, at, shape, colour(palette));
      if (this.chosen.has(shot) || shot === this.active) paintAt(view, at, CHOSEN, palette.chosen);
    }
  }

  /** From the shot that is looked at to the poles near it. */
  paintWays(view) {
    const { ctx, palette } = view;
    ctx.lineWidth = 1.5;
    ctx.setLineDash([5, 4]);
    ctx.strokeStyle = palette.chosen;
    for (const near of about(this.active)) ctx.stroke(pathOf(view, [world(this.active.at), world(near.at)]));
    ctx.setLineDash([]);
  }
}

/** The signs that are on this map, each once. */
function fillLegend(element, /** @type {Answer.OpenShots} */ { shots, states }) {
  const there = new Set(shots.map(({ state }) => state));
  const signs = [...there].map((state) => html`<li>${stateIcon(state)}<span>${states[state]}</span></li>`);
  render(element, html`${signs}
    <li>${icon("shot-pole", paths(POLE))}<span>pole as designed</span></li>`);
}

export { ShotPlan, fillLegend, shotName, stateIcon };
