// The signs of a proposal's map, on canvas and in its legend: what is moved, added, removed, renumbered.

import { html } from "../shared/html.js";
import { icon, paths } from "../shared/icons.js";
import { HOLD_SHAPES, ring } from "../shared/marks.js";

/** Path data about (0, 0) by what becomes of a place; `before` marks where a moved one was. */
const CHANGE_SHAPES = {
  "": { line: ring(2.5), solid: "", width: 1.5 },
  before: { line: ring(4.5), solid: "", width: 2 },
  moved: { line: "", solid: ring(4), width: 0 },
  added: { line: `${ring(7)}M-4 0H4M0-4V4`, solid: "", width: 2.2 },
  removed: { line: "M-6.5-6.5L6.5 6.5M6.5-6.5L-6.5 6.5", solid: "", width: 3 },
  renumbered: { line: "M-5.5-5.5H5.5V5.5H-5.5Z", solid: ring(2), width: 2 },
};
const [, , HOLD_SHAPE] = HOLD_SHAPES;
/** What becomes of a hold, drawn over its badge. */
const HELD_SHAPES = {
  added: { line: ring(11), solid: "", width: 2.5 },
  removed: { line: "M-11-11L11 11M11-11L-11 11", solid: "", width: 3 },
};
/** An arrow from (-8, 0) to (8, 0). */
const ARROW = { line: "M-8 0H6M1-4.5L7 0L1 4.5", solid: "", width: 2 };

const changeIcon = (change) => icon(change || "none", paths(CHANGE_SHAPES[change]));
const movedIcon = () => icon("moved", paths(ARROW), { width: 22 });
const heldIcon = (change) => icon("held", html`<g class="sign-hold">${paths(HOLD_SHAPE)}</g>${change && paths(HELD_SHAPES[change])}`, { width: 24 });

export { CHANGE_SHAPES, HELD_SHAPES, HOLD_SHAPE, changeIcon, movedIcon, heldIcon };
