// What every page of the office has: its parts by name, its messages, its start; the bar above the map.

import { escape, html, render } from "./html.js";
import { watchCases } from "./case_count.js";
import { restoreTheme, startTheme } from "./theme.js";

const WAIT_MS = 250;
const at = (id) => document.getElementById(id);
/** An entry of a list to choose from. */
const option = (value, words) => html`<option value="${value}">${words}</option>`;
/** A moment as the server tells it, to the minute: "2026-05-15 08:00". */
const moment = (text) => text.slice(0, 16).replace("T", " ");
const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

/** Show a message that a person must read; "" takes it away. */
function say(text) {
  const place = at("message");
  place.textContent = text;
  place.hidden = text === "";
}

/** Show a message, and scroll to it, for whoever is further down on the page. */
function sayInSight(text) {
  say(text);
  at("message").scrollIntoView({ block: "nearest" });
}

/** Do `work` a moment after the last of many events, as of typing. */
function soon(work) {
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let later;
  return () => {
    clearTimeout(later);
    later = setTimeout(() => void work(), WAIT_MS);
  };
}

/**
 * Start a page: light or dark, printing, and its own work; what ends that is said.
 * @param {() => Promise<void>} work
 * @param {{ themed?: (theme: string) => void, print?: () => void, failed?: (failure: Error) => void }} [own]
 */
async function startPage(work, { themed = () => {}, print = () => window.print(), failed = (failure) => say(failure.message) } = {}) {
  restoreTheme();
  startTheme(at("theme"), themed);
  at("print").addEventListener("click", print);
  try {
    await work();
    document.documentElement.dataset.ready = "1";
    watchCases();
  } catch (failure) {
    failed(failure);
  }
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

export { at, soon, option, moment, pause, say, sayInSight, startPage, fillBar, addTiles };
