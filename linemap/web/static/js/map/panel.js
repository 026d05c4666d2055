// Everything of one structure, in the order a person at the pole asks for it.

import { isSnapshot } from "../shared/api.js";
import { reversedIcon, stageIcon, verdictIcon } from "../shared/icons.js";
import { offerFacts } from "./fact_form.js";
import { caseItem } from "../shared/cases.js";
import { offerCases, offerMove } from "../shared/case_forms.js";
import { offerReleases } from "../shared/hold_release.js";
import { html, render, renderSvg } from "../shared/html.js";
import { outerPoles, poleName } from "../shared/number.js";

const section = (title, content) => content && html`<section><h3>${title}</h3>${content}</section>`;

const facts = (pairs) =>
  html`<dl class="facts">${pairs
    .filter(([, value]) => value !== null && value !== undefined && value !== "")
    .map(([name, value]) => html`<div><dt>${name}</dt><dd>${value}</dd></div>`)}</dl>`;

const sentences = (items, kind = "") => items.length > 0 && html`<ul class="sentences ${kind}">${items.map((text) => html`<li>${text}</li>`)}</ul>`;

function table(heads, rows, caption) {
  if (!rows.length) return null;
  return html`<div class="wide" tabindex="0" role="region" aria-label="${caption}"><table><thead><tr>${heads.map((head) => html`<th scope="col">${head}</th>`)}</tr></thead>
    <tbody>${rows.map(([first, ...rest]) => html`<tr>${first ? html`<th scope="row">${first}</th>` : html`<td>–</td>`}${rest.map((value) => html`<td>${value}</td>`)}</tr>`)}</tbody></table></div>`;
}

/** A probability is never printed as 0 or 100 %. */
function percent(share) {
  if (share < 0.001) return "less than 0.1 %";
  if (share > 0.999) return "more than 99.9 %";
  return `${(share * 100).toFixed(share < 0.01 || share > 0.99 ? 1 : 0)} %`;
}

/** @param {Answer.Panel} d */
function verdict(d) {
  const sure = typeof d.probability === "number" ? `probability within tolerance: ${percent(d.probability)}` : "";
  return html`<div class="verdict">${verdictIcon(d.verdict)}<div><b class="verdict-word">${d.verdict}</b>
      ${d.reversed && html`<span class="reversed">${reversedIcon()} ${outerPoles(d.pole_words)} the other way round</span>`}
      ${sure && html`<small>${sure}</small>`}</div></div>
    ${d.held && html`<p class="held">held ${d.held}</p>`}
    ${sentences(d.residuals)}`;
}

/** @param {Answer.Panel} d */
const cause = (d) =>
  d.cause && html`<div class="cause"><p>${d.cause.words}</p><p><small>ask for</small> ${d.cause.asks_for}</p><p><small>cheapest moment</small> ${d.cause.moment}</p></div>`;

/** @param {Answer.Panel} d */
const secondEvidence = (d) =>
  d.second_evidence &&
  html`<div class="cause"><p><b>${d.second_evidence.conclusion}</b>: ${d.second_evidence.words}</p>${sentences(d.second_evidence.reasons)}
    ${d.second_evidence.asks_for && html`<p><small>ask for</small> ${d.second_evidence.asks_for}</p>`}</div>`;

/** @param {Answer.Panel} d */
const plumb = (d) =>
  table(
    ["measured", "verdict", "in words", "tolerance", "seen by"],
    (d.plumb ?? []).map((row) => [row.what, row.verdict, html`${row.words}<small>${row.sigma_text}</small>`, html`${row.tolerance_text}<small>${row.tolerance_source}</small>`, row.seen]),
    "Plumb and arm level",
  );

/** @param {Answer.Panel} d */
const anchors = (d) => {
  const all = d.anchors ?? [];
  if (!all.length) return null;
  const [{ tolerance_text: limits, tolerance_source: source }] = all;
  return html`<ul class="sentences">${all.map((row) => html`<li><b>${row.label}</b> (${row.guy}): ${row.wanted}<br><b>${row.verdict}</b>${row.words.map((words) => html`<br>${words}`)}</li>`)}</ul>
    <p><small>tolerance ${limits}: ${source}</small></p>`;
};

