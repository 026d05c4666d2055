// The map page: fetch, wire the parts to each other, paint.

import * as api from "../shared/api.js";
import { applyFilter, openFilter, sortRows } from "./filter.js";
import { latOf, lonOf } from "./geo.js";
import { makeCanvasLayer } from "./layer.js";
import { fillLegend } from "./legend.js";
import { linkedRow, readLink, writeLink } from "../shared/link.js";
import { makeList } from "./list.js";
import { standing, standingWords } from "./locate.js";
import { paletteOf } from "../shared/marks.js";
import { contextPainter, prepareContext } from "./paint_context.js";
import { centrelinePainter, endNamesPainter, prepareCentreline } from "./paint_line.js";
import { pickStructure, structuresPainter } from "./paint_structures.js";
import { placePainter } from "./paint_place.js";
import { makePanel } from "./panel.js";
import { makeSearch } from "./search.js";
import { prepareStructures } from "./structures.js";
import { aroundPrint, currentTheme, restoreTheme, startTheme } from "../shared/theme.js";
import { addTiles, at, fillBar, say } from "../shared/page.js";
import { watchCases } from "../shared/case_count.js";

const OPEN_ZOOM = 16;
const EXAGGERATED = 10;

const coarse = matchMedia("(pointer: coarse)");
const narrow = matchMedia("(max-width: 760px)");

/** Everything the parts share, and the only place it changes. */
class MapPage {
  /** @type {any} */
  layer;
  /** @type {ReturnType<typeof makePanel>} */
  panel;
  /** @type {ReturnType<typeof makeList>} */
  list;
  /** @type {ReturnType<typeof makeSearch>} */
  search;

  constructor({ map, job, structures, centreline }) {
    this.map = map;
    this.job = job;
    this.s = prepareStructures(structures, job);
    this.lines = prepareCentreline(centreline, job.lines);
    this.state = { shown: new Uint8Array(this.s.n).fill(1), chosen: -1, exaggeration: 1, place: /** @type {{ x: number, y: number } | null} */ (null) };
    this.filter = openFilter();
    this.order = { by: "number", direction: 1 };
    /** @type {AbortController | null} */
    this.asked = null;
  }

  paint() {
    const painters = [
      centrelinePainter(this.lines),
      structuresPainter(this.s, { codes: this.job.stages.map((stage) => stage.code), verdicts: this.job.verdicts, state: this.state }),
      endNamesPainter(this.lines),
      placePainter(this.state),
    ];
    const Layer = makeCanvasLayer(window.L);
    this.layer = new Layer(painters, paletteOf(currentTheme())).addTo(this.map);
  }

  fillParts() {
    const parts = { s: this.s, job: this.job, open: (row) => this.open(row, { move: true, focus: true }) };
    this.panel = makePanel(at("panel"), { open: (number) => this.openNumber(number), close: () => this.close() });
    this.list = makeList(at("list"), { ...parts, sorted: (order) => this.sort(order) });
    this.search = makeSearch(at("search"), { ...parts, filtered: (filter) => this.narrow(filter), go: (hit) => this.goTo(hit) });
    fillLegend(at("legend"), this.job, this.s);
    this.relist();
  }

  wire() {
    this.map.on("click", (event) => this.tap(event));
    this.map.on("mousemove", (event) => this.hover(event));
    window.addEventListener("hashchange", () => this.follow());
    at("whole-line").addEventListener("click", () => this.showAll());
    at("print").addEventListener("click", () => window.print());
    at("exaggerate").addEventListener("click", (event) => this.exaggerate(event.currentTarget));
    startTheme(at("theme"), (theme) => this.layer.usePalette(paletteOf(theme)));
    aroundPrint(() => this.repaint("light"), () => this.repaint(currentTheme()));
  }

  repaint(theme) {
    this.map.invalidateSize({ animate: false });
    this.layer.usePalette(paletteOf(theme));
  }

  /** Show what was recorded since: stages, findings and cases of the structures that are shown. */
  async recorded() {
    const { n, number, stage, worst, findings, cases } = await api.getStructures();
    if (n !== this.s.n || number.some((each, i) => each !== this.s.number[i])) return; // another list: the page is loaded anew by hand
    Object.assign(this.s, { stage, worst, findings, cases });
    this.narrow(this.filter);
  }

  narrow(filter) {
    this.filter = filter;
    this.state.shown = applyFilter(this.s, filter);
    this.relist();
    this.layer.redraw();
  }

  sort(order) {
    this.order = order;
    this.relist();
  }

  relist() {
    const rows = sortRows(this.s, this.state.shown, this.order);
    this.list.show(rows);
    this.search.tell(rows.length);
  }

  pick(containerPoint) {
    return pickStructure(this.s, this.layer.worldAt(containerPoint), coarse.matches ? 24 : 14);
  }

  tap(event) {
    const row = this.pick(event.containerPoint);
    if (row >= 0) this.open(row, { focus: false });
  }

