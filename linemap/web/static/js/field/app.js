// The field page: starts from what is on the phone, shows one view at a time, and sends when it can.

import { html, render } from "../html.js";
import { showBanner } from "./banner.js";
import { claim, saveBriefing, showBriefing } from "./briefing.js";
import { showCard } from "./card.js";
import { findTyped, showLine } from "./line.js";
import { choose, me, restoreMe } from "./me.js";
import { showNext } from "./next.js";
import { forgetOld, onChange, reload } from "./outbox.js";
import { card as find, cards, index, refresh, restore } from "./pack.js";
import { prepare } from "./photo.js";
import { showPlan } from "./plan.js";
import { entryWords, save, showPlace, showRecord, undo, windWords } from "./record.js";
import { showSending } from "./sending.js";
import { send, startSending, tryAgain } from "./sync.js";
import { rest, watch } from "./where.js";

const part = (id) => document.getElementById(id);
const main = part("main");
const here = { view: "", card: null, last: null, pictures: [], progress: "" };
let toastTimer = 0;

const route = () => new URLSearchParams(location.hash.slice(1));
const banner = () => showBanner(part("strip"), part("alarm"), part("send-tab"));

function toast(words, id = "") {
  clearTimeout(toastTimer);
  const box = part("toast");
  render(box, html`<span>${words}</span>${id && html`<button type="button" data-do="undo" data-id="${id}">Undo</button>`}`);
  box.hidden = false;
  toastTimer = setTimeout(() => (box.hidden = true), 8000);
}

const VIEWS = {
  line: () => showLine(main, here.progress),
  next: () => showNext(main, here.last, () => here.view === "next"),
  send: () => showSending(main),
  card: () => showCard(main, here.card),
  record: () => showRecord(main, here.card, route().get("s")),
  briefing: () => showBriefing(main, here.card),
  plan: () => showPlan(main, here.card),
};
const NEEDS_CARD = new Set(["card", "record", "briefing", "plan"]);
const NEEDS_POSITION = new Set(["record", "next", "plan"]);

function located() {
  if (here.view === "record" && main.querySelector("[data-place]")) showPlace(main, here.card);
  if (here.view === "plan") showPlan(main, here.card);
}

function markTab() {
  const tab = NEEDS_CARD.has(here.view) ? "card" : here.view;
  for (const link of document.querySelectorAll("#tabs a")) {
    if (link.dataset.tab === tab) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  }
}

function show() {
  const asked = route();
  let view = asked.get("v") ?? (cards().length ? "card" : "line");
  here.card = find(asked.get("l") ?? "", asked.get("n") ?? "") ?? here.last ?? cards()[0] ?? null;
  if (NEEDS_CARD.has(view) && !here.card) view = "line";
  if (NEEDS_CARD.has(view)) here.last = here.card;
  here.view = VIEWS[view] ? view : "line";
  here.pictures = [];
  if (NEEDS_POSITION.has(here.view)) watch(located);
  else rest();
  VIEWS[here.view]();
  markTab();
  banner();
  document.documentElement.dataset.view = here.view;
  document.title = `${here.card?.number ?? "field"} – ${here.view}`;
}

function arrive() {
  show();
  window.scrollTo(0, 0);
  main.querySelector("h1")?.focus({ preventScroll: true });
}

/** Draw again what shows data; forms keep what is being typed. */
function again() {
  if (here.view === "card" || here.view === "line") {
    const opened = [...main.querySelectorAll("details[open] > summary > b")].map((summary) => summary.textContent);
    here.card = here.card && (find(here.card.line, here.card.number) ?? here.card);
    VIEWS[here.view]();
    for (const summary of main.querySelectorAll("details > summary > b")) summary.closest("details").open = opened.includes(summary.textContent);
  }
  if (here.view === "send" && !main.querySelector("form").contains(document.activeElement)) VIEWS.send();
  banner();
}

const go = (view, card = here.card) => {
  location.hash = new URLSearchParams(card ? { v: view, n: card.number, l: card.line } : { v: view });
};

