// The page where there is no job yet: bring files, see what they seem to be, declare the ground, make the job.

import { sendFile } from "../files/load.js";
import { block, markRefused, unmark } from "../shared/declared.js";
import { html, render } from "../shared/html.js";
import { readProposal, reviewPage } from "../shared/office_api.js";
import { say } from "../shared/page.js";
import { rememberedName, rememberName } from "../shared/person.js";
import { ask } from "../shared/request.js";
import { restoreTheme, startTheme } from "../shared/theme.js";

const at = (id) => document.getElementById(id);
const post = (path, body) => ask(path, { method: "POST", body });
/** What is asked first; everything else can be declared later too. */
const FIRST = ["name", "crs", "combined_factor", "base_point", "back_end", "ahead_end"];
const WAIT_MS = 250;
const KINDS_FIRST = ["centreline", "structures"];

/** @param {Answer.LookedAt} file */
const fileRow = (file) => html`<tr><th scope="row">${file.name}</th><td>${file.kind ? html`<b>${file.kind}</b>` : "not told yet"}</td><td>${file.words}${file.crs && html`, ${file.crs}`}</td>
  <td><button type="button" data-out="${file.name}">Leave out<span class="visually-hidden"> ${file.name}</span></button></td></tr>`;

class StartPage {
  /** @type {Answer.Start | null} */
  found = null;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  later;

  drawFiles() {
    const files = this.found?.files ?? [];
    at("brought").hidden = !files.length;
    const kinds = files.map((file) => file.kind);
    const missing = KINDS_FIRST.filter((kind) => !kinds.includes(kind));
    const hint = missing.length > 0 && html`<p>Still without ${missing.join(" and ")}: verdicts need both.</p>`;
    render(at("brought"), html`<h3 id="brought-title">What they seem to be</h3>${hint}<div class="scroll" tabindex="0" role="group" aria-label="Files brought"><table><thead><tr><th scope="col">file</th><th scope="col">seems to be</th><th scope="col">of it</th><th scope="col">change</th></tr></thead><tbody>${files.map(fileRow)}</tbody></table></div>
      <p>The next page shows how each column was understood, before anything is stored.</p>`);
    const crs = /** @type {HTMLInputElement | null} */ (document.querySelector("#set-crs"));
    const declared = files.find((file) => file.crs)?.crs;
    if (crs && declared && !crs.value) crs.value = declared;
  }

  draw() {
    const { found } = this;
    if (!found) return;
    at("place").textContent = found.folder ? `It is kept in the folder ${found.place}, as a file of its name.` : `It is kept in the file ${found.place}.`;
    at("jobs").hidden = !found.jobs.length;
    render(at("jobs"), html`<h3 id="jobs-title">Jobs of this folder</h3><p class="takes">${found.jobs.map((job) => html`<button type="button" data-open="${job}">Open ${job}</button>`)}</p>`);
    const first = FIRST.flatMap((name) => found.settings.filter((setting) => setting.name === name));
    const more = found.settings.filter((setting) => !FIRST.includes(setting.name));
    render(at("make"), html`${first.map(block)}<p id="references" class="takes" role="status"></p>
      <details><summary>More, which can be declared later too</summary>${more.map(block)}</details>
      <div class="keep fields"><label>Your name<input name="who" required maxlength="200" autocomplete="name" value="${rememberedName()}"></label><div class="answers"><button type="submit">Make the job</button></div></div>`);
    document.querySelector("#set-crs")?.closest(".setting")?.after(at("references"));
    at("make").setAttribute("aria-busy", "false");
    this.drawFiles();
  }

  async load() {
    this.found = await ask("/api/start");
  }

  /** @param {File[]} files */
  async bring(files) {
    if (!files.length) return;
    const most = Number(at("load").dataset.mostBytes);
    for (const [k, file] of files.entries()) {
      if (file.size > most) {
        say(`${file.name} is larger than ${most >> 20} MB: part it.`);
        continue;
      }
      const progress = (sent) => {
        at("sending").textContent = `Bringing ${file.name} (${k + 1} of ${files.length}): ${Math.round((100 * sent) / Math.max(1, file.size))} %`;
      };
      await sendFile("new", file, { progress, signal: new AbortController().signal }).catch((failure) => say(failure.message));
    }
    at("sending").textContent = "Looking at the files…";
    await this.load();
    at("sending").textContent = `${files.length} ${files.length === 1 ? "file" : "files"} brought.`;
    at("load").elements.chosen.value = "";
    this.drawFiles();
  }

  /** Offer references by words of their name; a code needs none. */
  async search(input) {
    const words = input.value.trim();
    const known = !words || /^epsg:\d{4,6}$/i.test(words);
    const found = known ? [] : await ask(`/api/references?${new URLSearchParams({ words })}`).catch(() => []);
    if (input.value.trim() !== words) return;
    const none = !known && !found.length && html`No reference has all these words; write a code like EPSG:6515.`;
    render(at("references"), html`${none}${found.map((each) => html`<button type="button" data-crs="${each.crs}">${each.crs} ${each.name}</button>`)}`);
  }

  async make(form) {
    unmark(form);
    const who = form.elements.who.value.trim();
    const declared = /** @type {Record<string, string>} */ ({});
    for (const input of form.querySelectorAll("[data-was]")) if (input.value.trim()) declared[input.name] = input.value.trim();
    rememberName(who);
    let opened;
    try {
      opened = await post("/api/start", { declared, who });
    } catch (failure) {
      const beside = markRefused(form, failure);
      say(`Nothing was made: ${beside ? "correct what is marked." : failure.message}`);
      return;
    }
    if (opened.proposal) await readProposal(opened.proposal, {});
    location.assign(opened.proposal ? reviewPage(opened.proposal) : "/");
  }

  async clicked(button) {
    try {
      if (button.dataset.crs) {
        const input = /** @type {HTMLInputElement} */ (document.querySelector("#set-crs"));
        input.value = button.dataset.crs;
        render(at("references"), html``);
        input.focus();
      } else if (button.dataset.open) {
        await post("/api/start/open", { job: button.dataset.open });
        location.assign("/");
      } else if (button.dataset.out) {
        await ask(`/api/proposals/new/files/${encodeURIComponent(button.dataset.out)}`, { method: "DELETE" });
        await this.load();
        this.drawFiles();
      }
    } catch (failure) {
      say(failure.message);
    }
  }

  async start() {
    await this.load();
    this.draw();
    at("load").elements.chosen.addEventListener("change", (event) => void this.bring([...event.target.files]));
    document.addEventListener("dragover", (event) => event.preventDefault());
    document.addEventListener("drop", (event) => {
      event.preventDefault();
      void this.bring([...(event.dataTransfer?.files ?? [])]);
    });
    at("make").addEventListener("input", (event) => {
      if (event.target.id !== "set-crs") return;
      clearTimeout(this.later);
      this.later = setTimeout(() => void this.search(event.target), WAIT_MS);
    });
    at("make").addEventListener("submit", (event) => {
      event.preventDefault();
      void this.make(event.target);
    });
    at("main").addEventListener("click", (event) => {
      const button = event.target.closest("button[type='button']");
      if (button) void this.clicked(button);
    });
    document.documentElement.dataset.ready = "1";
  }
}

restoreTheme();
startTheme(at("theme"), () => {});
at("print").addEventListener("click", () => window.print());
new StartPage().start().catch((failure) => say(failure.message));
