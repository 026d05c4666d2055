// The page of progress: numbers that open the lists behind them, charts with their tables, the report of a day.

import { offerCases, offerMove } from "../shared/case_forms.js";
import { html, render, renderSvg } from "../shared/html.js";
import { writeLink } from "../shared/link.js";
import { at, say, sayInSight, startPage } from "../shared/page.js";
import { caseSection, chartBlock, countsTable, crewChecksTable, crewsTable, curveTable, daysForm, headBlock, milesTable, periodBlock, sectionsTable, sheetLinks } from "./parts.js";
import { closeoutBlock } from "./closeout.js";
import { getCloseout, getPeriod, getProgress, getSession } from "../shared/office_api.js";

class ProgressPage {
  lists = new Map(); // key on a button -> {title, places}
  /** @type {Answer.Progress} */
  report = /** @type {any} */ (null); // until the first answer
  by = "section"; // columns of what the records hold and lack
  mayPrint = true; // sheets are for those who record; a viewer is not offered what would be refused

  /** Keep a list for its number and return the key of the button that opens it. */
  keep = (title, places) => {
    const key = String(this.lists.size);
    this.lists.set(key, { title, places });
    return key;
  };

  query() {
    const fields = new URLSearchParams();
    for (const name of ["as_of", "known_by", "line"]) {
      const value = at("filter").elements[name]?.value ?? "";
      if (value) fields.set(name, value);
    }
    return fields;
  }

  openList(key, opener) {
    const { title, places } = this.lists.get(key);
    const several = this.report.lines.length > 1;
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

  drawCharts(where, keys) {
    const charts = this.report.charts.filter((chart) => keys.includes(chart.key));
    return charts.map((chart, place) => {
      const id = `${where}-${place}`;
      return { chart, id };
    });
  }

  paint(found) {
    for (const { chart, id } of found) {
      if (chart.why) continue;
      renderSvg(at(`${id}-wide`), chart.wide);
      renderSvg(at(`${id}-narrow`), chart.narrow);
    }
  }

  draw() {
    this.lists.clear();
    render(at("facts"), html`<span class="as-of">as of <time>${this.report.as_of}</time></span>`);
    at("caution").textContent = this.report.caution;
    render(at("head"), headBlock(this.report, this.keep));
    at("sheets").hidden = !this.mayPrint;
    render(at("sheets"), sheetLinks(this.report));
    at("cases").hidden = !this.report.cases.length;
    render(at("cases"), caseSection(this.report));
    const again = () => void this.orSay(() => this.show());
    void offerCases(at("cases"), again);
    for (const found of this.report.cases) {
      const place = at("cases").querySelector(`[data-of="${found.id}"]`);
      if (place) void offerMove(place, { ...found, history: found.records.map(({ id, when, words }) => ({ id, when, text: words, movable: true })) }, again);
    }
    at("head").setAttribute("aria-busy", "false");
    render(at("counts"), countsTable(this.report, this.keep));
    render(at("sections"), sectionsTable(this.report, this.keep));
    render(at("crews"), html`${crewsTable(this.report, this.keep)}${crewChecksTable(this.report, this.keep)}`);
    const curve = this.drawCharts("chart-curve", ["curve"]);
    const strip = this.drawCharts("chart-strip", ["strip"]);
    const times = this.drawCharts("chart-time", ["time"]);
    render(at("curve"), html`${curve.map((one) => chartBlock(one, "curve-title", curveTable(this.report)))}`);
    render(at("strip"), html`${strip.map((one) => chartBlock(one, "strip-title", milesTable(this.report, this.keep)))}`);
    render(at("times"), html`${times.map((one, k) => chartBlock(one, `time-title-${k}`, ""))}<p class="hint">A mark is the day a step was done at a structure; a box is a hold over its structures, from its first day to its last. The same structures by name are under By crew, the holds under Wire sections.</p>`);
    for (const found of [curve, strip, times]) this.paint(found);
    at("closeout").hidden = !this.mayPrint;
    if (this.mayPrint) void this.orSay(() => this.showCloseout(this.by));
  }

  /** What the records hold and lack, by wire section or by mile; a viewer is not shown it. */
  async showCloseout(by) {
    const asked = this.query();
    const found = await getCloseout(new URLSearchParams([...asked, ["by", by]]));
    this.by = by;
    render(at("closeout"), closeoutBlock(found, this.keep, asked));
  }

  async show() {
    this.report = await getProgress(this.query());
    say("");
    this.draw();
  }

  async showPeriod() {
    const fields = new URLSearchParams();
    for (const name of ["first", "last", "known"]) {
      const value = at("period-days").elements[name].value;
      if (value) fields.set(name === "known" ? "known_by" : name, value);
    }
    const found = await getPeriod(fields);
    render(at("period"), periodBlock(found, this.keep));
  }

  orSay(work) {
    return work().catch((failure) => sayInSight(failure.message));
  }

  dailyForm() {
    return html`<h3 id="daily-title">Report of a day</h3>
      <form id="period-days" class="days">
        <label>From <input type="date" name="first" required value="${this.report.as_of}"></label>
        <label>To <input type="date" name="last" value="${this.report.as_of}"></label>
        <label>As known by the end of <input type="date" name="known"></label>
        <button>Show the report</button>
      </form><div id="period" role="status"></div>`;
  }

  async start() {
    const asked = new URLSearchParams(location.search);
    const session = getSession().catch(() => null);
    this.report = await getProgress(asked);
    this.mayPrint = (await session)?.role !== "viewer";
    render(at("filter"), daysForm(this.report));
    render(at("daily"), this.dailyForm());
    this.draw();
    document.addEventListener("click", ({ target }) => {
      const button = /** @type {Element} */ (target).closest("button[data-list]");
      if (button) this.openList(button.dataset.list, button);
      const turn = /** @type {HTMLElement | null} */ (/** @type {Element} */ (target).closest("button[data-by]"));
      if (turn) this.orSay(() => this.showCloseout(turn.dataset.by).then(() => at("closeout").querySelector("[data-by]").focus()));
    });
    at("filter").addEventListener("submit", (event) => {
      event.preventDefault();
      history.replaceState(null, "", `?${this.query()}`);
      this.orSay(() => this.show());
    });
    at("period-days").addEventListener("submit", (event) => {
      event.preventDefault();
      this.orSay(() => this.showPeriod());
    });
    window.addEventListener("beforeprint", () => {
      for (const details of document.querySelectorAll("details")) details.open = true;
    });
  }
}

const page = new ProgressPage();
void startPage(() => page.start());
