// The bench for shots: those that nothing uses as they were read, on a map and in a list, and what is said of them.

import { getCentreline, getJob, getStructures } from "../shared/api.js";
import { html, render } from "../shared/html.js";
import { at, say, sayInSight, soon } from "../shared/page.js";
import { getAlike, getOpenShots, newId, sendShots } from "../shared/office_api.js";
import { rememberName } from "../shared/person.js";
import { OFFERED, alikeBox, detail, doneBox, entryOf, filterForm, fitting, keyOf, sayForm } from "./shot_parts.js";
import { ShotPlan, fillLegend, shotName } from "./shot_plan.js";

const AT_ONCE = 200;
/** Who looks at open shots; what one is of is a surveyor's to say, like every position. */
const ROLES = ["surveyor", "inspector", "manager"];

class ShotBench {
  bench = /** @type {Answer.OpenShots} */ (/** @type {any} */ (null)); // until the first answer
  session = /** @type {Answer.Session} */ (/** @type {any} */ (null));
  plan = /** @type {ShotPlan | null} */ (null);
  shown = /** @type {Answer.OpenShot[]} */ ([]);
  active = /** @type {Answer.OpenShot | null} */ (null);

  /** @param {() => Promise<void>} changed brings the rest of the page up to date */
  constructor(changed) {
    this.changed = changed;
    this.filter = { state: "open", text: "" };
    this.chosen = new Set(); // keys of shots
    this.many = AT_ONCE;
    this.ids = new Map(); // what was said as sent -> its id, until the server has said that it has it
    this.here = 0;
    this.last = [];
    this.lines = /** @type {string[]} */ ([]);
  }

  /** @param {Answer.Session} session */
  async start(session) {
    this.session = session;
    if (!session.local && !ROLES.includes(session.role ?? "")) return;
    this.may = session.local || session.role === "surveyor";
    at("bench").addEventListener("submit", (event) => event.preventDefault());
    at("bench-filter").addEventListener("input", () => this.refilter());
    at("bench-list").addEventListener("keydown", (event) => this.key(event));
    at("bench-list").addEventListener("click", (event) => this.clicked(event));
    at("bench").addEventListener("click", (event) => this.pressed(event.target.closest("button")));
    const look = soon(() => this.lookAlike({ pattern: at("bench-say").elements.pattern.value }));
    at("bench-say").addEventListener("input", (event) => (event.target.name === "pattern" ? look() : this.fitFields()));
    await this.reload();
  }

  async reload() {
    if (!this.session) return;
    this.bench = await getOpenShots();
    at("bench").hidden = this.bench.shots.length === 0;
    if (at("bench").hidden) {
      at("bench-link").hidden = true;
      return;
    }
    if (!this.plan) await this.begin();
    if (this.filter.state === "open" && !this.fits().length) this.filter.state = "all";
    render(at("bench-filter"), filterForm(this.bench, this.filter.state));
    at("bench-filter").elements.text.value = this.filter.text;
    const waiting = fitting(this.bench.shots, { state: "open", text: "" }).length;
    at("bench-lead").textContent = `${waiting} of ${this.bench.count} shots wait for somebody to say what they are of, or that they are not to be used.`;
    at("bench-link").hidden = false;
    at("bench-link").textContent = waiting ? `Shots that are not used: ${waiting}` : "Shots that somebody decided on";
    fillLegend(at("bench-legend"), this.bench);
    this.list({ fit: !this.active });
  }

  async begin() {
    const [job, structures, centrelines] = await Promise.all([getJob(), getStructures(), getCentreline()]);
    const names = centrelines.lines.map(({ name }) => name);
    this.numbers = new Map(structures.number.map((number, k) => [`${names[structures.line[k]]}\n${number}`, structures.poles[k]]));
    this.lines = names;
    this.unit = job.unit;
    if (this.may) {
      const poles = job.pole_words[1].map((word, k) => (job.pole_words[0][k] && job.pole_words[0][k] !== word ? `${job.pole_words[0][k]}, of three ${word}` : word));
      render(at("bench-say"), sayForm(this.bench, { session: this.session, numbers: [...new Set(structures.number)], lines: names, poles }));
    }
        const said = (words) => (at("bench-picked").textContent = words);
    this.plan = new ShotPlan(at("bench-map"), said, (place) => this.picked(place));
    this.plan.draws(centrelines);
  }

  usePalette() {
    this.plan?.usePalette();
  }

  fits() {
    return fitting(this.bench.shots, this.filter);
  }

  refilter() {
    const { became, text } = at("bench-filter").elements;
    this.filter = { state: became.value, text: text.value };
    this.many = AT_ONCE;
    this.list({ fit: true });
  }

