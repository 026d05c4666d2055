// Records on their way: each has its identifier from the tap on, and leaves only when the server has it.

import { JOB } from "../shared/request.js";
import { movesOf, placeOf } from "./place.js";
import { all, keys, read, waitingElsewhere, write } from "./db.js";
import { signature } from "./me.js";
import { mark, noteLoss } from "./memory.js";

/** @type {{ waiting: Phone.Entry[], sent: Phone.Entry[], photos: Phone.Photo[], elsewhere: { job: string, records: number, photos: number }[], events: Map<string, Phone.Entry[]> }} */
const kept = { waiting: [], sent: [], photos: [], elsewhere: [], events: new Map() };
const listeners = new Set();
const channel = new BroadcastChannel("linemap-outbox");

/** Call when the outbox changed, in this tab or another. */
const onChange = (listener) => listeners.add(listener);

/** Records not yet acknowledged, oldest first; `state` is "waiting" or "refused". */
const waiting = () => kept.waiting;

/** Records the server acknowledged and no copy of the job is known to hold, and those of the last days, newest first. */
const sent = () => kept.sent;

/** Photos not yet complete on the server, without their bytes. */
const photos = () => kept.photos;

/** What waits on this phone for other jobs that were served at this address: [{ job, records, photos }]. */
const elsewhere = () => kept.elsewhere;

/** How many things still have to reach the server. */
const count = () => kept.waiting.length + kept.photos.length;

const light = ({ data, ...rest }) => ({ ...rest, bytes: data.byteLength });

/** Read the outbox again and tell everyone. */
async function reload() {
  const [waitingNow, sentNow, photosNow, others] = await Promise.all([all("outbox"), all("sent"), all("photos"), waitingElsewhere()]);
  kept.waiting = waitingNow.sort((a, b) => a.at - b.at);
  kept.sent = sentNow.sort((a, b) => b.at - a.at);
  kept.photos = photosNow.map(light);
  kept.elsewhere = others;
  kept.events = eventsByPlace();
  mark({ waiting: waitingNow.length, photos: photosNow.length, sent: sentNow.length });
  listeners.forEach((listener) => listener());
}

channel.onmessage = () => void reload();

/** Tell this tab and the others that the outbox changed. */
async function changed() {
  await reload();
  channel.postMessage("changed");
}

/**
 * Keep a record and its photos; resolves when both are on the phone's disk.
 * `kind` is "event", "claim" or "briefing"; `body` is what the server will get. Events say who is signed in now.
 */
async function add(kind, said, pictures = []) {
  const body = kind === "event" ? { ...said, ...signature(), job: JOB } : said;
  const entry = { id: body.id, kind, at: Date.now(), body, state: "waiting", why: "", tried: false };
  await write(["outbox", "photos"], (store) => {
    store("outbox").add(entry);
    for (const picture of pictures) store("photos").add({ ...picture, event: body.id, state: "waiting", why: "", sent: 0 });
  });
  await changed();
  return entry;
}

/** Take back a record that was never tried; false when it may have reached the server already. */
async function takeBack(id) {
  return navigator.locks.request("linemap-send", async () => {
    const entry = await read("outbox", id);
    if (!entry || entry.tried) return false;
    const pictures = (await all("photos")).filter((photo) => photo.event === id);
    await write(["outbox", "photos"], (store) => {
      store("outbox").delete(id);
      pictures.forEach((photo) => store("photos").delete(photo.id));
    });
    await changed();
    return true;
  });
}

/** Records were handed to another phone, which may bring them to the server: they cannot be taken back unseen any more. */
async function handed(ids) {
  const some = new Set(ids);
  const own = (await all("outbox")).filter(({ id }) => some.has(id));
  await write(["outbox"], (store) => own.forEach((entry) => store("outbox").put({ ...entry, tried: true, handed: Date.now() })));
  await changed();
}

/** Keep what another phone handed over, each once: how many are fresh, how many were known, how many photos. */
async function takeIn(entries, pictures, from) {
  const [outbox, done, mine, sentPhotos] = await Promise.all(["outbox", "sent", "photos", "kept"].map(keys));
  const known = new Set([...outbox, ...done]);
  const there = new Set([...mine, ...sentPhotos]);
  const fresh = entries.filter(({ id }) => !known.has(id));
  const missing = pictures.filter(({ id }) => !there.has(id));
  await write(["outbox", "photos"], (store) => {
    for (const { id, kind, at, body } of fresh) store("outbox").add({ id, kind, at, body, state: "waiting", why: "", tried: true, from });
    for (const photo of missing) store("photos").add({ ...photo, state: "waiting", why: "", sent: 0 });
  });
  await changed();
  return { fresh: fresh.length, known: entries.length - fresh.length, pictures: missing.length };
}

/** While the browser is still dropping, it drops what is written too: so often, and after so long, it is tried again. */
const TRIES = 20;
const DROPPING_MS = 250;

/** The browser took away what this page keeps: write again what is still in memory, and say what is gone. */
async function rescue() {
  const { waiting: unsent, sent: done, photos: pictures } = kept;
  for (let tried = 1; ; tried += 1) {
    await new Promise((after) => setTimeout(after, DROPPING_MS));
    try {
      await write(["outbox", "sent"], (store) => {
        unsent.forEach((entry) => store("outbox").put(entry));
        done.forEach((entry) => store("sent").put(entry));
      });
      await noteLoss({ rescued: unsent.length, waiting: 0, photos: pictures.length, sent: 0 });
      break;
    } catch (error) {
      if (tried === TRIES) throw error;
    }
  }
  await changed();
}

const placeKey = (line, structure) => `${line}\n${structure}`;

function eventsByPlace() {
  const found = new Map();
  const events = [...kept.sent.toReversed(), ...kept.waiting].filter(({ kind, state }) => kind === "event" && state !== "refused");
  const moves = movesOf(events);
  for (const entry of events) {
    const { line, structure, body } = placeOf(entry, moves);
    const key = placeKey(line, structure);
    found.set(key, [...(found.get(key) ?? []), { ...entry, body }]);
  }
  return found;
}

/** Events of one structure made on this phone, oldest first, acknowledged ones included. */
const eventsAt = (line, structure) => kept.events.get(placeKey(line, structure)) ?? [];

/** Records of work made on this phone that count, by where they belong: [{ line, structure, entries }]. */
function workByPlace() {
  return [...kept.events].map(([key, entries]) => {
    const [line, structure] = key.split("\n");
    const superseded = new Set(entries.map(({ body }) => body.supersedes).filter(Boolean));
    const counts = ({ id, body }) => !["case", "moved"].includes(body.what) && body.result !== "withdrawn" && !superseded.has(id);
    return { line, structure, entries: entries.filter(counts) };
  });
}

export { workByPlace, onChange, waiting, sent, photos, elsewhere, count, reload, changed, add, takeBack, handed, takeIn, rescue, eventsAt };
