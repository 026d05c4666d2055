// The page where there is no job yet: bring files, see how they read and where they lie, declare the ground,
// make the job.

import { drawSending, sendAll, takeFiles } from "../files/load.js";
import { asksKind, refusal } from "../review/files.js";
import { columnsTable, count } from "../files/parts.js";
import { block, sayRefused, unmark } from "../shared/declared.js";
import { html, render } from "../shared/html.js";
import { post, readProposal, reviewPage } from "../shared/office_api.js";
import { at, pause, say, soon, startPage } from "../shared/page.js";
import { nameField, rememberName } from "../shared/person.js";
import { ask } from "../shared/request.js";
import { FilesPlan, signOf } from "./drawing.js";

/** What is asked first; everything else can be declared later too. */
const FIRST = ["name", "crs", "combined_factor", "base_point", "back_end", "ahead_end"];
const POLL_MS = 200;
const KINDS_FIRST = ["centreline", "structures"];

/**
 * A file as it reads, in words: what stands on the drawing too.
 * @param {Answer.LookedAt} looked
 * @param {Answer.ReadFile} file
 * @param {Set<string>} hidden files that are not drawn
 */
function fileRow(looked, file, hidden) {
  const { name, kind, rows_in, rows_used, columns, unread } = file;
  const sign = signOf(looked, name);
  const words = looked.drawn.find((drawn) => drawn.name === name)?.words;
  const refused = file.may_be.length ? [] : file.problems.filter(({ severity }) => severity === "refused");
  const more = refused.length > 1 && html`<li>and ${refused.length - 1} more</li>`;
  const title = sign ? html`<label class="switch"><input type="checkbox" data-shown="${name}"${!hidden.has(name) && html` checked`}>${sign}<b>${name}</b></label>` : html`<b>${name}</b>`;
  return html`<li><div class="title">${title}<button type="button" data-out="${name}">Leave out<span class="visually-hidden"> ${name}</span></button></div>
    ${kind && html`<p>Reads as <b>${kind}</b>, ${rows_used.toLocaleString("en")} of ${count(rows_in, "row")} used.</p>`}${words && html`<p>${words}</p>`}${file.read_as && html`<p>Read as: ${file.read_as}</p>`}
    ${refused.length > 0 && html`<ul class="refusal">${refusal(refused[0])}${more}</ul>`}${asksKind(file)}
    ${unread.length > 0 && html`<p>Not read: ${unread.map((each) => each.words).join("; ")}.</p>`}
    ${columns.length > 0 && html`<details data-keep="${name}"><summary>Columns (${columns.length})</summary>${columnsTable(name, columns)}</details>`}</li>`;
}

const reference = () => /** @type {HTMLInputElement} */ (document.querySelector("#set-crs"));

class StartPage {
  /** @type {Answer.Start | null} */
  found = null;
  /** @type {Answer.LookedAt | null} */
  looked = null;
  /** @type {FilesPlan | null} */
  plan = null;
  /** Files that are not drawn. @type {Set<string>} */
  hidden = new Set();
  /** What a person said files are. @type {Record<string, string>} */
  kinds = {};
  /** The reference that was taken from a file: it is proposed once. */
  proposed = "";
  looks = 0;
  /** @type {AbortController | null} */
  sending = null;

  draw() {
    const { found } = this;
    if (!found) return;
    at("place").textContent = found.folder ? `It is kept in the folder ${found.place}, as a file of its name.` : `It is kept in the file ${found.place}.`;
    at("jobs").hidden = !found.jobs.length;
    render(at("jobs"), html`<h3 id="jobs-title">Jobs of this folder</h3><p class="takes">${found.jobs.map((job) => html`<button type="button" data-open="${job}">Open ${job}</button>`)}</p>`);
    const first = FIRST.flatMap((name) => found.settings.filter((setting) => setting.name === name));
    const more = found.settings.filter((setting) => !FIRST.includes(setting.name));
    render(at("make"), html`${first.map(block)}<div id="references" class="takes" role="status"></div>
      <details><summary>More, which can be declared later too</summary>${more.map(block)}</details>
      <div class="keep fields">${nameField()}<div class="answers"><button type="submit">Make the job</button></div></div>`);
    reference().closest(".setting")?.after(at("references"));
    at("make").setAttribute("aria-busy", "false");
  }

  /** Let the server read the files as they are said to be, and draw what it finds; a later look ends this one. */
  async look() {
    const look = (this.looks += 1);
    let looked = await post("/api/start/look", { crs: reference().value.trim(), kinds: this.kinds });
    while (look === this.looks && looked.state === "reading") {
      at("read").textContent = `Reading the files: ${Math.round(100 * looked.share)} %`;
      await pause(POLL_MS);
      looked = await ask("/api/start/look", { cache: "no-store" });
    }
    if (look !== this.looks) return;
    this.looked = looked;
    at("read").textContent = looked.files.length ? `${count(looked.files.length, "file")} read.` : "";
    this.drawFiles(looked);
    if (!looked.crs || looked.crs === this.proposed || reference().value.trim()) return;
    this.proposed = reference().value = looked.crs;
    await this.look();
  }

