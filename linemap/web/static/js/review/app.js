// The page of a proposal: wait until the files are read, show what would follow, accept it or drop it.

import { acceptProposal, dropProposal, getProposal, getSession, readProposal, reviewPage, sendColumns, undoChange } from "../shared/office_api.js";
import { html, render } from "../shared/html.js";
import { at, pause, say, sayInSight, startPage } from "../shared/page.js";
import { rememberName, signing } from "../shared/person.js";
import { acceptForm, consequenceList, doneBox, effectWords, gravest, missing, sentence } from "./consequences.js";
import { choicesForm, fileCard } from "./files.js";
import { fillLegend, Plan } from "./plan.js";

const POLL_MS = 400;
/** A server that was started anew no longer reads what it read. */
const SILENT_MS = 30_000;

class ReviewPage {
  /** @type {Answer.Session} */
  session = /** @type {any} */ (null); // until the first answer
  /** @type {Answer.Proposal} */
  proposal = /** @type {any} */ (null);
  /** @type {Plan | null} */
  plan = null;
  /** What columns were said to be, by file: one word may not be enough to read it.
   * @type {Map<string, Record<string, string | number>>} */
  named = new Map();
  given = { said: new Set(), reason: "", who: "" };
  busy = false;

  constructor(id) {
    this.id = id;
  }

  async start() {
    this.session = await getSession();
    this.given.who = signing(this.session);
    at("main").addEventListener("submit", (event) => this.submitted(event));
    at("main").addEventListener("click", (event) => this.clicked(event));
    at("main").addEventListener("input", (event) => this.typed(event));
    await this.wait();
  }

  /** Ask until the files are read, then show them; `focus` is what is focused then. */
  async wait(focus = "top") {
    let told = "";
    let heard = Date.now();
    let last = "";
    for (;;) {
      this.proposal = await getProposal(this.id);
      const { state, step, share } = this.proposal;
      if (state !== "waiting" && state !== "reading") break;
      this.drawReading(step || "Waiting for a free reader", share);
      if (told !== step) at("heard").textContent = told = step;
      if (last !== `${step} ${share}`) heard = Date.now();
      last = `${step} ${share}`;
      at("again").hidden = Date.now() - heard < SILENT_MS;
      await pause(POLL_MS);
    }
    render(at("reading"), html``);
    this.draw(null);
    at("heard").textContent = this.proposal.state === "refused" ? "The files cannot be loaded as they are." : "The files are read.";
    (at(focus) ?? at("top")).focus();
  }

  drawReading(step, share) {
    at("proposal").hidden = true;
    if (!at("reading").firstElementChild) {
      render(at("reading"), html`<p id="step" class="lead"></p><progress max="1" value="0" aria-labelledby="step"></progress><div class="answers"><button type="button" data-act="drop">Cancel</button><button type="button" id="again" data-act="again" hidden>Nothing heard for a while: read again</button></div>`);
    }
    at("step").textContent = `${step}: ${Math.round(100 * share)} %`;
    at("reading").querySelector("progress").value = share;
  }

  /** @param {Answer.Proposal | null} looked what the person looked at before, where that became another thing */
  draw(looked) {
    const { proposal } = this;
    const refused = proposal.state === "refused";
    at("proposal").hidden = false;
    at("top").textContent = proposal.what === "undo" ? "Review an undo" : "Review what is to be loaded";
    at("sum").textContent = sentence(proposal);
    render(at("refused"), proposal.refused.length ? html`<div class="refusal"><p><b>This cannot be loaded as it is.</b></p><ul class="plain">${proposal.refused.map((each) => html`<li>${each}</li>`)}</ul></div>` : html`${gravest(proposal)}`);
    render(at("files"), html`${proposal.files.map(fileCard)}${proposal.what === "load" && choicesForm(proposal.choices, proposal.files)}`);
    at("follows").hidden = refused;
    render(at("accept"), acceptForm(proposal, { ...this.given, session: this.session }));
    if (!refused) this.drawFollows(looked);
  }

  drawFollows(looked) {
    const { proposal } = this;
    render(at("consequences"), consequenceList(proposal, looked));
    this.tellMissing();
    at("both").hidden = !proposal.map;
    if (!proposal.map) return;
    this.plan ??= new Plan(at("plan"), (words) => (at("picked").textContent = words));
    this.plan.show(proposal.map);
    fillLegend(at("plan-legend"), proposal.map);
  }

  tellMissing() {
    const lack = missing(at("accept"));
    const button = at("accept").querySelector("button.main");
    button.setAttribute("aria-disabled", String(lack !== null));
    at("missing").textContent = lack?.words ?? "";
  }

  typed({ target }) {
    const form = at("accept");
    if (!form.contains(target)) return;
    if (target.name === "ends") {
      const ends = [...form.querySelectorAll("input[name=ends]:checked")].map(({ value }) => value);
      void this.read({ ends }, target.id);
      return;
    }
    this.given.who = form.elements.by?.value ?? this.session.name;
    if (this.proposal.state === "refused") return;
    this.given.said = new Set([...form.querySelectorAll("input[name=removes]:checked")].map(({ value }) => value));
    this.given.reason = form.elements.reason.value;
    this.tellMissing();
  }