/** @param {Answer.Panel} d */
const measures = (d) =>
  table(
    ["residual", "value", "± 1 σ", "tolerance"],
    d.numbers.map((row) => [row.name, row.value_text, row.sigma_text, html`${row.tolerance_text}<small>${row.tolerance_source}</small>`]),
    "Residuals with tolerances",
  );

const neighbour = (number, span, words) =>
  number && html`<button type="button" class="neighbour" data-open="${number}"><small>${words}</small><b>${number}</b><span>${span}</span></button>`;

/** @param {Answer.Panel} d */
const poles = (d) =>
  table(
    ["Pole", "length", "class", "ground", "ground wire"],
    d.poles.map((pole) => [poleName(d, pole.letter), pole.length_text, pole.pole_class, pole.ground_text, pole.ground_wire === true ? "yes" : pole.ground_wire === false ? "no" : pole.ground_wire]),
    "Poles",
  );

/** A length as it is marked on wood, on one line: half a length reads as another one. */
const whole = (text) => html`<span class="whole">${text}</span>`;

/** Depth, brand and marks of each pole; what is not available stands with its reason. */
/** @param {Answer.Panel} d */
const marks = (d) =>
  d.marks &&
  html`${sentences(d.marks.sentences)}
    ${d.marks.poles.map((pole) => html`<h4>Pole ${poleName(d, pole.letter)}: ${pole.length_text}, ${pole.depth_text} deep (${whole(pole.depth_wood)})</h4>
      ${table(
        ["mark", "from the top", "from the butt", "drawing"],
        pole.marks.map((mark) => [mark.name, html`${whole(mark.drop_wood)}<small>${mark.drop_text}</small>`, html`${whole(mark.butt_wood)}<small>${mark.butt_text}</small>`, mark.drawing]),
        `Marks of pole ${poleName(d, pole.letter)}`,
      )}`)}
    ${sentences(d.marks.unavailable.map((reason) => `not available: ${reason}`), "findings")}
    ${d.marks.bundle.length > 0 && html`<p><small>bundle</small> ${d.marks.bundle.join(", ")}</p>`}
    ${sentences(d.marks.material)}
    <p class="caution">${d.marks.caution}</p>`;

/** How a step stands, with the guys or the span it is of. */
function stepState(step) {
  const [parts, done] = [step.parts ?? [], step.parts_done ?? []];
  if (step.done) return `recorded ${step.when ?? ""}${parts.length ? ` for ${parts.join(", ")}` : ""}`;
  if (done.length) return `recorded for ${done.join(", ")} only, of ${parts.join(", ")}`;
  return parts.length ? `not recorded for ${parts.join(", ")}` : "not recorded";
}

/** @param {Answer.Panel} d */
const steps = (d) =>
  d.steps.length > 0 &&
  html`<ol class="steps">${d.steps.map(
    (step) => html`<li class="${step.done ? "done" : "open"}"><b>${step.words}</b> <span>${stepState(step)}</span>
      ${step.done && step.crew && html`<span>${step.crew}</span>`}${step.note && html`<em>${step.note}</em>`}</li>`,
  )}</ol>`;

/** @param {Answer.Panel} d */
const holds = (d) =>
  d.holds.length > 0 &&
  html`<ul class="sentences holds">${d.holds.map((hold) => html`<li><b>${hold.kind}</b> ${hold.sentence}<div data-hold="${hold.id}" hidden></div></li>`)}</ul>`;

/** @param {Answer.Panel} d */
const lookFirst = (d) =>
  d.look_first.length > 0 &&
  html`<ul class="sentences holds">${d.look_first.map((found) => html`<li><b>${found.severity}</b> ${found.words}</li>`)}</ul>`;

/** @param {Answer.Panel} d */
const cases = (d) => d.cases.length > 0 && html`<ul class="plain cases">${d.cases.map((found) => caseItem(found))}</ul>`;

