// How many cases wait for whoever is signed in, at the head of each page of the office; asked every few seconds.

import { html, render } from "./html.js";
import { ask, JOB } from "./request.js";

const AGAIN_MS = 10_000;
const PATIENCE_MS = 8000;
const counted = { said: "", timer: 0 };

/**
 * @param {Element} place
 * @param {Answer.CaseCount} found
 */
function show(place, found) {
  const { yours, open } = found;
  const words = yours ? `${yours} case${yours > 1 ? "s" : ""} for you` : open ? `${open} open case${open > 1 ? "s" : ""}` : "";
  render(place, words ? html`<a href="/progress#cases">${words}</a>` : html``);
  place.classList.toggle("yours", yours > 0);
  const title = document.title.replace(/^\(\d+\) /, "");
  document.title = yours ? `(${yours}) ${title}` : title;
}

async function look(place, told) {
  clearTimeout(counted.timer);
  try {
    const found = await ask("/api/cases/count", { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
    show(place, found);
    const said = JSON.stringify([found.yours, found.open, found.unlisted]);
    if (said !== counted.said) told(found, Boolean(counted.said));
    counted.said = said;
  } catch (failure) {
    if ([401, 403, 404].includes(failure.status)) return; // not for this person
  }
  counted.timer = setTimeout(() => void look(place, told), AGAIN_MS);
}

/**
 * Show the count in the bar from now on; `told` is called with the first one, and again when it changes.
 * @param {(found: Answer.CaseCount, changed: boolean) => void} [told]
 */
function watchCases(told = () => {}) {
  const bar = document.querySelector("header.bar");
  if (!bar || !JOB) return;
  const place = document.createElement("p");
  place.className = "cases-for-you";
  place.setAttribute("role", "status");
  bar.querySelector("#facts")?.after(place);
  void look(place, told);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && void look(place, told));
}

export { watchCases };