  submitted(event) {
    event.preventDefault();
    if (event.target.id === "choices") {
      const said = Object.fromEntries([...new FormData(event.target)].map(([name, value]) => [name, String(value).trim()]));
      void this.read(said, "top");
    }
    if (event.target.id === "accept") void this.accept();
    if (event.target.matches("form.names")) {
      const { heading, field } = event.target.elements;
      void this.takeColumn(Number(event.target.dataset.file), field.value, heading.value.trim());
    }
  }

  clicked(event) {
    const button = event.target.closest("button[data-act], button[data-effect]");
    if (!button) return;
    const { act, effect, kind, file, field, heading, id } = button.dataset;
    if (effect) this.goTo(button, effect.split(":").map(Number));
    if (act === "again") void this.leave(() => readProposal(this.id, this.proposal.choices).then(() => location.href));
    if (act === "kind") void this.read({ kinds: { ...this.proposal.choices.kinds, [file]: kind } }, "top");
    if (act === "column") void this.takeColumn(Number(file), field, heading);
    if (act === "drop") void this.leave(() => dropProposal(this.id).then(() => "/files"));
    if (act === "undo") void this.leave(async () => reviewPage((await undoChange(id, signing(this.session))).id));
  }

  goTo(button, [i, j]) {
    const effect = this.proposal.consequences[i].effects[j];
    for (const each of at("consequences").querySelectorAll("[aria-pressed]")) each.removeAttribute("aria-pressed");
    button.setAttribute("aria-pressed", "true");
    this.plan?.go(effect);
    at("picked").textContent = effectWords(effect);
  }

  /** Read the files again with other words about them. */
  async read(said, focus) {
    await this.trying("Nothing was read again", async () => {
      await readProposal(this.id, { ...this.proposal.choices, ...said });
      await this.wait(focus);
    });
  }

  async takeColumn(k, field, heading) {
    const { name, kind } = this.proposal.files[k];
    const fields = { ...this.named.get(name), [field]: /^\d+$/.test(heading) ? Number(heading) : heading };
    this.named.set(name, fields);
    const told = at("files").querySelector(`form.names[data-file="${k}"] [data-named]`);
    told.textContent = `Said so far: ${Object.entries(fields).map(([what, column]) => `${column} is ${what}`).join(", ")}.`;
    const by = this.given.who.trim();
    if (!by) {
      this.askName();
      return;
    }
    await this.trying("Not read yet", async () => {
      await sendColumns(this.id, { by, file: name, kind: /** @type {Answer.ColumnsRequest["kind"]} */ (kind), fields });
      await readProposal(this.id, this.proposal.choices);
      await this.wait(`read-${k}`);
    });
  }

  /** What a column means is kept with a name for files of this shape. */
  askName() {
    say("Give your name first: what is said of a file is kept with it, for other files of the same headings too.");
    at("accept").elements.by.focus();
  }

  async accept() {
    if (this.proposal.state === "refused") return;
    const lack = missing(at("accept"));
    if (lack) {
      lack.control.focus();
      return;
    }
    const by = this.given.who.trim();
    if (this.session.local) rememberName(by);
    await this.trying("Nothing was stored", async () => {
      const accepted = await acceptProposal(this.id, { digest: this.proposal.digest, reason: this.given.reason.trim(), removes: [...this.given.said], by });
      if (accepted.change) this.drawDone(accepted);
      else this.drawOther(accepted.proposal);
    });
  }

  drawDone(accepted) {
    at("proposal").hidden = true;
    at("top").hidden = true;
    at("done").hidden = false;
    render(at("done"), doneBox(accepted));
    at("done-title").focus();
  }

  /** The job changed meanwhile: nothing is stored, and what is different is marked. */
  drawOther(proposal) {
    const looked = this.proposal;
    this.proposal = proposal;
    this.given.said = new Set();
    this.draw(looked);
    say("Nothing is stored yet: the job changed meanwhile, and something else would follow now. What is new is marked; look at it and accept it again.");
    at("follows-title").setAttribute("tabindex", "-1");
    at("follows-title").focus();
  }

  async leave(way) {
    await this.trying("Nothing was changed", async () => location.assign(await way()));
  }

  async trying(otherwise, action) {
    if (this.busy) return;
    this.busy = true;
    say("");
    try {
      await action();
    } catch (failure) {
      sayInSight(`${failure.status === 0 ? "It is not known whether this arrived" : otherwise}: ${failure.message}`);
    } finally {
      this.busy = false;
    }
  }
}

const page = new ReviewPage(new URLSearchParams(location.search).get("id") ?? "");
void startPage(() => page.start(), {
  themed: () => page.plan?.usePalette(),
  failed: (failure) => {
    render(at("reading"), html`<p class="nothing">${failure.message}. <a class="button" href="/files">Files and changes</a></p>`);
    document.documentElement.dataset.ready = "1";
  },
});