  /** @param {Answer.LookedAt} looked */
  drawFiles(looked) {
    const { files, drawn, where } = looked;
    at("brought").hidden = !files.length;
    const kinds = files.map(({ kind }) => kind);
    const missing = KINDS_FIRST.filter((kind) => !kinds.includes(kind));
    const chosen = reference().value.trim();
    const words = where.length ? where : drawn.length > 0 && ["In their own coordinates, north up. Where on earth that is, a coordinate reference says: choose it below."];
    const from = chosen && chosen === looked.crs && html`<p>${chosen} is what a file says of itself.</p>`;
    render(at("where"), html`${words && words.map((each) => html`<p><b>${each}</b></p>`)}${from}${missing.length > 0 && html`<p>Still without ${missing.join(" and ")}: verdicts need both.</p>`}`);
    if (where.length) render(at("references"), html`${where.map((each) => html`<p>${each}</p>`)}`);
    render(at("files"), html`${files.map((file) => fileRow(looked, file, this.hidden))}`);
    const points = drawn.some(({ places }) => places.length);
    at("both").hidden = !points;
    if (!points) return;
    this.plan ??= new FilesPlan(at("plan"), this.hidden, (picked) => (at("picked").textContent = picked));
    this.plan.show(looked);
  }

  /** @param {File[]} files */
  async bring(files) {
    if (!files.length || this.sending) return;
    say("");
    const most = Number(at("load").dataset.mostBytes);
    const refused = files.filter((file) => file.size > most).map((file) => `${file.name} is larger than ${most >> 20} MB: part it.`);
    const sending = (this.sending = new AbortController());
    const fitting = files.filter((file) => file.size <= most);
    drawSending(at("sending"), fitting, sending);
    await sendAll(at("sending"), "new", fitting, sending.signal, ({ name }, failure) => {
      refused.push(sending.signal.aborted ? `${name} was not brought.` : `${name}: ${failure.message}`);
    });
    this.sending = null;
    render(at("sending"), html``);
    at("chosen").focus();
    say(refused.join(" "));
    at("load").elements.chosen.value = "";
    await this.look();
  }

  /** What was typed as reference: offered by words of its name; a code is looked at where it puts the files. */
  async search() {
    const words = reference().value.trim();
    const known = !words || /^epsg:\d{4,6}$/i.test(words);
    const found = known ? [] : await ask(`/api/references?${new URLSearchParams({ words })}`).catch(() => []);
    if (reference().value.trim() !== words) return;
    const none = !known && !found.length && html`No reference has all these words; write a code like EPSG:6515.`;
    render(at("references"), html`${none}${found.map(({ crs, name, lies }) => html`<button type="button" data-crs="${crs}">${crs} ${name}${lies && html`<small>${lies}</small>`}</button>`)}`);
    if (known) await this.look();
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
      sayRefused("Nothing was made", form, failure);
      return;
    }
    if (opened.proposal) await readProposal(opened.proposal, { kinds: this.kinds });
    location.assign(opened.proposal ? reviewPage(opened.proposal) : "/");
  }

  async clicked({ dataset }) {
    if (dataset.crs) {
      reference().value = dataset.crs;
      render(at("references"), html``);
      reference().focus();
      await this.look();
    } else if (dataset.open) {
      await post("/api/start/open", { job: dataset.open });
      location.assign("/");
    } else if (dataset.out) {
      await ask(`/api/proposals/new/files/${encodeURIComponent(dataset.out)}`, { method: "DELETE" });
      delete this.kinds[dataset.out];
      await this.look();
      at("chosen").focus();
    } else if (dataset.act === "kind") {
      this.kinds[dataset.file] = dataset.kind;
      await this.look();
      at("brought-title").focus();
    }
  }

  async start() {
    this.found = await ask("/api/start");
    this.draw();
    takeFiles(at("load"), (files) => void this.bring(files));
    const search = soon(() => this.search().catch((failure) => say(failure.message)));
    at("make").addEventListener("input", (event) => {
      if (event.target.id === "set-crs") search();
    });
    at("make").addEventListener("submit", (event) => {
      event.preventDefault();
      void this.make(event.target);
    });
    at("main").addEventListener("click", (event) => {
      const button = event.target.closest("button[type='button']");
      if (button) void this.clicked(button).catch((failure) => say(failure.message));
    });
    at("files").addEventListener("change", ({ target }) => {
      this.hidden[target.checked ? "delete" : "add"](target.dataset.shown);
      this.plan?.choose();
    });
    await this.look();
  }
}

const page = new StartPage();
void startPage(() => page.start(), { themed: () => page.plan?.usePalette() });