  hover(event) {
    this.map.getContainer().classList.toggle("over-structure", this.pick(event.containerPoint) >= 0);
    const world = this.layer.worldAt(event.containerPoint);
    const found = standing(this.s, world, { withinWorld: Math.min(60 / world.k, 4e-3) });
    at("readout").textContent = found ? standingWords(this.s, found, this.job.unit) : "";
  }

  /** Open a structure: panel, list, map and address agree. */
  async open(row, { move = false, focus = false } = {}) {
    const { s, job } = this;
    const number = s.number[row];
    const line = job.lines[s.line[row]].name;
    this.state.chosen = row;
    this.list.choose(row);
    document.body.dataset.view = "structure";
    const hash = writeLink(number, job.lines.length > 1 ? line : null);
    if (location.hash !== hash) history.pushState(null, "", hash);
    this.panel.wait(number, job.caution);
    this.settle();
    if (move) this.centre(row);
    this.layer.redraw();
    await this.fill(row, { line, number, focus });
  }

  async fill(row, { line, number, focus }) {
    this.asked?.abort();
    const asked = new AbortController();
    this.asked = asked;
    try {
      const detail = await api.getStructure(line, number, { signal: asked.signal });
      if (!asked.signal.aborted) this.panel.show(detail, this.job.stages[this.s.stage[row]], { focus });
    } catch (error) {
      if (!asked.signal.aborted) this.panel.refuse(error.message, this.job.caution);
    }
  }

  openNumber(number) {
    const rows = this.s.rowsOf(number);
    const line = this.s.line[this.state.chosen];
    const row = rows.find((i) => this.s.line[i] === line) ?? rows[0];
    if (row !== undefined) this.open(row, { move: true, focus: true });
  }

  close() {
    this.asked?.abort();
    this.state.chosen = -1;
    this.panel.hide();
    document.body.dataset.view = "list";
    if (location.hash) history.pushState(null, "", location.pathname + location.search);
    this.settle();
    this.list.choose(-1);
    this.list.focus();
    this.layer.redraw();
  }

  follow() {
    const link = readLink(location.hash);
    if (!link) return;
    const row = linkedRow(this.s, this.job.lines, link);
    if (row < 0) say(`No structure ${link.number} on this line. Check the number in the address.`);
    else if (row !== this.state.chosen) this.open(row, { move: true });
  }

  /** The panel takes room from the map on wide screens: tell Leaflet before the next paint. */
  settle() {
    this.map.invalidateSize({ animate: false, pan: false });
  }

  centre(row) {
    const zoom = Math.max(this.map.getZoom(), OPEN_ZOOM);
    this.map.setView([this.s.lat[row], this.s.lon[row]], zoom, { animate: false });
  }

  goTo(hit) {
    this.state.place = { x: hit.x, y: hit.y };
    this.map.setView([latOf(hit.y), lonOf(hit.x)], Math.max(this.map.getZoom(), OPEN_ZOOM), { animate: false });
    if (hit.row >= 0) this.open(hit.row, { focus: false });
  }

  showAll() {
    const { minX, minY, maxX, maxY } = this.s.grid.bounds;
    if (minX > maxX) return;
    const side = narrow.matches ? 20 : 48; // above and below, the buttons and the names of the ends need room too
    this.map.fitBounds([[latOf(maxY), lonOf(minX)], [latOf(minY), lonOf(maxX)]], {
      paddingTopLeft: [side, 96],
      paddingBottomRight: [side, 100],
      animate: false,
    });
  }

  exaggerate(button) {
    const on = this.state.exaggeration === 1;
    this.state.exaggeration = on ? EXAGGERATED : 1;
    button.setAttribute("aria-pressed", String(on));
    this.layer.redraw();
  }

  async addContext() {
    const features = prepareContext(await api.getContext());
    this.layer.painters.unshift(contextPainter(features));
    this.layer.redraw();
  }
}

/** Resolves when the browser has painted what is there. */
const frame = () => new Promise((painted) => requestAnimationFrame(() => setTimeout(painted)));

function ready() {
  document.documentElement.dataset.ready = "1";
}

async function start() {
  const { map } = window.linemapShell;
  restoreTheme();
  const [job, structures, centreline] = await Promise.all([api.getJob(), api.getStructures(), api.getCentreline()]);
  const page = new MapPage({ map, job, structures, centreline });
  fillBar(job, { snapshot: api.isSnapshot() });
  addTiles(window.L, map, job);
  page.showAll();
  page.paint();
  await frame();
  performance.mark("linemap-painted");
  page.fillParts();
  page.wire();
  page.follow();
  requestAnimationFrame(ready);
  if (!api.isSnapshot()) {
    watchCases(({ unlisted }, changed) => {
      page.list.tellUnlisted(unlisted);
      if (changed) void page.recorded();
    });
  }
  await page.addContext().catch((error) => say(error.message));
  document.documentElement.dataset.context = "1";
}

start().catch((error) => say(error.message));
