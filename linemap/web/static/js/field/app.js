// The field page: starts from what is on the phone, shows one view at a time, and sends when it can.

import { offerReleases } from "../shared/hold_release.js";
import { showBanner, toast } from "./banner.js";
import { showBriefing } from "./briefing.js";
import { backTo, showCard } from "./card.js";
import { restoreCases, showCases, showCasesOf, showMove, watchCases } from "./cases.js";
import { claim } from "./claims.js";
import { onDropped } from "./db.js";
import { findTyped, openAgain, openPart, openParts, sayProgress, showLine, showUnknown } from "./line.js";
import { keepBriefing, keepPunch, keepStep, typed } from "./forms.js";
import { choose, mayRelease, me, restoreMe } from "./me.js";
import { showNext, showWhere } from "./next.js";
import { HANDING, showHandOver } from "./hand_over.js";
import { cutRead, restoreKept } from "./kept.js";
import { lookAtMemory, lossRead, noticeLoss } from "./memory.js";
import { onChange, reload, rescue } from "./outbox.js";
import { cardOf, head, heads, missing, restore, watchLoading } from "./pack.js";
import { prepareAll } from "./photo.js";
import { showPlan } from "./plan.js";
import { showPunch } from "./punch.js";
import { showPhotos, showPlace, showRecord, takeAlong, undo } from "./record.js";
import { showRover } from "./rover.js";
import { showSending } from "./sending.js";
import { keepPage, showServed, writeAgain } from "./served.js";
import { send, startSending, status, tryAgain } from "./sync.js";
import { showTape } from "./tape.js";
import { fix, nearest, rest, watch } from "./where.js";

const part = (id) => document.getElementById(id);
const main = part("main");
/** What is shown: the view, its structure (head and card), the last structure, photos taken, which showing it is, may this person release holds. */
/** @type {{ view: string, card: Phone.Card | null, last: Phone.Head | Phone.Card | null, pictures: any[], carried: any[], turn: number, releases: boolean }} */
const here = { view: "", card: null, last: null, pictures: [], carried: [], turn: 0, releases: false };

const route = () => new URLSearchParams(location.hash.slice(1));
const banner = () => showBanner(part("strip"), part("alarm"), part("send-tab"));

const still = (turn = here.turn) => () => here.turn === turn;

const VIEWS = {
  line: () => showLine(main),
  next: () => showNext(main, here.last, still()),
  send: () => showSending(main),
  card: () => {
    if (here.card) {
      showCard(main, here.card);
      showCasesOf(main, here.card);
    }
    if (here.releases) void offerReleases(main, released);
  },
  record: () => showRecord(main, here.card, route().get("s"), route().get("x") ?? ""),
  briefing: () => showBriefing(main, here.card),
  punch: () => showPunch(main, here.card, route().get("i") ?? ""),
  plan: () => void showPlan(main, here.card, still()),
  tape: () => void showTape(main, here.card, still()),
  rover: () => void showRover(main, here.card, still()),
  unknown,
  hand: () => showHandOver(),
  cases: () => showCases(main),
  move: () => showMove(main, route().get("id")),
};
const NEEDS_CARD = new Set(["card", "record", "briefing", "punch", "plan", "tape", "rover"]);
const NEEDS_POSITION = new Set(["record", "next", "plan", "punch", "tape"]);

function located() {
  if (here.view === "record" && main.querySelector("[data-place]")) showPlace(main, here.card);
  if (here.view === "plan") VIEWS.plan();
  if (here.view === "next" && showWhere(main)) VIEWS.next();
}

function markTab() {
  const tab = NEEDS_CARD.has(here.view) ? "card" : here.view === "hand" ? "send" : here.view;
  for (const link of document.querySelectorAll("#tabs a")) {
    if (link.dataset.tab === tab) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  }
}

/** The structure an address names; of one that names none the last one looked at, the one the phone is at, the first. */
function asked(address) {
  const at = fix();
  const number = address.get("n");
  if (number) return (address.has("l") ? head(address.get("l"), number) : findTyped(number).head) ?? null;
  return here.last ?? (at && nearest(at)?.[0]) ?? heads()[0] ?? null;
}

/** An address names a structure that is not on the phone, or several may be meant: say so, and open no other. */
function unknown() {
  const number = route().get("n") ?? "";
  const line = route().get("l") ?? "";
  const words = findTyped(number).words ?? `${number} is on another line than ${line}.`;
  showUnknown(main, number, words, here.last);
}

/** The view the address asks for; without one, what is next. */
const wanted = () => route().get("v") ?? (heads().length ? "next" : "line");

async function show() {
  const address = route();
  const turn = (here.turn += 1);
  let view = wanted();
  const found = asked(address);
  const card = found && NEEDS_CARD.has(view) ? await cardOf(found) : null;
  if (turn !== here.turn) return;
  if (NEEDS_CARD.has(view) && !card) view = address.has("n") && heads().length ? "unknown" : "line";
  if (card) Object.assign(here, { card, last: found });
  here.view = VIEWS[view] ? view : "line";
  here.pictures = here.view === "record" ? here.carried : [];
  here.carried = [];
  if (NEEDS_POSITION.has(here.view)) watch(located);
  else rest();
  VIEWS[here.view]();
  if (here.pictures.length) showPhotos(main, here.pictures);
  markTab();
  banner();
  document.documentElement.dataset.view = here.view;
  document.title = `${here.card?.number ?? "field"} – ${here.view}`;
}

async function arrive() {
  await show();
  window.scrollTo(0, 0);
  main.querySelector("h1")?.focus({ preventScroll: true });
}

