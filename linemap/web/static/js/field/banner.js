// Always in sight: as of when the data are, how old they are on this phone, what still has to be sent.

import { html, render } from "../shared/html.js";
import { caseAlarms } from "./cases.js";
import { cutWords } from "./kept.js";
import { lossWords } from "./memory.js";
import { count, elsewhere } from "./outbox.js";
import { checkedAt, hoursOld, index, isStale, missing, skew } from "./pack.js";
import { status } from "./sync.js";
import { isToday } from "./when.js";
import { agoWords, clockWords, counted, dayWords } from "./words.js";

const CLOCK_LIMIT_MS = 5 * 60000;

/** "Data as of Fri 15 May 2026": another day than today is said to be one. */
const dataWords = ({ as_of }) => html`Data as of <b>${dayWords(as_of)}</b>${!isToday(as_of) && ", not today"}`;

function age() {
  if (!checkedAt()) return html`not complete on this phone yet`;
  return html`loaded <b>${agoWords(hoursOld())}</b>`;
}

function contact() {
  const { contact: at, busy } = status();
  if (busy) return "sending…";
  return at ? html`contact <b>${clockWords(at)}</b>` : "no contact yet";
}

const understood = html`<button type="button" data-do="understood">Understood</button>`;

/** What was lost or is not as this phone saw it comes before everything else. */
const losses = () =>
  [["LOST", lossWords()], ["RECORD", cutWords()]].filter(([, words]) => words).map(([title, words]) => html`<b>${title}</b> ${words} ${understood}`);

function alarms() {
  const lines = losses();
  for (const { job, records, photos } of elsewhere()) {
    lines.push(html`<b>${counted(records, "record")}, ${counted(photos, "photo")} of ${job}</b>
      ${records + photos === 1 ? "waits" : "wait"} on this phone. They go out when that job is served at this address again.`);
  }
  if (status().otherJob) {
    lines.push(html`<b>ANOTHER JOB</b> is served at this address now. What is shown here is ${index()?.job ?? "an older job"}, as kept on
      this phone; nothing of it is sent. <button type="button" data-do="turn">Show the other job</button>`);
  }
  lines.push(...caseAlarms());
  for (const words of index()?.waits ?? []) lines.push(html`${words}`);
  if (checkedAt() && isStale()) {
    lines.push(html`<b>OLD DATA.</b> Holds, tickets and claims on this phone were loaded ${agoWords(hoursOld())}
      (limit ${index().stale_after_hours} h). Ask before relying on them.`);
  }
  if (index() && missing().length) lines.push(html`<b>INCOMPLETE.</b> ${missing().length} miles are missing or older: <a href="#v=line">load them</a>.`);
  if (Math.abs(skew()) > CLOCK_LIMIT_MS) {
    lines.push(html`This phone's clock is ${Math.round(Math.abs(skew()) / 60000)} min ${skew() < 0 ? "fast" : "slow"}; set it.`);
  }
  return lines;
}

/** Write the strip on top and the number on the send button. */
function showBanner(strip, alarm, sendTab) {
  render(sendTab, html`Send${count() ? html` <b class="badge">${count()}</b>` : ""}`);
  if (index()) render(strip, html`<span>${dataWords(index())}</span><span>${age()}; ${contact()}</span>`);
  else render(strip, html`<span>Nothing on this phone yet</span>`);
  const said = alarms();
  alarm.hidden = !said.length;
  render(alarm, html`${said.map((line) => html`<p>${line}</p>`)}`);
}

let shown = 0;

/** Say something for eight seconds; `id` is that of a record that can be taken back. */
function toast(words, id = "") {
  clearTimeout(shown);
  const box = document.getElementById("toast");
  render(box, html`<span>${words}</span>${id && html`<button type="button" data-do="undo" data-id="${id}">Undo</button>`}`);
  box.hidden = false;
  shown = setTimeout(() => (box.hidden = true), 8000);
}

export { showBanner, toast };
