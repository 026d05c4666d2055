// The release of a hold, on the hold itself, for the person it names: asks what shows that it is over, and signs.

import { html, render } from "./html.js";
import { signature } from "./person.js";
import { ask } from "./request.js";

const PATIENCE_MS = 8000;

function form(hold, session) {
  return html`<details class="release"><summary>Release hold ${hold.id}</summary>
    <form data-release="${hold.id}"><p>Only ${hold.release_by || "the manager"} releases it. It stays on record with your name and the time, and is not taken back.</p>
    <label>Document or reason that ends it<textarea name="evidence" rows="2" required maxlength="2000" placeholder="drawing FT-1150 Rev D, issued 22 May"></textarea></label>
    ${signature(session, "")}
    <button type="submit">Release hold ${hold.id}</button><p role="status" data-said></p></form></details>`;
}

async function release(sent, released) {
  const said = sent.querySelector("[data-said]");
  const button = sent.querySelector("button");
  const { evidence, who } = sent.elements;
  button.disabled = true;
  said.textContent = "Recording…";
  try {
    const address = `/api/holds/${encodeURIComponent(sent.dataset.release)}/release`;
    const body = { evidence: evidence.value.trim(), who: who.value.trim(), at: new Date().toISOString() };
    const { sentence } = await ask(address, { method: "POST", body, signal: AbortSignal.timeout(PATIENCE_MS) });
    said.textContent = `Recorded: ${sentence}`;
    released(sentence);
  } catch (error) {
    button.disabled = false;
    said.textContent = `Not released: ${error.message}`;
  }
}

/**
 * Put the release under every `[data-hold]` of an element that whoever is signed in may release; elsewhere
 * nothing shows. Without contact nothing is offered. `released(sentence)` is called after each release.
 */
async function offerReleases(element, released = () => {}) {
  const places = [...element.querySelectorAll("[data-hold]")];
  if (!places.length) return;
  let holds, session;
  try {
    [{ holds }, session] = await Promise.all(["/api/holds", "/api/session"].map((path) => ask(path, { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) })));
  } catch {
    return;
  }
  for (const place of places) {
    const hold = holds.find(({ id, yours_to_release }) => yours_to_release && id === place.dataset.hold);
    if (!hold) continue;
    render(place, form(hold, session));
    place.hidden = false;
    place.querySelector("form").addEventListener("submit", (event) => {
      event.preventDefault();
      event.stopPropagation();
      void release(event.target, released);
    });
  }
}

export { offerReleases };
