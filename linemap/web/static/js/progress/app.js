// The page of progress: numbers that open the lists behind them, charts with their tables, the report of a day.

import { html, render, renderSvg } from "../shared/html.js";
import { writeLink } from "../shared/link.js";
import { say } from "../shared/page.js";
import { chartBlock, countsTable, crewsTable, curveTable, daysForm, headBlock, milesTable, periodBlock, sectionsTable, sheetLinks } from "./parts.js";
import { getPeriod, getProgress, getSession } from "../shared/office_api.js";
import { restoreTheme, startTheme } from "../shared/theme.js";

const at = (id) => document.getElementById(id);
const lists = new Map(); // key on a button -> {title, places}
let report;
let mayPrint = true; // sheets are for those who record; a viewer is not offered what would be refused

/** Keep a list for its number and return the key of the button that opens it. */
function keep(title, places) {
  const key = String(lists.size);
  lists.set(key, { title, places });
  return key;
}

function query() {
  const fields = new URLSearchParams();
  for (const name of ["as_of", "known_by", "line"]) {
    const value = at("filter").elements[name]?.value ?? "";
    if (value) fields.set(name, value);
  }
  return fields;
}

function openList(key, opener) {
  const { title, places } = lists.get(key);
  const several = report.lines.length > 1;
  const items = places.map(
    ({ line, number }) => html`<li><a href="/${writeLink(number, several ? line : "")}">${number}</a>${several && html` <span>${line}</span>`}</li>`,
  );
  render(
    at("behind"),
    html`<h2 id="behind-title">${title}</h2><p>${places.length} structures</p><ul class="places">${items}</ul><form method="dialog"><button>Close</button></form>`,
  );
  at("behind").addEventListener("close", () => opener.focus(), { once: true });
  at("behind").showModal();
}

function drawCharts(where, keys) {
  const charts = report.charts.filter((chart) => keys.includes(chart.key));
  return charts.map((chart, place) => {
    const id = `${where}-${place}`;
    return { chart, id };
  });
}

function paint(found) {
  for (const { chart, id } of found) {
    if (chart.why) continue;
    renderSvg(at(`${id}-wide`), chart.wide);
    renderSvg(at(`${id}-narrow`), chart.narrow);
  }
}

function draw() {
  lists.clear();
  render(at("facts"), html`<span class="as-of">as of <time>${report.as_of}</time></span>`);
  at("caution").textContent = report.caution;
  render(at("head"), headBlock(report, keep));
  at("sheets").hidden = !mayPrint;
  render(at("sheets"), sheetLinks(report));
  at("head").setAttribute("aria-busy", "false");
  render(at("counts"), countsTable(report, keep));
  render(at("sections"), sectionsTable(report, keep));
  render(at("crews"), crewsTable(report, keep));
  const curve = drawCharts("chart-curve", ["curve"]);
  const strip = drawCharts("chart-strip", ["strip"]);
  const times = drawCharts("chart-time", ["time"]);
  render(at("curve"), html`${curve.map((one) => chartBlock(one, "curve-title", curveTable(report)))}`);
  render(at("strip"), html`${strip.map((one) => chartBlock(one, "strip-title", milesTable(report, keep)))}`);
  render(at("times"), html`${times.map((one, k) => chartBlock(one, `time-title-${k}`, ""))}<p class="hint">A mark is the day a step was done at a structure; a box is a hold over its structures, from its first day to its last. The same structures by name are under By crew, the holds under Wire sections.</p>`);
  for (const found of [curve, strip, times]) paint(found);
}

async function show() {
  report = await getProgress(query());
  say("");
  draw();
}

async function showPeriod() {
  const fields = new URLSearchParams();
  for (const name of ["first", "last", "known"]) {
    const value = at("period-days").elements[name].value;
    if (value) fields.set(name === "known" ? "known_by" : name, value);
  }
  const found = await getPeriod(fields);
  render(at("period"), periodBlock(found, keep));
}

function told(work) {
  return work().catch((failure) => {
    say(failure.message);
    at("message").scrollIntoView({ block: "nearest" });
  });
}

function dailyForm() {
  return html`<h3 id="daily-title">Report of a day</h3>
    <form id="period-days" class="days">
      <label>From <input type="date" name="first" required value="${report.as_of}"></label>
      <label>To <input type="date" name="last" value="${report.as_of}"></label>
      <label>As known by the end of <input type="date" name="known"></label>
      <button>Show the report</button>
    </form><div id="period" role="status"></div>`;
}

async function start() {
  const asked = new URLSearchParams(location.search);
  const session = getSession().catch(() => null);
  report = await getProgress(asked);
  mayPrint = (await session)?.role !== "viewer";
  render(at("filter"), daysForm(report));
  render(at("daily"), dailyForm());
  draw();
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-list]");
    if (button) openList(button.dataset.list, button);
  });
  at("filter").addEventListener("submit", (event) => {
    event.preventDefault();
    history.replaceState(null, "", `?${query()}`);
    told(show);
  });
  at("period-days").addEventListener("submit", (event) => {
    event.preventDefault();
    told(showPeriod);
  });
  at("print").addEventListener("click", () => window.print());
  window.addEventListener("beforeprint", () => {
    for (const details of document.querySelectorAll("details")) details.open = true;
  });
  document.documentElement.dataset.ready = "1";
}

restoreTheme();
startTheme(at("theme"), () => {});
start().catch((failure) => say(failure.message));