/** Findings that are no case: those stand by themselves. */
/** @param {Answer.Panel} d */
const findings = (d) => d.findings.filter((words) => !d.cases.some((found) => found.words === words));

/** @param {Answer.Panel} d */
const lists = (d) =>
  (d.lists ?? []).length > 0 &&
  html`<ul class="sentences">${d.lists.map((item) => html`<li>${item.name}: ${item.fields.map((field) => `${field.label} ${field.text}`).join(", ")}</li>`)}</ul>`;

/** Items of the punch list, open ones first, each with every entry. */
/** @param {Answer.Panel} d */
const punch = (d) =>
  (d.punch ?? []).length > 0 &&
  html`<ul class="sentences">${d.punch.map((item) => html`<li><b>${item.overdue ? "open, past its day" : item.open ? "open" : "closed"}</b> ${item.sentence}${item.finding && html` <b>${item.finding}</b>`}<details><summary>${item.history.length} entr${item.history.length === 1 ? "y" : "ies"}</summary><ol class="history">${item.history.map((words) => html`<li>${words}</li>`)}</ol></details></li>`)}</ul>`;

/** @param {Answer.Panel} d */
const crossings = (d) =>
  (d.crossings ?? []).length > 0 &&
  html`<ul class="sentences">${d.crossings.map((item) => html`<li>${item.what}, span ${item.span}${item.caution && html` <b>${item.caution}</b>`}${item.rule && html`<br>${item.rule}`}</li>`)}</ul>`;

/** @param {Answer.Panel} d */
const crewChecks = (d) =>
  (d.crew_checks ?? []).length > 0 &&
  html`<ul class="sentences">${d.crew_checks.map((check) => html`<li>${check.words}${check.survey && html`<br>${check.survey}`}</li>`)}</ul>`;

/** @param {Answer.Panel} d */
const shots = (d) =>
  table(
    ["Pole", "point", "east", "north", "± σ", "file, row"],
    d.shots.map((shot) => [poleName(d, shot.pole), shot.point, shot.east_text, shot.north_text, shot.sigma_text, `${shot.file}, ${shot.row}`]),
    "Survey shots",
  );

/** Shots that a correction moved: as observed, what was added, as they count above. */
/** @param {Answer.Panel} d */
function corrected(d) {
  const moved = d.shots.filter((shot) => shot.correction_text);
  if (!moved.length) return null;
  return html`${table(
    ["Pole", "point", "observed east", "observed north", "correction", "east", "north"],
    moved.map((shot) => [poleName(d, shot.pole), shot.point, shot.observed_east_text, shot.observed_north_text, shot.correction_text, shot.east_text, shot.north_text]),
    "Observed, correction, corrected",
  )}${sentences([...new Set(moved.map((shot) => shot.note))])}`;
}

/** @param {Answer.Panel} d */
const history = (d) => d.history.length > 0 && html`<ol class="history">${d.history.map((item) => html`<li><time>${item.when}</time> ${item.text}</li>`)}</ol>`;

/**
 * @param {Answer.Panel} d
 * @param {Answer.Stage} stage
 */
