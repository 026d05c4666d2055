// Holds on a card, as sentences.

import { html } from "../shared/html.js";

/** One hold as a block; with the place of its release, which shows only for whom it names. */
const holdBlock = (hold, release = false) => html`<p class="hold ${hold.kind}">
  <b>${hold.kind === "hold" ? "HOLD" : "CONDITION"}</b> ${hold.sentence}</p>${release ? html`<div data-hold="${hold.id}" hidden></div>` : ""}`;

export { holdBlock };