  list({ fit }) {
    const found = this.fits();
    this.shown = found.slice(0, this.many);
    const known = new Set(this.shown.map(keyOf));
    this.chosen = new Set([...this.chosen].filter((key) => known.has(key)));
    const key = this.active && keyOf(this.active);
    // where the one looked at has gone from the list, the one that took its place
    this.active = this.shown.find((shot) => keyOf(shot) === key) ?? this.shown[Math.min(this.here, this.shown.length - 1)] ?? null;
    at("bench-more").hidden = found.length <= this.many;
    at("bench-more").textContent = `Show more of the ${found.length} shots`;
    this.plan?.show(this.shown, { fit, states: this.bench.states });
    this.draw({ fit: false });
  }

  draw({ fit }) {
    const list = at("bench-list");
    const { states } = this.bench;
    render(list, html`${this.shown.map((shot, k) => entryOf(shot, k, { active: shot === this.active, chosen: this.chosen.has(keyOf(shot)), states }))}`);
    const here = this.active ? this.shown.indexOf(this.active) : -1;
    this.here = Math.max(0, here);
    if (here >= 0) list.setAttribute("aria-activedescendant", `shot-${here}`);
    else list.removeAttribute("aria-activedescendant");
    const entry = at(`shot-${here}`);
    if (entry) list.scrollTop = Math.max(Math.min(list.scrollTop, entry.offsetTop), entry.offsetTop + entry.offsetHeight - list.clientHeight);
    render(at("bench-shot"), this.active ? detail(this.active, { may: this.may, severalLines: this.lines.length > 1, states }) : html``);
    if (this.plan) {
      this.plan.chosen = new Set(this.shown.filter((shot) => this.chosen.has(keyOf(shot))));
      this.plan.go(this.active, { fit });
    }
    this.fitFields();
  }

  /** The shots that are meant: those chosen, else the one that is looked at. */
  meant() {
    const chosen = this.shown.filter((shot) => this.chosen.has(keyOf(shot)));
    return chosen.length || !this.active ? chosen : [this.active];
  }

  /** Ask for what the item has, and offer what the shots that are meant allow. */
  fitFields() {
    if (!this.may || !this.plan) return;
    const form = at("bench-say");
    const meant = this.meant();
    const [first] = meant;
    form.hidden = !meant.length;
    at("say-about").textContent = meant.length === 1 ? `Shot ${shotName(first)}` : `${meant.length} shots chosen`;
    const item = this.bench.items.find((each) => each.item === form.elements.kind.value);
    form.elements.structure.disabled = item?.structure === "none";
    form.elements.pole.disabled = item?.pole === "none";
    const farthest = Math.max(...meant.map(({ near }) => near[0]?.distance ?? Infinity));
    form.querySelector("[data-do=alike]").hidden = meant.length !== 1 || !["unread", "assigned"].includes(first.state);
    const nearest = form.querySelector("[data-do=nearest]");
    nearest.hidden = meant.length < 2 || farthest > OFFERED;
    nearest.textContent = `Each to its nearest pole, at most ${farthest.toFixed(2)} ${this.unit} off`;
    const poles = this.numbers?.get(`${form.elements.line?.value ?? this.lines[0]}\n${form.elements.structure.value.trim()}`);
    for (const option of form.elements.pole.options) option.hidden = option.value === "C" && poles === 2;
  }

  look(k, { fit = true } = {}) {
    this.active = this.shown[Math.max(0, Math.min(k, this.shown.length - 1))] ?? null;
    this.draw({ fit });
  }

  toggle(shot) {
    const key = keyOf(shot);
    if (!this.chosen.delete(key)) this.chosen.add(key);
  }

  key(event) {
    const here = this.active ? this.shown.indexOf(this.active) : -1;
    const to = { ArrowDown: here + 1, ArrowUp: here - 1, Home: 0, End: this.shown.length - 1, PageDown: here + 8, PageUp: here - 8 }[event.key];
    if (to !== undefined) {
      event.preventDefault();
      this.look(to);
      if (event.shiftKey && this.active) this.chosen.add(keyOf(this.active));
      if (event.shiftKey) this.draw({ fit: false });
    } else if (event.key === " " && this.active) {
      event.preventDefault();
      this.toggle(this.active);
      this.draw({ fit: false });
    } else if (event.key === "Enter") {
      event.preventDefault();
      at("bench-shot").querySelector("button")?.focus();
    }
  }

  clicked(event) {
    const entry = event.target.closest("[data-k]");
    if (!entry) return;
    const shot = this.shown[entry.dataset.k];
    if (event.target.closest("[data-tick]") || event.ctrlKey || event.metaKey) this.toggle(shot);
    this.look(Number(entry.dataset.k));
  }