/** Is somebody typing in what would be drawn anew? */
const typing = () => main.contains(document.activeElement) && document.activeElement?.matches("input, textarea");

/** Draw again what shows data; forms keep what is being typed. */
async function again() {
  showServed(typing);
  banner();
  if (typing()) return;
  if (["line", "unknown"].includes(here.view) && wanted() !== "line" && VIEWS[wanted()] && heads().length) {
    await show(); // asked for before anything was loaded
    return;
  }
  if (here.view === "card") {
    const turn = here.turn;
    const known = here.last && (head(here.last.line, here.last.number) ?? here.last);
    const card = known && (await cardOf(known));
    if (turn !== here.turn || !card || typing()) return;
    here.card = card;
  }
  if (!["card", "line", "send", "cases"].includes(here.view)) return;
  const titles = openParts(main);
  VIEWS[here.view]();
  openAgain(main, titles);
}

async function released(sentence) {
  toast(`Recorded: ${sentence}`);
  await send({ now: true });
  main.querySelector(":focus")?.blur();
  await again();
}

/**
 * Go to a view, of the structure shown or of another one.
 * @param {string} view
 * @param {{ number: string, line: string } | null} [card]
 */
const go = (view, card = here.card) => {
  location.hash = String(new URLSearchParams(card ? { v: view, n: card.number, l: card.line } : { v: view }));
};

async function load(button) {
  button.disabled = true;
  sayProgress(main, "Loading…");
  await send({ now: true });
  sayProgress(main, missing().length || !heads().length ? `Stopped: ${status().error}. What was loaded stays.` : "The whole line is on this phone.");
  await again();
}

function record(button) {
  const back = backTo(here.card);
  return keepStep(here.card, button, here.pictures, async ({ body }) => {
    await choose({ crew: body.crew, actor: body.actor });
    back();
  });
}

const ACTIONS = {
  ...HANDING,
  save: record,
  there: ({ dataset }) => {
    here.carried = here.pictures;
    takeAlong(main.querySelector("form.record"), dataset);
  },
  face: async ({ dataset }) => {
    await choose({ facing: dataset.facing });
    await again();
    main.querySelector(`[data-facing="${dataset.facing}"]`)?.focus({ preventScroll: true });
  },
  claim: async () => {
    if (!me().crew) {
      go("next");
      return toast("First say which crew this phone is");
    }
    await claim(here.card);
    toast(`Claimed for ${me().crew}, not confirmed until it is sent`);
    return again();
  },
  crew: async ({ dataset }) => {
    await choose({ crew: dataset.crew });
    await show();
  },
  load,
  send: () => send({ now: true }),
  again: ({ dataset }) => tryAgain(dataset.id),
  drop: ({ dataset }) => {
    here.pictures = here.pictures.filter(({ id }) => id !== dataset.id);
    showPhotos(main, here.pictures);
  },
  turn: () => location.reload(),
  ask: async () => {
    await lookAtMemory(true);
    await again();
  },
  understood: async () => {
    await Promise.all([lossRead(), cutRead()]);
    banner();
  },
  undo: async ({ dataset }) => {
    toast(await undo(dataset.id));
    await again();
  },
};

async function picturesTaken(input) {
  await prepareAll(input.files, here.pictures, (words) => showPhotos(main, here.pictures, words));
  input.value = "";
}

async function submitted(event) {
  event.preventDefault();
  const form = event.target;
  if (form.matches("[data-find]")) {
    const found = findTyped(form.elements.number.value);
    if (found.head) go("card", found.head);
    else main.querySelector("[data-found]").textContent = found.words;
  } else if (form.matches("[data-briefing]")) {
    await keepBriefing(here.card, form, backTo(here.card));
  } else if (form.matches("[data-punch]")) {
    await keepPunch(here.card, form, here.pictures, backTo(here.card));
  } else if (form.matches("[data-who]")) {
    const { crew, actor } = form.elements;
    await choose({ crew: crew.value.trim(), ...(actor && { actor: actor.value.trim() }) });
    main.querySelector(":focus")?.blur();
    if (here.view === "next") VIEWS.next();
    toast(`This phone records for ${me().crew || "no crew"}`);
  }
}

function wire() {
  document.addEventListener("click", ({ target }) => {
    const button = /** @type {Element} */ (target).closest("[data-do]");
    if (button) void ACTIONS[button.dataset.do](button);
  });
  main.addEventListener("change", (event) => event.target.name === "photo" && void picturesTaken(event.target));
  main.addEventListener("toggle", (event) => event.target.matches("details.mile") && openPart(event.target), true);
  main.addEventListener("input", (event) => typed(here.card, event));
  main.addEventListener("submit", (event) => void submitted(event));
  window.addEventListener("hashchange", () => void arrive());
  setInterval(banner, 20000);
}

async function learnRole() {
  here.releases = (await mayRelease()) ?? here.releases;
  if (here.releases && here.view === "card") VIEWS.card();
}

async function start() {
  wire();
  watchCases(main, { again, find: findTyped, go, said: toast });
  await noticeLoss();
  await Promise.all([restore(), restoreMe(), restoreKept(), restoreCases()]);
  await reload();
  onDropped(() => void writeAgain(rescue, typing));
  onChange(() => void again());
  watchLoading((done, of) => sayProgress(main, `${done} of ${of} miles loaded`));
  await arrive();
  document.documentElement.dataset.ready = "1";
  performance.mark("linemap-field-ready");
  await startSending(() => void again());
  void learnRole();
  window.addEventListener("online", () => void learnRole());
  await lookAtMemory(true);
  if (here.view === "send") await again();
}

keepPage(typing);
void start();
