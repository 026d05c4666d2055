// The search box and the filters above the list.

import { ANY, openFilter } from "./filter.js";
import { worldX, worldY } from "./geo.js";
import { findStation, hitWords } from "./locate.js";
import { looksLikeStation } from "./station.js";
import { findPlaces } from "../shared/api.js";
import { outerPoles, wordsOfPoles } from "../shared/number.js";
import { html, render } from "../shared/html.js";
import { option } from "../shared/page.js";

const MOST_HITS = 6;
/** The server is asked for a place when nobody has typed for so long. */
const PAUSE_MS = 250;

function miles(s) {
  return [...new Set(s.mile)].sort((a, b) => a - b);
}

function choice(name, words, options) {
  return html`<label class="choice"><span>${words}</span><select name="${name}">${option(ANY, "all")}${options}</select></label>`;
}

function form(s, job) {
  const lines = job.lines.length > 1 && choice("line", "Line", job.lines.map((line, i) => option(i, line.name)));
  return html`<form class="search" role="search">
    <label class="find"><span class="visually-hidden">Find a structure, a station with its offset, or coordinates</span>
      <input name="text" type="search" autocomplete="off" spellcheck="false" maxlength="120" placeholder="9/2, 434+20 12 R, N 46.7 W 108.4" enterkeyhint="search"></label>
    <ul class="hits" aria-label="Places found" aria-live="polite" hidden></ul>
    <p class="shown" role="status"></p>
    <details class="filters"><summary>Filter <span class="filter-count"></span></summary>
      <div class="choices">${lines}
        ${choice("stage", "Framing", job.stages.map((stage, i) => option(i, stage.words)))}
        ${choice("verdict", "Orientation", [option("surveyor", "needs the surveyor"), option("wrong", "something is wrong"), option("stops", "work stops"), ...job.verdicts.map((word, i) => option(i, word)), option("reversed", `${outerPoles(wordsOfPoles(job, 2))} reversed`)])}
        ${choice("hold", "Holds", [option("any", "any hold"), option(2, "hold"), option(1, "conditional"), option(0, "none")])}
        ${choice("cases", "Cases", [option("open", "an open case")])}
        ${choice("mile", "Mile", miles(s).map((mile) => option(mile, `mile ${mile}`)))}
        <button type="reset">Show all</button></div></details></form>`;
}

/** Hits of a station with the words of each. */
function stationHits(s, text, job) {
  const hits = findStation(s, text, job);
  const many = new Set(hits.map((found) => s.line[found.row])).size > 1;
  const region = (found) => hits.length > 1 && html` <small>region ${found.region}${many && html`, line ${s.line[found.row] + 1}`}</small>`;
  return hits.map((found) => ({ ...found, words: html`${hitWords(s, found, job.unit)}${region(found)}` }));
}

/**
 * Places the server found, as hits.
 * @param {Answer.Places} found
 */
function placeHits(s, job, found) {
  const lines = job.lines.map((line) => line.name);
  return found.places.map((place) => ({
    x: worldX(place.longitude),
    y: worldY(place.latitude),
    row: s.number.findIndex((number, i) => number === place.structure && lines[s.line[i]] === place.line),
    words: html`${place.words}${place.note && html` <small>${place.note}</small>`}`,
  }));
}

function hitButtons(hits) {
  return hits.slice(0, MOST_HITS).map(({ words }, k) => html`<li><button type="button" data-hit="${k}">${words}</button></li>`);
}

/**
 * Build the search form in `element`. Calls `filtered(filter)` on every change, `open(row)` for a structure
 * number that is meant exactly, and `go(hit)` for a place found by station.
 */
function makeSearch(element, { s, job, filtered, open, go }) {
  render(element, form(s, job));
  const box = element.querySelector("form");
  const list = element.querySelector(".hits");
  let hits = [];
  let shown = 0;
  let asked = new AbortController();
  let pause = 0;

  function read() {
    const filter = openFilter();
    for (const name of Object.keys(filter)) filter[name] = box.elements[name]?.value ?? filter[name];
    return filter;
  }

  function update() {
    const filter = read();
    show(stationHits(s, filter.text, job));
    const set = Object.entries(filter).filter(([name, value]) => name !== "text" && value !== ANY).length;
    element.querySelector(".filter-count").textContent = set ? `(${set} on)` : "";
    filtered(filter);
    asked.abort();
    clearTimeout(pause);
    const nothing = looksLikeStation(filter.text) ? !hits.length : !shown && /\d/.test(filter.text);
    if (nothing) pause = setTimeout(() => look(filter.text), PAUSE_MS);
  }

  function show(found, none = "") {
    hits = found;
    list.hidden = !hits.length && !none;
    render(list, html`${hitButtons(hits)}${none && html`<li class="no-hit">${none}</li>`}`);
  }

  /** Ask the server what else a text may mean. */
  async function look(text) {
    asked = new AbortController();
    try {
      const found = await findPlaces(text, { signal: asked.signal });
      show(placeHits(s, job, found), found.none);
    } catch (error) {
      if (error.name !== "AbortError") show([], error.message);
    }
  }

  box.addEventListener("input", update);
  box.addEventListener("reset", () => setTimeout(update));
  box.addEventListener("submit", (event) => {
    event.preventDefault();
    const text = box.elements.text.value;
    const [row, ...others] = s.rowsOf(text);
    const alike = others.filter((other) => s.line[other] === s.line[row]);
    if (alike.length) {
      const numbers = [row, ...alike].map((i) => s.number[i]).join(" or ");
      element.querySelector(".shown").textContent = `${text.trim()} may be ${numbers}; write it exactly so`;
    } else if (row !== undefined) open(row);
    else if (hits.length) go(hits[0]);
  });
  list.addEventListener("click", (event) => {
    const button = event.target.closest("[data-hit]");
    if (button) go(hits[Number(button.dataset.hit)]);
  });

  return {
    /** Say how many structures are shown. */
    tell(count) {
      shown = count;
      const filtering = count !== s.n;
      element.querySelector(".shown").textContent = filtering ? `${count} of ${s.n} structures` : `${s.n} structures`;
    },
    focus: () => box.elements.text.focus(),
  };
}

export { makeSearch };
