// What the phone keeps: one IndexedDB. A write counts only once its transaction is complete and durable.

import { JOB } from "../shared/request.js";

/** Version 0.1.0 kept everything under this name, of whatever job. */
const OLDER = "linemap-field";
const NAME = `${OLDER}-${JOB}`;
/** What leaves the phone only once a server has it, and what a person chose. */
const OWN = ["outbox", "sent", "photos"];
/** `photos` are on their way; `kept` are those that a server has, until a copy of the job holds them too. */
const STORES = { meta: null, miles: null, heads: null, outbox: "id", sent: "id", photos: "id", kept: "id" };

let opening = null;
const state = { isNew: false, dropped: () => {} };

/** Was nothing there when it was opened? The page begins, or the browser has dropped it. */
const isNew = () => state.isNew;

/** Call when the browser takes away what this open page keeps. */
const onDropped = (listener) => (state.dropped = listener);

/** Create what is not there yet. Miles of an older shape are given up: they are on the server, records are not. */
function upgrade(db, asked, from) {
  for (const [name, keyPath] of Object.entries(STORES)) {
    if (!db.objectStoreNames.contains(name)) db.createObjectStore(name, keyPath ? { keyPath } : undefined);
  }
  if (from === 1) asked.transaction.objectStore("miles").clear();
  state.isNew = !from;
}

function open() {
  opening ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, 3);
    asked.onupgradeneeded = ({ oldVersion }) => upgrade(asked.result, asked, oldVersion);
    asked.onsuccess = () => {
      asked.result.onversionchange = () => asked.result.close();
      asked.result.onclose = () => {
        opening = null;
        state.dropped();
      };
      resolve(asked.result);
    };
    asked.onerror = () => {
      opening = null;
      reject(asked.error);
    };
  });
  return opening;
}

/** Change stores in one durable transaction; `work` gets a function from store name to store. */
async function write(names, work) {
  const db = await open();
  return /** @type {Promise<void>} */ (new Promise((resolve, reject) => {
    const transaction = db.transaction(names, "readwrite", { durability: "strict" });
    transaction.oncomplete = () => resolve();
    transaction.onerror = () => reject(transaction.error);
    transaction.onabort = () => reject(transaction.error);
    work((name) => transaction.objectStore(name));
  }));
}

async function ask(name, question) {
  const db = await open();
  return new Promise((resolve, reject) => {
    const asked = question(db.transaction(name).objectStore(name));
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
}

/** The value kept under a key, undefined when there is none. */
const read = (name, key) => ask(name, (store) => store.get(key));

/** All values of a store. */
const all = (name) => ask(name, (store) => store.getAll());

/** The keys of a store. */
const keys = (name) => ask(name, (store) => store.getAllKeys());

const done = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

/** Open what the phone keeps of other jobs, one after the other, and look at each with `look`. */
async function others(look) {
  const found = [];
  for (const { name = "" } of (await indexedDB.databases?.()) ?? []) {
    if (name === NAME || (name !== OLDER && !name.startsWith(`${OLDER}-`))) continue;
    const db = await done(indexedDB.open(name));
    try {
      if (OWN.every((store) => db.objectStoreNames.contains(store))) found.push(await look(db, name));
    } finally {
      db.close();
    }
  }
  return found;
}

/** What waits on this phone for other jobs: [{ job, records, photos }], `job` its name. */
async function waitingElsewhere() {
  const counted = await others(async (db) => {
    const store = (name) => db.transaction(name).objectStore(name);
    const index = await done(store("meta").get("index"));
    const [records, photos] = [await done(store("outbox").count()), await done(store("photos").count())];
    return { job: index?.job ?? "another job", records, photos };
  });
  return counted.filter(({ records, photos }) => records + photos);
}

/**
 * Take over what version 0.1.0 kept, which knew jobs by name only: once, and only when it was of a job of this name.
 * Gives true when there was something.
 */
async function adopt(job) {
  const [kept] = await others(async (db, name) => {
    if (name !== OLDER) return null;
    const store = (of) => db.transaction(of).objectStore(of);
    const index = await done(store("meta").get("index"));
    if (index && index.job !== job) return null;
    const rows = await Promise.all(OWN.map((of) => done(store(of).getAll())));
    return { rows, me: await done(store("meta").get("me")) };
  }).then((found) => found.filter(Boolean));
  if (!kept) return false;
  await write([...OWN, "meta"], (store) => {
    OWN.forEach((name, at) => kept.rows[at].forEach((row) => store(name).put(row)));
    if (kept.me) store("meta").put(kept.me, "me");
  });
  indexedDB.deleteDatabase(OLDER);
  return true;
}

/** Keep one small fact under a name. */
const remember = (name, value) => write(["meta"], (store) => store("meta").put(value, name));

export { isNew, onDropped, write, read, all, keys, remember, waitingElsewhere, adopt };