  /** A place of the map: a shot is looked at, a pole goes into the fields. */
  picked({ shot, near }) {
    if (shot) this.look(this.shown.indexOf(shot), { fit: false });
    else if (this.may) this.fill(near);
  }

  /** @param {Answer.PoleNearShot} near */
  fill(near) {
    const { kind, structure, line, pole } = at("bench-say").elements;
    [kind.value, structure.value, pole.value] = ["pole", near.structure, near.pole];
    if (line) line.value = near.line;
    this.fitFields();
  }

  pressed(button) {
    if (!button) return;
    const { near, do: deed } = button.dataset;
    if (button.id === "bench-more") {
      this.many += AT_ONCE;
      this.list({ fit: false });
    } else if (near !== undefined && this.active) {
      const pole = this.active.near[near];
      void this.send("assign", [this.said(this.active, pole)]);
    } else if (deed === "all" || deed === "none") {
      this.chosen = new Set(deed === "all" ? this.shown.map(keyOf) : []);
      this.draw({ fit: false });
    } else if (deed === "back" && this.active?.decision) void this.send("take back", [], [this.active.decision.id]);
    else if (deed === "this aside" && this.active) void this.send("set aside", [this.said(this.active)]);
    else if (deed === "undo") void this.send("take back", [], this.last);
    else if (deed) this.fromFields(deed);
  }

  said({ file, row, point }, { line = "", structure = "", pole = "" } = {}) {
    return { file, row, point, line, structure, pole };
  }

  fromFields(deed) {
    const meant = this.meant();
    const { kind, pattern } = at("bench-say").elements;
    if (deed === "alike") void this.openAlike(meant[0]);
    if (deed === "close alike") at("bench-alike").hidden = true;
    if (deed === "read alike") void this.send("assign", [], [], pattern.value.trim());
    if (deed === "aside") void this.send("set aside", meant.map((shot) => this.said(shot)));
    if (deed === "nearest") void this.send("assign", meant.map((shot) => this.said(shot, shot.near[0])));
    if (deed === "assign") void this.send("assign", meant.map((shot) => ({ ...this.said(shot, this.named()), item: kind.value })));
  }

  /** What the fields name; nothing that the item has not. */
  named() {
    const { structure, line, pole } = at("bench-say").elements;
    return { line: line?.value, structure: structure.disabled ? "" : structure.value.trim(), pole: pole.disabled ? "" : pole.value };
  }

  /** Show how the description of a shot would read others: by what the fields say it is of, else as it is, else as it lies. */
  async openAlike(shot) {
    const form = at("bench-say").elements;
    const [near] = shot.near;
    if (form.kind.value === "pole" && !form.structure.value.trim()) this.fill(shot.state === "assigned" ? shot : near);
    at("bench-alike").hidden = false;
    await this.lookAlike({ ...this.said(shot, this.named()), pattern: "", row: String(shot.row), item: form.kind.value });
    form.pattern.focus();
  }

  async lookAlike(said) {
    const { pattern } = at("bench-say").elements;
    try {
      const found = await getAlike(said);
      if (said.pattern && said.pattern !== pattern.value) return;
      if (!said.pattern) pattern.value = found.pattern;
      render(at("alike-found"), alikeBox(found));
    } catch (failure) {
      render(at("alike-found"), html`<p>${failure.message}</p>`);
    }
  }

  /** Only a pressed button decides; an answer that may have arrived keeps its id, so that nothing is recorded twice. */
  async send(what, shots, decisions = [], pattern = "") {
    const { who, note } = at("bench-say").elements;
    at("bench-say").hidden = false;
    who.value = who.value.trim();
    note.setCustomValidity(what === "set aside" && !note.value.trim() ? "Say why these shots are not to be used" : "");
    if (this.sending || !who.reportValidity() || !note.reportValidity()) return;
    this.sending = true;
    say("");
    const asked = { what, shots, decisions, pattern, who: who.value, note: note.value.trim() };
    const content = JSON.stringify(asked);
    if (!this.ids.has(content)) this.ids.set(content, newId());
    try {
      const answer = await sendShots({ id: this.ids.get(content), ...asked });
      this.ids.delete(content);
      if (this.session.local) rememberName(asked.who);
      this.last = answer.decisions;
      this.chosen.clear();
      note.value = "";
      at("bench-alike").hidden = true;
      await this.changed();
      render(at("bench-done"), doneBox(answer, what));
      at("bench-done").querySelector("h3")?.focus();
    } catch (failure) {
      if (failure.status >= 400) this.ids.delete(content);
      sayInSight(`${failure.status ? "Nothing was recorded" : "It is not known whether this was recorded"}: ${failure.message}`);
    } finally {
      this.sending = false;
    }
  }
}

export { ShotBench };
