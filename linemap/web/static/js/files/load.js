// Files dropped or chosen on the page: sent one after the other, with the share of each that is sent, then reviewed.

import { beginProposal, dropProposal, readProposal, reviewPage } from "../shared/office_api.js";
import { html, render } from "../shared/html.js";
import { say } from "../shared/page.js";
import { signing } from "../shared/person.js";
import { ApiError, ofJob } from "../shared/request.js";
import { bytes, count } from "./parts.js";

const refused = (message) => new ApiError({ code: "not_sent", message, where: "" }, 0);

/** Send one file; `progress` is called with the bytes sent. A fetch does not tell those. */
function sendFile(id, file, { progress, signal }) {
  return new Promise((resolve, reject) => {
    const end = () => reject(new DOMException("", "AbortError"));
    // ended while the server was still asked for a place to send to
    if (signal.aborted) return end();
    const request = new XMLHttpRequest();
    request.open("PUT", `/api/proposals/${id}/files/${encodeURIComponent(file.name)}`);
    for (const [name, value] of Object.entries(ofJob())) request.setRequestHeader(name, value);
    request.upload.addEventListener("progress", (event) => progress(event.loaded));
    request.addEventListener("load", () => {
      if (request.status < 300) return resolve(null);
      const said = /** @type {{ error?: { message?: string } }} */ (parsed(request.responseText));
      return reject(refused(said.error?.message ?? `the server answered ${request.status}`));
    });
    request.addEventListener("error", () => reject(refused(`no contact with the server while ${file.name} was sent; check the connection and try again`)));
    request.addEventListener("abort", end);
    signal.addEventListener("abort", () => request.abort());
    request.send(file);
  });
}

function parsed(text) {
  try {
    return JSON.parse(text) ?? {};
  } catch {
    return {};
  }
}

/**
 * Show files with the share of each that is sent, and a button that ends it.
 * @param {Element} place
 * @param {File[]} files
 * @param {AbortController} sending
 */
function drawSending(place, files, sending) {
  const rows = files.map(
    (file, k) => html`<li><span id="sent-${k}">${file.name}, ${bytes(file.size)}</span><progress max="${Math.max(1, file.size)}" value="0" aria-labelledby="sent-${k}"></progress><span data-share>waits</span></li>`,
  );
  render(place, html`<p role="status">Sending ${count(files.length, "file")}</p><ul class="sending">${rows}</ul><button type="button">Cancel</button>`);
  const button = /** @type {HTMLButtonElement} */ (place.querySelector("button"));
  button.addEventListener("click", () => sending.abort());
  button.focus();
}

/**
 * Send the files that are shown, one after the other; `failed` is told of each that is not sent, and may throw.
 * @param {Element} place
 * @param {string} id
 * @param {File[]} files
 * @param {AbortSignal} signal
 * @param {(file: File, failure: Error) => void} failed
 */
async function sendAll(place, id, files, signal, failed) {
  for (const [k, file] of files.entries()) {
    const row = place.querySelectorAll("li")[k];
    const bar = /** @type {HTMLProgressElement} */ (row.querySelector("progress"));
    const words = /** @type {Element} */ (row.querySelector("[data-share]"));
    const progress = (sent) => {
      bar.value = sent;
      words.textContent = `${Math.round((100 * sent) / bar.max)} %`;
    };
    try {
      await sendFile(id, file, { progress, signal });
      progress(bar.max);
      words.textContent = "sent";
    } catch (failure) {
      words.textContent = "not sent";
      failed(file, failure);
    }
  }
}

class Loading {
  /** @type {AbortController | null} */
  sending = null;

  constructor(form, session) {
    this.form = form;
    this.session = session;
    this.place = form.querySelector("#sending");
    this.most = Number(form.dataset.mostBytes);
  }

  /** @param {File[]} files */
  async load(files) {
    if (this.sending || !files.length) return;
    say("");
    const large = files.find((file) => file.size > this.most);
    if (large) {
      say(`Nothing was sent: ${large.name} has ${bytes(large.size)}, and a file may have ${bytes(this.most)}; part it, or leave out what is no list.`);
      return;
    }
    this.sending = new AbortController();
    drawSending(this.place, files, this.sending);
    let id = "";
    try {
      ({ id } = await beginProposal(signing(this.session)));
      await sendAll(this.place, id, files, this.sending.signal, (_file, failure) => {
        throw failure;
      });
      await readProposal(id, {});
      location.assign(reviewPage(id));
    } catch (failure) {
      if (id) await dropProposal(id).catch(() => null);
      this.ended(failure);
    }
  }

  ended(failure) {
    this.sending = null;
    render(this.place, html``);
    this.form.elements.chosen.value = "";
    say(failure.name === "AbortError" ? "Sending was ended; nothing was kept." : `Nothing was kept: ${failure.message}`);
    this.form.elements.chosen.focus();
  }
}

/**
 * Wire a form: files that are chosen are taken, and those dropped anywhere on the page.
 * @param {any} form
 * @param {(files: File[]) => void} take
 */
function takeFiles(form, take) {
  form.addEventListener("submit", (event) => event.preventDefault());
  form.elements.chosen.addEventListener("change", (event) => take([...event.target.files]));
  const over = (event, is) => {
    if (![...(event.dataTransfer?.types ?? [])].includes("Files")) return;
    event.preventDefault();
    form.classList.toggle("over", is);
  };
  document.addEventListener("dragover", (event) => over(event, true));
  document.addEventListener("dragleave", (event) => over(event, event.relatedTarget !== null));
  document.addEventListener("drop", (event) => {
    over(event, false);
    take([...(event.dataTransfer?.files ?? [])]);
  });
}

/**
 * Files of a form are sent and reviewed.
 * @param {any} form
 * @param {Answer.Session} session
 */
function startLoading(form, session) {
  const loading = new Loading(form, session);
  takeFiles(form, (files) => void loading.load(files));
}

export { drawSending, sendAll, startLoading, takeFiles };
