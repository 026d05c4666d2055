// The structures in line order: the twin of the map for keyboards, screen readers and quick reading.
// Only the rows in view exist in the page, so 100,000 structures scroll as lightly as 100.

import { caseIcon, holdIcon, stageIcon, verdictIcon } from "../shared/icons.js";
import { HOLD_WORDS, STOPS } from "../shared/marks.js";
import { html, render } from "../shared/html.js";
import { outerPoles } from "../shared/number.js";

const SPARE_ROWS = 8;
const COLUMNS = [
  ["number", "Structure"],
  ["station", "Station"],
  ["stage", "Framing"],
  ["verdict", "Orientation"],
];

const rowId = (i) => `structure-row-${i}`;

function cells(s, i, job) {
  const stage = job.stages[s.stage[i]];
  const verdict = job.verdicts[s.verdict[i]];
  return html`<span role="gridcell" class="cell-number">${s.number[i]}${s.hold[i] > 0 && html`<span class="cell-hold">${holdIcon(s.hold[i])}<span class="visually-hidden">${HOLD_WORDS[s.hold[i]]}</span></span>`}${s.cases[i] > 0 && html`<span class="cell-case">${caseIcon()}<span class="visually-hidden">${s.cases[i]} open case${s.cases[i] > 1 ? "s" : ""}</span></span>`}</span>
    <span role="gridcell" class="cell-station">${s.station_text[i]}</span>
    <span role="gridcell" class="cell-stage">${stageIcon(stage.code)}<span>${stage.words}</span></span>
    <span role="gridcell" class="cell-verdict">${verdictIcon(verdict)}<span>${verdict}${s.reversed[i] === 1 && html`<br><b>${outerPoles(s.poleWordsOf(i), "/")} reversed</b>`}${s.worst[i] === STOPS && html`<br><b>work stops</b>`}</span></span>`;
}

/** Build the list in `element`; `open(row)` is called when a person opens one, `sorted({by, direction})` on a heading. */
function makeList(element, { s, job, open, sorted }) {
  let rows = [];
  let active = -1; // position in rows
  let chosen = -1; // row of s
  let order = { by: "number", direction: 1 };

  render(
    element,
    html`<div class="grid" role="grid" tabindex="0" aria-label="Structures in line order" aria-colcount="4">
      <div class="grid-head" role="row" aria-rowindex="1">${COLUMNS.map(
        ([by, words]) => html`<span role="columnheader" aria-sort="none" data-by="${by}"><button type="button">${words}</button></span>`,
      )}</div>
      <div class="grid-body" role="rowgroup"></div></div>
      <p class="grid-unlisted" hidden></p><p class="grid-none" hidden>No structure matches. Widen the search or the filters.</p>`,
  );
  const grid = element.querySelector(".grid");
  const body = element.querySelector(".grid-body");
  const none = element.querySelector(".grid-none");
  let rowHeight = 0;

  const measure = () => {
    rowHeight = parseFloat(getComputedStyle(element).getPropertyValue("--row-height")) || 48;
  };

  function span() {
    const first = Math.max(0, Math.floor(grid.scrollTop / rowHeight) - SPARE_ROWS);
    const last = Math.min(rows.length, Math.ceil((grid.scrollTop + grid.clientHeight) / rowHeight) + SPARE_ROWS);
    return { first, last };
  }

  function line(position) {
    const i = rows[position];
    return html`<div role="row" id="${rowId(i)}" data-row="${i}" aria-rowindex="${position + 2}" aria-selected="${i === chosen}"
      class="grid-row${position === active ? " active" : ""}">${cells(s, i, job)}</div>`;
  }

  function draw() {
    const { first, last } = span();
    const shown = [];
    for (let position = first; position < last; position += 1) shown.push(line(position));
    body.style.height = `${rows.length * rowHeight}px`;
    body.style.setProperty("--first", `${first * rowHeight}px`);
    render(body, html`${shown}`);
    if (active >= first && active < last) grid.setAttribute("aria-activedescendant", rowId(rows[active]));
    else grid.removeAttribute("aria-activedescendant");
  }

  function reveal(position) {
    const head = grid.querySelector(".grid-head").offsetHeight;
    const top = position * rowHeight;
    const room = grid.clientHeight - head;
    if (top < grid.scrollTop) grid.scrollTop = top;
    else if (top + rowHeight > grid.scrollTop + room) grid.scrollTop = top + rowHeight - room;
  }

  function activate(position) {
    if (!rows.length) return;
    active = Math.max(0, Math.min(rows.length - 1, position));
    reveal(active);
    draw();
  }

  const page = () => Math.max(1, Math.floor(grid.clientHeight / rowHeight) - 1);
  const KEYS = {
    ArrowDown: () => activate(active + 1),
    ArrowUp: () => activate(Math.max(0, active - 1)),
    PageDown: () => activate(active + page()),
    PageUp: () => activate(active - page()),
    Home: () => activate(0),
    End: () => activate(rows.length - 1),
    Enter: () => active >= 0 && open(rows[active]),
    " ": () => active >= 0 && open(rows[active]),
  };

  grid.addEventListener("keydown", (event) => {
    const act = KEYS[event.key];
    if (!act || event.target !== grid || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    act();
  });
  grid.addEventListener("scroll", draw, { passive: true });
  // only for keys: drawing rows anew between press and release would take the row away from under a click
  grid.addEventListener("focus", () => active < 0 && grid.matches(":focus-visible") && activate(0));
  body.addEventListener("click", (event) => {
    const row = event.target.closest("[data-row]");
    if (row) open(Number(row.dataset.row));
  });
  grid.querySelector(".grid-head").addEventListener("click", (event) => {
    const heading = event.target.closest("[data-by]");
    if (!heading) return;
    const { by } = heading.dataset;
    order = { by, direction: order.by === by ? -order.direction : 1 };
    for (const other of grid.querySelectorAll("[data-by]")) other.setAttribute("aria-sort", "none");
    heading.setAttribute("aria-sort", order.direction > 0 ? "ascending" : "descending");
    sorted(order);
  });
  new ResizeObserver(() => {
    measure();
    draw();
  }).observe(grid);
  measure();

  return {
    /** Show these rows of the structures, in this order. */
    show(given) {
      rows = given;
      active = rows.indexOf(chosen);
      grid.setAttribute("aria-rowcount", String(rows.length + 1));
      none.hidden = rows.length > 0;
      if (active >= 0) reveal(active);
      else grid.scrollTop = 0;
      draw();
    },
    /** Mark the opened structure and bring it into view. */
    choose(row) {
      chosen = row;
      active = rows.indexOf(row);
      if (active >= 0) reveal(active);
      draw();
    },
    /** Name the structures with open cases that no list has any more. */
    tellUnlisted(numbers) {
      const place = element.querySelector(".grid-unlisted");
      place.hidden = !numbers.length;
      render(place, html`${caseIcon()} In no list, with records: <a href="/progress#cases">${numbers.join(", ")}</a>`);
    },
    focus: () => grid.focus(),
  };
}

export { makeList };
