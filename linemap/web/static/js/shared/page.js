// The bar above the map, its messages and the optional background tiles.

import { escape, html, render } from "./html.js";

const at = (id) => document.getElementById(id);

/** Show a message that a person must read; "" takes it away. */
function say(text) {
  const place = at("message");
  place.textContent = text;
  place.hidden = text === "";
}

function lineWords(line) {
  return html`<span class="line-ends">${line.back_end} <span aria-hidden="true">→</span><span class="visually-hidden">ahead to</span> <b>${line.ahead_end}</b></span>`;
}

/** Job name, ends of the line and the date of the data. */
function fillBar(job, { snapshot }) {
  const lines = job.lines.length === 1 ? lineWords(job.lines[0]) : html`<span>${job.lines.length} lines</span>`;
  document.title = `${job.name} – map`;
  at("title").textContent = job.name;
  render(at("facts"), html`${lines}<span class="as-of">${snapshot ? "snapshot, " : ""}as of <time>${job.as_of}</time>${job.when && ` (${job.when})`}</span>`);
}

/** Background tiles when the job names a tile server. */
function addTiles(L, map, job) {
  if (!job.tile_url) return;
  L.tileLayer(job.tile_url, { maxZoom: 22, maxNativeZoom: 19, attribution: escape(job.tile_attribution ?? "") }).addTo(map);
}

export { say, fillBar, addTiles };
