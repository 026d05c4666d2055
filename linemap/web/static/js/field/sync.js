// Sending: one tab at a time, each record until the server acknowledges its identifier, photos after records.

import { all, read, remember, write } from "./db.js";
import { askJson, Refused, Unreachable } from "./http.js";
import { forgetOld, holdAgainstJob } from "./kept.js";
import { changed, count, reload, waiting } from "./outbox.js";
import { refresh } from "./pack.js";
import { send as sendPhoto } from "./photo.js";

const BATCH = 100;
/** A record waits this long before it is sent unasked, so that a slip of the finger can be taken back. */
const GRACE_MS = 6000;
const AGAIN_MS = 30000;
const SINGLE = { claim: "/api/claims", briefing: "/api/briefings" };

const state = { contact: 0, words: "", busy: false, signIn: false, otherJob: false, error: "" };
/** When it is sent next, and whom to tell that something about sending changed. */
const turn = { timer: 0, changed: () => {} };

/**
 * Last successful contact (phone clock, 0 = never), what went wrong last (in words, and bare), is sending going on,
 * is a sign-in needed, is another job served at this address now.
 */
const status = () => state;

async function heard() {
  Object.assign(state, { contact: Date.now(), words: "", error: "", signIn: false, otherJob: false });
  await remember("contact", state.contact);
}

const stop = (error) => {
  state.error = error.message;
  state.otherJob = error instanceof Refused && error.code === "another_job";
  if (state.otherJob) {
    state.words = "This address serves another job now. Nothing of this job was sent; it waits on this phone.";
  } else if (error instanceof Refused && [401, 403].includes(error.status)) {
    state.signIn = true;
    state.words = `The server asks for a sign-in: ${error.message}. Nothing is lost; it waits on this phone.`;
  } else if (error instanceof Unreachable || error instanceof Refused) {
    state.words = `Not sent: ${error.message}. It waits on this phone.`;
  } else throw error;
};

/** What the server said of one entry becomes durable in one step: out of the outbox, into the sent list. */
const settle = (entry, result, version) =>
  write(["outbox", "sent"], (store) => {
    if (result.outcome === "refused") {
      store("outbox").put({ ...entry, state: "refused", why: result.why || "the server gave no reason" });
      return;
    }
    store("outbox").delete(entry.id);
    store("sent").put({ ...entry, state: "sent", version, findings: result.findings ?? [], kept: null });
  });

const markTried = (entries) =>
  write(["outbox"], (store) => entries.forEach((entry) => store("outbox").put(Object.assign(entry, { tried: true }))));

async function postEvents(entries) {
  const body = { sent_at: new Date().toISOString(), events: entries.map((entry) => entry.body) };
  try {
    const answer = await askJson("POST", "/api/events", { body });
    const results = new Map(answer.results.map((result) => [result.id, result]));
    for (const entry of entries) {
      if (results.has(entry.id)) await settle(entry, results.get(entry.id), answer.data_version);
    }
  } catch (error) {
    if (!(error instanceof Refused) || error.waits) throw error;
    await divide(entries, error);
  }
}

/** A batch refused as a whole is halved until the one record that cannot be read is alone. */
async function divide(entries, error) {
  if (entries.length === 1) {
    await settle(entries[0], { outcome: "refused", why: error.message });
    return;
  }
  const half = entries.length >> 1;
  await postEvents(entries.slice(0, half));
  await postEvents(entries.slice(half));
}

/** What the answer to a claim or a briefing asks a person to look at. */
function remarks({ claim, not_covered }) {
  if (claim?.others.length) return [claim.sentence];
  return not_covered?.length ? [`nothing written down of: ${not_covered.join(", ")}`] : [];
}

async function postOne(entry) {
  try {
    const answer = await askJson("POST", SINGLE[entry.kind], { body: entry.body });
    await settle(entry, { outcome: "stored", findings: remarks(answer) }, answer.data_version);
  } catch (error) {
    if (!(error instanceof Refused) || error.waits) throw error;
    await settle(entry, { outcome: "refused", why: error.message });
  }
}

async function sendRecords(everything) {
  const latest = everything ? Infinity : Date.now() - GRACE_MS;
  const due = (await all("outbox")).filter((entry) => entry.state === "waiting" && entry.at <= latest);
  due.sort((a, b) => a.at - b.at);
  await markTried(due);
  const events = due.filter(({ kind }) => kind === "event");
  for (let from = 0; from < events.length; from += BATCH) {
    await postEvents(events.slice(from, from + BATCH));
    await heard();
    await changed();
  }
  for (const entry of due.filter(({ kind }) => kind !== "event")) {
    await postOne(entry);
    await heard();
    await changed();
  }
  return due.length;
}

async function sendPhotos() {
  for (const photo of await all("photos")) {
    if (photo.state === "refused" || (await read("outbox", photo.event))) continue;
    await sendPhoto(photo.id, async () => {
      await heard();
      await reload();
    });
  }
  await changed();
}

async function drain(everything) {
  state.busy = true;
  turn.changed();
  try {
    await sendRecords(everything);
    await sendPhotos();
    await refresh();
    await heard();
    if (await holdAgainstJob()) {
      await sendRecords(true);
      await sendPhotos();
      await holdAgainstJob();
    }
    await forgetOld();
  } catch (error) {
    stop(error);
  } finally {
    state.busy = false;
    await reload();
    turn.changed();
    plan();
  }
}

/** Send what is due; `now` sends everything and waits for its turn when another tab is sending. */
function send({ now = false } = {}) {
  return navigator.locks.request("linemap-send", now ? {} : { ifAvailable: true }, (lock) => lock && drain(now));
}

function plan() {
  clearTimeout(turn.timer);
  const wait = waiting().some((entry) => entry.state === "waiting" && !entry.tried) ? GRACE_MS + 500 : AGAIN_MS;
  if (count()) turn.timer = setTimeout(() => void send(), wait);
}

/** Put a refused record back in the row of what is sent. */
async function tryAgain(id) {
  await navigator.locks.request("linemap-send", async () => {
    for (const name of ["outbox", "photos"]) {
      const entry = await read(name, id);
      if (entry) await write([name], (store) => store(name).put({ ...entry, state: "waiting", why: "" }));
    }
  });
  await changed();
  await send({ now: true });
}

/** Send by itself from now on; `changedSending` is called when anything about sending changed. */
async function startSending(changedSending) {
  turn.changed = changedSending;
  state.contact = (await read("meta", "contact")) ?? 0;
  window.addEventListener("online", () => void send());
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && void send());
  void send();
}

/** A record was added: send it after its time of grace. */
const soon = plan;

export { status, send, tryAgain, startSending, soon };
