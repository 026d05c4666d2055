// The surveyor's page: what is exceptional and why, and the answers of people to it.

import { getStructure } from "../shared/api.js";
import { html, render, renderSvg } from "../shared/html.js";
import { at, say, sayInSight, startPage } from "../shared/page.js";
import { getSession, getSurvey, newId, sendDecision } from "../shared/office_api.js";
import { besideList, causeCard, changedBox, checkInList, declaredBox, filterForm, historyList, settledList } from "./cards.js";
import { everything, groups, tally } from "./groups.js";
import { ShotBench } from "./shots.js";
import { rememberedName, rememberName } from "../shared/person.js";

const NO_DRAFT = { note: "" };

class SurveyPage {
  /** @type {Answer.Survey} */
  survey = /** @type {any} */ (null); // until the first answer

  constructor() {
    this.filter = everything();
    this.drafts = new Map(); // cause key -> note typed and not sent yet
    this.opened = new Set(); // keys of causes whose rows are all shown
    this.who = rememberedName();
    this.sketches = new Map(); // line and number -> promise of a sketch
    this.watcher = new IntersectionObserver((entries) => this.drawVisible(entries), { rootMargin: "1200px" });
    this.shown = [];
    this.last = null;
    this.ids = new Map(); // answer as sent -> its id, until the server has said that it has it
    this.bench = new ShotBench(() => this.reload());
  }

  async start() {
    at("filter").addEventListener("input", () => this.refilter());
    at("filter").addEventListener("reset", () => setTimeout(() => this.refilter()));
    at("main").addEventListener("submit", (event) => event.preventDefault());
    at("main").addEventListener("input", (event) => this.typed(event));
    at("main").addEventListener("click", (event) => this.clicked(event));
    await this.reload();
    render(at("filter"), filterForm(this.survey));
    this.draw();
    await this.bench.start(await getSession());
  }

  async reload() {
    [this.survey] = await Promise.all([getSurvey(), this.bench.reload()]);
    this.severalLines = new Set(this.survey.exceptions.map((row) => row.line)).size > 1;
    this.sketches.clear();
    this.draw();
  }

  draw() {
    const { survey } = this;
    render(at("facts"), html`<span class="as-of">as of <time>${survey.as_of}</time></span>`);
    at("caution").textContent = survey.caution;
    render(at("declared"), declaredBox(survey.declared));
    at("declared").classList.toggle("lacks", survey.declared.missing.length > 0);
    this.drawCauses();
    at("beside").hidden = survey.beside.length === 0;
    render(at("beside"), survey.beside.length ? besideList(survey.beside) : html``);
    at("check-ins").hidden = survey.check_ins.length === 0;
    render(at("check-ins"), survey.check_ins.length ? checkInList(survey.check_ins) : html``);
    at("settled").hidden = survey.settled.length === 0;
    render(at("settled"), survey.settled.length ? settledList(survey.settled, { who: this.who }) : html``);
    render(at("history"), historyList(survey.history));
    this.tell();
  }

  drawCauses() {
    this.shown = groups(this.survey, this.filter);
    const cards = this.shown.map((group, k) => {
      const key = keyOf(group.cause);
      const draft = { ...NO_DRAFT, note: this.drafts.get(key) ?? "", who: this.who };
      return causeCard(group, k, { severalLines: this.severalLines, all: this.opened.has(key), draft });
    });
    const none = html`<p class="nothing">${this.survey.exceptions.length ? "Nothing fits these choices." : "The survey shows no exception now. That is a statement about coordinates only."}</p>`;
    render(at("causes"), cards.length ? html`${cards}` : none);
    at("causes").setAttribute("aria-busy", "false");
    this.watcher.disconnect();
    for (const figure of at("causes").querySelectorAll(".sketch")) this.watcher.observe(figure);
  }