function body(d, stage) {
  return html`<div class="panel-scroll" tabindex="0" role="region" aria-label="Structure ${d.number} in full">
    <header class="panel-head"><p class="panel-line">${d.line}</p><h2 tabindex="-1">${d.number}</h2>
      <p class="panel-station">${d.station_text}${(d.region ?? 1) > 1 && html` <small>region ${d.region}</small>`}</p>
      <p class="panel-type">${d.type} <span>${d.type_words}</span></p>
      <p class="panel-stage">${stageIcon(stage.code)}<span>${stage.words}</span></p></header>
    ${section("Holds", holds(d))}
    ${section("Look first", lookFirst(d))}
    ${section("Cases", cases(d))}
    ${section(`Which pole is ${d.pole_words[0]}`, html`<p class="landmark">${d.landmark}</p><figure class="sketch"></figure>`)}
    <nav class="neighbours" aria-label="Neighbouring structures">${neighbour(d.back, d.back_span_text, "back")}${neighbour(d.ahead, d.ahead_span_text, "ahead")}</nav>
    ${section("Orientation as set", verdict(d))}
    ${section("Crew checks, no survey", crewChecks(d))}
    ${section("Likely cause, to be decided by the surveyor", cause(d))}
    ${section("Second evidence", secondEvidence(d))}
    ${measures(d)}
    ${section("Plumb and arm level", plumb(d))}
    ${section("Anchors and guys", anchors(d))}
    <section class="record-fact-place" hidden></section>
    ${section("Findings", sentences(findings(d), "findings"))}
    ${section("Punch list", punch(d))}
    ${section("Changed by a revision", sentences(d.changes ?? []))}
    ${section("Crossings in the spans", crossings(d))}
    ${section("Lists", lists(d))}
    ${section("Poles", poles(d))}
    ${section("Framing marks", marks(d))}
    ${section("Steps", steps(d))}
    ${section(
      "Position",
      facts([
        ["True distance", d.true_distance_text],
        ["Offset", d.offset_text],
        ["Line angle", d.deflection_text],
        ["Structure azimuth", d.structure_azimuth_text],
        [`Arm azimuth, ${outerPoles(d.pole_words, " to ")}`, d.arm_azimuth_text],
        ["Arm by compass", d.arm_magnetic_text],
        ["Span ahead", d.ahead_lengths_text],
        ["Wind span", d.wind_span_text],
        ["Weight span", d.weight_span_text],
        ["Ruling span", d.ruling_span_text],
        ["Grid", d.coordinates.grid],
        ["Longitude, latitude", d.coordinates.lonlat],
      ]),
    )}
    ${section("Help and hospitals", sentences(d.help ?? []))}
    ${section("Survey shots", shots(d))}
    ${section("Shots assigned or set aside", sentences(d.said_of_shots ?? []))}
    ${section("Observed, correction, corrected", corrected(d))}
    ${section("Remarks", d.remarks && html`<p>${d.remarks}</p>`)}
    ${section("History", history(d))}<div class="move-record"></div></div>
    <p class="caution">${d.caution}</p>`;
}

/** What a person who records something here need not write. */
const about = (d) => ({
  line: d.line,
  structure: d.number,
  poles: d.pole_words.map((word, at) => ["ABC"[at], word]),
  unit: d.marks.unit,
  day: document.querySelector("#facts time")?.textContent ?? "",
});

/** Panel of one structure in `element`; `open(number)` follows a neighbour, `close()` goes back to the list. */
function makePanel(element, { open, close }) {
  render(
    element,
    html`<div class="panel-bar"><button type="button" class="panel-close">Back to the list</button></div><div class="panel-body"></div>`,
  );
  const content = element.querySelector(".panel-body");
  element.querySelector(".panel-close").addEventListener("click", close);
  content.addEventListener("click", (event) => {
    const button = event.target.closest("[data-open]");
    if (button) open(button.dataset.open);
  });
  element.addEventListener("keydown", (event) => event.key === "Escape" && close());

  return {
    show(detail, stage, { focus }) {
      render(content, body(detail, stage));
      renderSvg(content.querySelector(".sketch"), detail.sketch_svg);
      element.hidden = false;
      content.dataset.shown = detail.number;
      if (focus) content.querySelector("h2").focus();
      if (isSnapshot()) return;
      void offerReleases(content);
      void offerCases(content, () => open(detail.number));
      void offerMove(content.querySelector(".move-record"), detail, open);
      void offerFacts(content.querySelector(".record-fact-place"), about(detail), () => open(detail.number));
    },
    wait(number, caution) {
      delete content.dataset.shown;
      element.hidden = false;
      render(content, html`<div class="panel-scroll"><header class="panel-head"><h2>${number}</h2></header></div><p class="caution">${caution}</p>`);
    },
    refuse(message, caution) {
      element.hidden = false;
      render(content, html`<div class="panel-scroll"><p class="refusal" role="alert">${message}</p></div><p class="caution">${caution}</p>`);
    },
    hide() {
      element.hidden = true;
      delete content.dataset.shown;
      render(content, html``);
    },
  };
}

export { makePanel };
