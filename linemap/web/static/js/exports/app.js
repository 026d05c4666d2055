// The page of files and sheets: a choice of structures, and everything that can be taken of it.

import { html, render } from "../shared/html.js";
import { at, soon, startPage } from "../shared/page.js";
import { getSelection, getSession } from "../shared/office_api.js";
import { getJob } from "../shared/api.js";

/**
 * What can be taken: heading, what it is for, and each file with its address and what it is.
 * @type {[string, string, [string, string, string?][]][]}
 */
const TAKES = [
  ["Tables and maps", "One row a structure: stations, spans, turns, design and as-set positions, verdicts.", [
    ["Excel workbook", "/api/exports/xlsx"], ["CSV", "/api/exports/csv"], ["GeoJSON, WGS 84", "/api/exports/geojson"],
    ["GeoPackage, grid", "/api/exports/gpkg"], ["GeoParquet, grid", "/api/exports/parquet"],
  ]],
  ["One page for the road", "The map, its list and every structure in one file that opens without a network; always the whole job.", [["Snapshot", "/api/exports/snapshot", "whole"]]],
  ["Stake-out", "Design centres, poles, offset stakes and anchor hubs. Hubs are named so that none passes for a pole.", [
    ["Points, P,N,E,Z,D", "/api/stakeout.csv?order=pnezd"], ["Points, P,E,N,Z,D", "/api/stakeout.csv?order=penzd"], ["Staking table, Excel", "/api/stakeout.xlsx"], ["Staking table, PDF", "/api/sheets/staking.pdf", "sheet"],
  ]],
  ["Red marks", "Design, as set and difference of each structure, with causes and the shots used; the decisions are those of the whole job.", [
    ["Red marks, Excel", "/api/red-marks.xlsx"], ["Red marks, PDF", "/api/red-marks.pdf", "sheet"],
  ]],
  ["Sheets to print", "Made as a crew may see the job, since paper goes from hand to hand.", [
    ["Structure cards", "/api/sheets/card.pdf", "sheet"], ["Job briefings", "/api/sheets/briefing.pdf", "sheet"], ["Framing marks", "/api/sheets/marks.pdf", "sheet"],
    ["Exceptions by crew", "/api/sheets/exceptions.pdf", "sheet"], ["Plan and profile", "/api/sheets/strip.pdf", "sheet"],
    ["Progress strip", "/api/sheets/wall.pdf", "sheet"], ["Progress report", "/api/sheets/report.pdf", "sheet"], ["Records by section", "/api/sheets/closeout.pdf", "sheet"],
  ]],
];
const READERS = [["crew", "crews: no nests, cultural sites, gate codes, owners"], ["public", "anybody: no names of people either"], ["owner", "the owner: everything"]];

/**
 * @param {Answer.Job} job
 * @param {Answer.Session} session
 */
function choiceForm(job, session) {
  // a file holds no more than is shown to whoever takes it
  const readers = READERS.filter(([value]) => value !== "owner" || (session.role === "manager" && !session.local));
  const lines = job.lines.length > 1 && html`<label>Line<select name="line"><option value="">all lines</option>${job.lines.map((line) => html`<option>${line.name}</option>`)}</select></label>`;
  return html`${lines}<label>From structure<input name="from" maxlength="40" autocomplete="off" placeholder="first of the line"></label>
    <label>To structure<input name="to" maxlength="40" autocomplete="off" placeholder="last of the line"></label>
    <label>Only these, parted by commas<input name="structures" maxlength="2000" autocomplete="off" placeholder="9/2, 9/4"></label>
    <label>Mile<input name="mile" inputmode="numeric" maxlength="6" autocomplete="off"></label>
    <label>Where this crew recorded<input name="crew" maxlength="200" autocomplete="off"></label>
    <label>As of the end of<input name="as_of" type="date"></label>
    <label>As known by the end of<input name="known_by" type="date"></label>
    <label>Who will read files<select name="for">${readers.map(([value, words]) => html`<option value="${value}">${words}</option>`)}</select></label>
    <label>Paper<select name="paper"><option value="letter">letter</option><option value="a4">A4</option></select></label>
    <div class="answers"><button type="reset">Choose everything</button></div>`;
}

/** The choice as the server takes it. */
function asked(form) {
  const query = new URLSearchParams();
  for (const [name, value] of new FormData(form)) {
    const text = String(value).trim();
    if (name === "structures") for (const number of text.split(",").map((each) => each.trim()).filter(Boolean)) query.append(name, number);
    else if (text) query.set(name, text);
  }
  return query;
}

/** @param {[string, string, string?]} take */
function link([words, address, kind = ""], choice) {
  const query = new URLSearchParams(kind === "whole" ? [] : choice);
  if (kind === "whole") for (const name of ["as_of", "known_by", "for"]) if (choice.has(name)) query.set(name, choice.get(name));
  query.delete("paper");
  if (kind === "sheet") query.set("paper", choice.get("paper") ?? "letter");
  if (!address.includes("/exports/")) query.delete("for");
  const more = query.size ? `${address.includes("?") ? "&" : "?"}${query}` : "";
  const shown = kind === "sheet" && html`target="_blank" rel="noopener"`;
  return html`<a class="button" href="${address}${more}" ${shown || html`download`}>${words}</a>`;
}

class ExportsPage {
  turn = 0;

  draw(choice) {
    render(at("takes"), html`${TAKES.map(([title, words, takes], i) => html`<section class="file" aria-labelledby="take-${i}"><h3 id="take-${i}">${title}</h3><p>${words}</p><p class="takes">${takes.map((take) => link(take, choice))}</p></section>`)}`);
    at("takes").setAttribute("aria-busy", "false");
  }

  /** Ask how many are chosen; what cannot be chosen is said, and nothing can be taken then. */
  async count() {
    const turn = (this.turn += 1);
    const choice = asked(at("choice"));
    const query = new URLSearchParams(choice);
    for (const name of ["paper", "for"]) query.delete(name);
    let said;
    let good = true;
    try {
      said = (await getSelection(query)).words;
    } catch (failure) {
      said = failure.message;
      good = false;
    }
    if (turn !== this.turn) return;
    at("chosen").textContent = said;
    at("chosen").toggleAttribute("data-wrong", !good);
    if (good) this.draw(choice);
    else render(at("takes"), html`<p class="nothing">Choose other structures: nothing can be taken of these.</p>`);
  }

  async start() {
    const [job, session] = await Promise.all([getJob(), getSession()]);
    render(at("choice"), choiceForm(job, session));
    await this.count();
    const count = soon(() => this.count());
    at("choice").addEventListener("input", count);
    at("choice").addEventListener("reset", count);
    at("choice").addEventListener("submit", (event) => event.preventDefault());
  }
}

const page = new ExportsPage();
void startPage(() => page.start());
