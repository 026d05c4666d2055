// What the signs mean, with how many structures carry each.

import { caseIcon, holdIcon, reversedIcon, stageIcon, verdictIcon, wrongIcon } from "../shared/icons.js";
import { WRONG } from "../shared/marks.js";
import { html, render } from "../shared/html.js";
import { outerPoles, wordsOfPoles } from "../shared/number.js";

const VERDICT_NOTES = {
  pass: "within tolerance",
  fail: "outside tolerance",
  "cannot tell": "survey does not decide",
  "not surveyed": "no shots",
};

/**
 * @param {any} sign
 * @param {string} words
 * @param {{ note?: string, count?: number }} [more]
 */
function row(sign, words, { note = "", count } = {}) {
  return html`<li><span class="legend-sign">${sign}</span><span>${words}${note && html` <small>${note}</small>`}</span>
    <span class="legend-count">${count ?? ""}</span></li>`;
}

function tally(values, wanted) {
  let total = 0;
  for (const value of values) if (value === wanted) total += 1;
  return total;
}

/** Fill the legend from the job and the structures. */
function fillLegend(element, job, s) {
  const stages = job.stages.map(({ code, words }, i) => row(stageIcon(code), words, { count: tally(s.stage, i) }));
  const verdicts = job.verdicts.map((word, i) =>
    row(verdictIcon(word), word, { note: VERDICT_NOTES[word], count: tally(s.verdict, i) }),
  );
  const holds = [2, 1].map((kind) =>
    row(holdIcon(kind), kind === 2 ? "hold" : "hold with a condition", { count: tally(s.hold, kind) }),
  );
  render(
    element,
    html`<p>Far out, each bar is a structure: the longer, the more is built. A triangle beside
      it: something is wrong there, or a case is open. A square on the other side: a hold.</p><section><h2>Framing, at the middle of the arm</h2><ul class="plain">${stages}</ul></section>
      <section><h2>Orientation, at the ends of the arm</h2><ul class="plain">${verdicts}
      ${row(reversedIcon(), `${outerPoles(wordsOfPoles(job, 2))} the other way round`, { count: tally(s.reversed, 1) })}</ul></section>
      <section><h2>Beside the structure</h2><ul class="plain">${row(wrongIcon(), "something is wrong, or stops work", { count: s.worst.reduce((sum, worst) => sum + (worst >= WRONG), 0) })}${row(caseIcon(), "open case", { note: "recorded against something", count: s.cases.reduce((sum, open) => sum + (open > 0), 0) })}${holds}</ul></section>`,
  );
}

export { fillLegend };
