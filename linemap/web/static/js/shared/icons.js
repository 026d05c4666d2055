// The signs of marks.js as small inline SVG for lists, legend and panel. Colours come from the style sheet.

import { html } from "./html.js";
import { CASE_SHAPE, HOLD_SHAPES, REVERSED_SHAPE, WRONG_SHAPE, stageShape, VERDICT_SHAPES } from "./marks.js";

const SLUG = { "cannot tell": "cannot-tell", "not surveyed": "not-surveyed" };

function paths(shape) {
  return html`${shape.solid && html`<path class="solid" fill-rule="evenodd" d="${shape.solid}"/>`}${shape.line &&
  html`<path class="line" stroke-width="${shape.width}" d="${shape.line}"/>`}`;
}

function icon(name, content, { width = 18 } = {}) {
  const box = `${-width / 2} -9 ${width} 18`;
  return html`<svg class="sign sign-${name}" viewBox="${box}" width="${width}" height="18" aria-hidden="true">${content}</svg>`;
}

const stageIcon = (code) => icon(code, paths(stageShape(code)));

/** The whole arm with its end marks, as on the map. */
function verdictIcon(verdict) {
  const shape = VERDICT_SHAPES[verdict];
  const arm = html`<path class="arm" d="M-9 0H9"/>`;
  const ends = html`<g transform="translate(9 0)">${paths(shape)}</g><g transform="translate(-9 0) rotate(180)">${paths(shape)}</g>`;
  return icon(SLUG[verdict] ?? verdict, html`${arm}${ends}`, { width: 38 });
}

const reversedIcon = () => icon("reversed", paths(REVERSED_SHAPE), { width: 20 });
const wrongIcon = () => icon("wrong", paths(WRONG_SHAPE), { width: 20 });

const caseIcon = () => icon("case", paths(CASE_SHAPE));

const holdIcon = (kind) => (kind ? icon(kind === 2 ? "hold" : "condition", paths(HOLD_SHAPES[kind])) : "");

export { icon, paths, stageIcon, verdictIcon, reversedIcon, wrongIcon, caseIcon, holdIcon };