async function load() {
  here.progress = "Loading…";
  again();
  try {
    await refresh((done, of) => {
      here.progress = `${done} of ${of} miles loaded`;
      const box = main.querySelector("[data-progress]");
      if (box) box.textContent = here.progress;
    });
    here.progress = "The whole line is on this phone.";
  } catch (error) {
    here.progress = `Stopped: ${error.message}. What was loaded stays.`;
  }
  await send({ now: true });
  again();
}

async function record(button) {
  const form = button.closest("form");
  form.querySelectorAll("button").forEach((other) => (other.disabled = true));
  try {
    const entry = await save(here.card, form, button.dataset.pole, here.pictures);
    await choose({ crew: entry.body.crew, actor: entry.body.actor });
    go("card");
    toast(`On this phone: ${entryWords(entry)}`, entry.id);
  } catch (error) {
    form.querySelectorAll("button").forEach((other) => (other.disabled = false));
    toast(`NOT SAVED: ${error?.message ?? "the phone's storage is full"}. Write it down and make room.`);
  }
}

const ACTIONS = {
  save: record,
  face: async ({ dataset }) => {
    await choose({ facing: dataset.facing });
    again();
    main.querySelector(`[data-facing="${dataset.facing}"]`)?.focus({ preventScroll: true });
  },
  claim: async () => {
    if (!me().crew) return go("send");
    await claim(here.card);
    toast(`Claimed for ${me().crew}, not confirmed until it is sent`);
    return again();
  },
  crew: async ({ dataset }) => {
    await choose({ crew: dataset.crew });
    show();
  },
  load,
  send: () => send({ now: true }),
  again: ({ dataset }) => tryAgain(dataset.id),
  undo: async ({ dataset }) => {
    toast(await undo(dataset.id));
    again();
  },
};

async function picturesTaken(input) {
  const said = main.querySelector("[data-photos]");
  for (const file of input.files) {
    said.textContent = "Keeping the photo…";
    try {
      here.pictures.push(await prepare(file));
      said.textContent = `${here.pictures.length} photo${here.pictures.length > 1 ? "s" : ""} with this record`;
    } catch (error) {
      said.textContent = error.message;
    }
  }
  input.value = "";
}

function typed({ target }) {
  const form = target.closest("form.record");
  if (!form || !["speed", "gust"].includes(target.name)) return;
  const { speed, gust } = form.elements;
  const words = windWords(Number(speed.value), Number(gust.value), index().wind_limit_mph);
  const said = form.querySelector("[data-wind]");
  said.textContent = words;
  said.className = words.includes("above") ? "hold hold" : "";
}

async function submitted(event) {
  event.preventDefault();
  const form = event.target;
  if (form.matches("[data-find]")) {
    const found = findTyped(form.elements.number.value);
    if (found.card) go("card", found.card);
    else main.querySelector("[data-found]").textContent = found.words;
  } else if (form.matches("[data-briefing]")) {
    await saveBriefing(here.card, form);
    go("card");
    toast("The briefing is on this phone");
  } else if (form.matches("[data-who]")) {
    await choose({ crew: form.elements.crew.value.trim(), actor: form.elements.actor.value.trim() });
    toast(`This phone records for ${me().crew || "no crew"}`);
  }
}

function wire() {
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-do]");
    if (button) void ACTIONS[button.dataset.do](button);
  });
  main.addEventListener("change", (event) => event.target.name === "photo" && void picturesTaken(event.target));
  main.addEventListener("input", typed);
  main.addEventListener("submit", (event) => void submitted(event));
  window.addEventListener("hashchange", arrive);
  setInterval(banner, 20000);
}

async function start() {
  wire();
  await Promise.all([restore(), restoreMe(), reload()]);
  onChange(again);
  arrive();
  document.documentElement.dataset.ready = "1";
  performance.mark("linemap-field-ready");
  await startSending(again);
  await forgetOld();
  await navigator.storage?.persist?.();
}

if ("serviceWorker" in navigator) void navigator.serviceWorker.register("/sw.js", { scope: "/" });
void start();
