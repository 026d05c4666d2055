// The search box and the filters above the list.

import { ANY, openFilter } from "./filter.js";
import { findStation, hitWords } from "./locate.js";
import { outerPoles, wordsOfPoles } from "../shared/number.js";
import { html, render } from "../shared/html.js";
import { option } from "../shared/page.js";

const MOST_HITS = 6;

function miles(s) {
  return [...new Set(s.mile)].sort((a, b) => a - b);
}

function choice(name, words, options) {
  return html`<label class="choice"><span>${words}</span><select name="${name}">${option(ANY, "all")}${options}</select></label>`;
}

function form(s, job) {
  const lines = job.lines.length > 1 && choice("line", "Line", job.lines.map((line, i) => option(i, line.name)));
  return html`<form class="search" role="search">
    <label class="find"><span class="visually-hidden">Find a structure or a station</span>
      <input name="text" type="search" autocomplete="off" spellcheck="false" placeholder="9/2 or 434+20" enterkeyhint="search"></label>
    <ul class="hits" aria-label="Stations found" hidden></ul>
    <p class="shown" role="status"></p>
    <details class="filters"><summary>Filter <span class="filter-count"></span></summary>
      <div class="choices">${lines}
        ${choice("stage", "Framing", job.stages.map((stage, i) => option(i, stage.words)))}
        ${choice("verdict", "Orientation", [option("surveyor", "needs the surveyor"), option("wrong", "something is wrong"), option("stops", "work stops"), ...job.verdicts.map((word, i) => option(i, word)), option("reversed", `${outerPoles(wordsOfPoles(job, 2))} reversed`)])}
        ${choice("hold", "Holds", [option("any", "any hold"), option(2, "hold"), option(1, "conditional"), option(0, "none")])}
        ${choice("mile", "Mile", miles(s).map((mile) => option(mile, `mile ${mile}`)))}
        <button type="reset">Show all</button></div></details></form>`;
}

function hitButtons(hits, s, unit) {
  const many = new Set(hits.map((found) => s.line[found.row])).size > 1;
  return hits.slice(0, MOST_HITS).map(
    (found, k) => html`<li><button type="button" data-hit="${k}">${hitWords(s, found, unit)}${hits.length > 1 && html` <small>region ${found.region}${many && html`, line ${s.line[found.row] + 1}`}</small>`}</button></li>`,
  );
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

  function read() {
    const filter = openFilter();
    for (const name of Object.keys(filter)) filter[name] = box.elements[name]?.value ?? filter[name];
    return filter;
  }

  function update() {
    const filter = read();
    hits = findStation(s, filter.text, job.unit);
    list.hidden = hits.length === 0;
    render(list, html`${hitButtons(hits, s, job.unit)}`);
    const set = Object.entries(filter).filter(([name, value]) => name !== "text" && value !== ANY).length;
    element.querySelector(".filter-count").textContent = set ? `(${set} on)` : "";
    filtered(filter);
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
      const filtering = count !== s.n;
      element.querySelector(".shown").textContent = filtering ? `${count} of ${s.n} structures` : `${s.n} structures`;
    },
    focus: () => box.elements.text.focus(),
  };
}

export { makeSearch };