  tell() {
    const { structures, causes, open } = tally(this.survey);
    const rows = this.shown.reduce((sum, group) => sum + group.rows.length, 0);
    const place = at("filter").querySelector(".tally");
    if (place) place.textContent = `${rows} of ${structures} structures shown; ${causes} ${causes === 1 ? "cause" : "causes"}, ${open} open`;
  }

  refilter() {
    for (const name of Object.keys(this.filter)) this.filter[name] = at("filter").elements[name].value;
    this.drawCauses();
    this.tell();
  }

  typed(event) {
    const form = event.target.closest("form.decide");
    if (!form) return;
    if (event.target.name === "who") this.named(event.target);
    else if (form.dataset.id) this.drafts.set(keyOf(this.shown[form.dataset.id].cause), event.target.value);
  }

  named(input) {
    this.who = input.value;
    rememberName(this.who);
    for (const other of document.querySelectorAll("form.decide input[name=who]")) if (other !== input) other.value = this.who;
  }

  clicked(event) {
    const button = event.target.closest("[data-act], [data-answer]");
    if (!button) return;
    const { act, id, answer } = button.dataset;
    if (answer) this.answered(button.closest("form"), answer);
    if (act === "all") {
      this.opened.add(keyOf(this.shown[id].cause));
      this.drawCauses();
    }
    if (act === "undo" && this.last) this.decide({ ...this.last, who: this.who || this.last.who, answer: "withdrawn", note: "" });
  }

  /** Only a pressed button decides: the Enter key in a field must never accept anything. */
  answered(form, answer) {
    const { note, who } = form.elements;
    if (!who.value.trim()) who.value = "";
    if (!form.reportValidity()) return;
    const { id, settled } = form.dataset;
    const about = id ? subjectOf(this.shown[id].cause) : settledSubject(this.survey.settled[settled]);
    this.decide({ ...about, answer, who: who.value.trim(), note: note.value.trim() });
  }

  async decide(asked) {
    if (this.sending) return;
    this.sending = true;
    say("");
    const content = JSON.stringify(asked);
    // an answer that may have arrived keeps its id, so that trying again records nothing twice
    if (!this.ids.has(content)) this.ids.set(content, newId());
    try {
      const answer = await sendDecision({ id: this.ids.get(content), ...asked });
      this.ids.delete(content);
      this.drafts.delete([asked.cause, asked.subject, asked.line].join("\n"));
      this.last = asked;
      await this.reload();
      render(at("changed"), changedBox(asked, answer));
      at("changed").querySelector("h3").focus();
    } catch (failure) {
      if (failure.status >= 400) this.ids.delete(content);
      sayInSight(`${failure.status ? "Nothing was recorded" : "It is not known whether this was recorded"}: ${failure.message}`);
    } finally {
      this.sending = false;
    }
  }

  drawVisible(entries) {
    for (const { target, isIntersecting } of entries) {
      if (!isIntersecting) continue;
      this.watcher.unobserve(target);
      this.sketch(target);
    }
  }

  async sketch(figure) {
    const { line, number } = figure.dataset;
    const key = `${line}\n${number}`;
    if (!this.sketches.has(key)) this.sketches.set(key, getStructure(line, number));
    try {
      renderSvg(figure, (await this.sketches.get(key)).sketch_svg);
    } catch {
      this.sketches.delete(key);
      figure.textContent = "no sketch";
    }
  }

  /** Paper shows every sketch, also those nobody scrolled to. */
  async print() {
    await Promise.all([...at("causes").querySelectorAll(".sketch:empty")].map((figure) => this.sketch(figure)));
    window.print();
  }
}

const keyOf = (cause) => (cause ? [cause.code, cause.subject, cause.line].join("\n") : "");
const subjectOf = ({ code, subject, line }) => ({ cause: code, subject, line });
const settledSubject = ({ cause, subject, line }) => ({ cause, subject, line });

const page = new SurveyPage();
void startPage(() => page.start(), { themed: () => page.bench.usePalette(), print: () => void page.print() });
