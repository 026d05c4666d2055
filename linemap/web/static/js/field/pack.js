// What the phone took along: the index and a head for every structure in memory, whole miles on the disk.

import { adopt, all, read, remember, write } from "./db.js";
import { headOf, workOf } from "./head.js";
import { askJson, askText } from "./http.js";
import { foldNumber, meantBy } from "../shared/number.js";

const HOUR = 3_600_000;
/** Miles asked for at once: as many as a browser opens connections to one server. */
const TOGETHER = 6;
/** Fetched miles that are written in one transaction: each one waits for the disk. */
const BATCH = 20;
/** Miles kept in memory with all they hold. */
const OPEN = 4;
/** Miles whose heads lie together on the disk: reading a thousand small records would take the start's time. */
const BLOCK = 64;

/** @type {{ index: Answer.FieldIndex | null, checkedAt: number, skew: number, heads: Phone.Head[], byKey: Map<string, Phone.Head>, byForm: Map<string, Phone.Head[]>, miles: Map<string, any>, open: Map<string, any>, notify: (done: number, wanted: number) => void }} */
const kept = { index: null, checkedAt: 0, skew: 0, heads: [], byKey: new Map(), byForm: new Map(), miles: new Map(), open: new Map(), notify: () => {} };

/** Call with (miles loaded, miles to load) while miles are being fetched, whoever asked for them. */
const watchLoading = (listener) => (kept.notify = listener);

const mileKey = (line, mile) => `${line}\n${mile}`;
const blockKey = ({ line, mile }) => mileKey(line, Math.floor(mile / BLOCK));
const cardKey = (line, number) => `${line}\n${number}`;

/**
 * The index as last fetched; null before the first time, and no view that needs it is shown then.
 * @returns {Answer.FieldIndex}
 */
const index = () => /** @type {Answer.FieldIndex} */ (kept.index);

/** A head of every structure on the phone, in line order; each knows its `line`. */
const heads = () => kept.heads;

/** When the phone last heard that what it has is the newest, milliseconds of its own clock; 0 = never. */
const checkedAt = () => kept.checkedAt;

/** Server clock minus phone clock, milliseconds, as last seen. */
const skew = () => kept.skew;

/** The heads of a line that a number may mean, written in any way. */
const headsMeant = (line, number) =>
  meantBy(number, (exact) => kept.byKey.get(cardKey(line, exact)), (form) => kept.byForm.get(cardKey(line, form)));

/** The head of a structure by any spelling of its number; undefined when none, or several, may be meant. */
function head(line, number) {
  const [found, another] = headsMeant(line, number);
  return another ? undefined : found;
}

/** All heads that a number may mean, of whatever line. */
const headsNumbered = (number) => (kept.index?.lines ?? []).flatMap((line) => headsMeant(line.name, number));

/** The line of a structure as the index has it. */
const lineOf = (found) => /** @type {Answer.FieldLine} */ (index().lines.find((line) => line.name === found.line));

/** The data version in which a structure is on the phone. */
const dataVersionOf = (found) => kept.miles.get(mileKey(found.line, found.mile))?.dataVersion ?? 0;

/** How often each crew recorded each step, mile by mile: [{crew: {step: times}}]. */
const work = () => [...kept.miles.values()].map(({ crews }) => crews);

/** The mile of a structure with everything: cards and context; undefined when it is not on the phone. */
async function mileOf(found) {
  const key = mileKey(found.line, found.mile);
  const known = kept.open.get(key) ?? (await read("miles", key));
  if (!known) return undefined;
  const mile = typeof known === "string" ? JSON.parse(known) : known;
  mile.structures.forEach((card) => (card.line = mile.line));
  kept.open.delete(key);
  kept.open.set(key, mile);
  if (kept.open.size > OPEN) kept.open.delete(String(kept.open.keys().next().value));
  return mile;
}

/**
 * The whole card of a structure.
 * @returns {Promise<Phone.Card | undefined>}
 */
async function cardOf(found) {
  const mile = await mileOf(found);
  return mile?.structures.find((card) => card.number === found.number);
}

/** Hours since the phone last heard from the server; a clock set back counts as stale. */
function hoursOld() {
  const hours = (Date.now() - kept.checkedAt) / HOUR;
  return hours < -0.1 ? Infinity : Math.max(hours, 0);
}

/** Is what the phone has older than the server allows? */
const isStale = () => !kept.index || hoursOld() > kept.index.stale_after_hours;

/** Miles of the index that are not on the phone in the index's version. */
function missing() {
  return (kept.index?.lines ?? []).flatMap((line) =>
    line.miles
      .filter((entry) => kept.miles.get(mileKey(line.name, entry.mile))?.version !== entry.version)
      .map((entry) => ({ line: line.name, ...entry })),
  );
}

/** Is a mile on the phone, in whatever version? */
const hasMile = (line, mile) => kept.miles.has(mileKey(line, mile));

function arrange() {
  kept.heads = [];
  kept.byKey = new Map();
  kept.byForm = new Map();
  for (const line of kept.index?.lines ?? []) {
    for (const { mile } of line.miles) {
      for (const found of kept.miles.get(mileKey(line.name, mile))?.heads ?? []) {
        found.line = line.name;
        kept.heads.push(found);
        kept.byKey.set(cardKey(line.name, found.number), found);
        const form = cardKey(line.name, foldNumber(found.number));
        kept.byForm.set(form, [...(kept.byForm.get(form) ?? []), found]);
      }
    }
  }
}

/** Bring the index and the heads into memory; needs no network. */
async function restore() {
  const [known, at, skewed, blocks] = await Promise.all([read("meta", "index"), read("meta", "checkedAt"), read("meta", "skew"), all("heads")]);
  Object.assign(kept, { index: known ?? null, checkedAt: at ?? 0, skew: skewed ?? 0 });
  kept.miles.clear();
  for (const entry of blocks.flatMap((text) => JSON.parse(text))) kept.miles.set(mileKey(entry.line, entry.mile), entry);
  if (kept.index && !missing().length) stampAll(kept.index.data_version);
  arrange();
}

/** All miles are of the index's data version, whichever version they were fetched in. */
function stampAll(version) {
  for (const entry of kept.miles.values()) entry.dataVersion = version;
}

async function fetchMile({ line, mile }, dataVersion) {
  const text = await askText("GET", `/api/field/mile?${new URLSearchParams({ line, mile })}`);
  const { version, structures } = JSON.parse(text);
  return { text, entry: { line, mile, version, dataVersion, crews: workOf(structures), heads: structures.map(headOf) } };
}

/** Write the blocks of heads that some miles lie in, as `miles` has them. */
function putHeads(store, miles, changed) {
  /** @type {Map<string, any[]>} */
  const blocks = new Map([...new Set(changed.map(blockKey))].map((key) => [key, []]));
  for (const entry of miles.values()) blocks.get(blockKey(entry))?.push(entry);
  for (const [key, entries] of blocks) store("heads").put(JSON.stringify(entries), key);
}

/** How frames are checked, for all cards that name a plan; fetched again only when a plan is new. */
async function fetchPlans(version) {
  if (version === undefined || (await read("meta", "checkPlans"))?.version === version) return;
  await remember("checkPlans", await askJson("GET", "/api/field/check_plans"));
}

/** The plan by which the frame of a card is checked; undefined when it is not on the phone, or none is possible. */
const planOf = async (card) => (await read("meta", "checkPlans"))?.plans[card.tape?.plan];

/** Miles become durable together, with their heads. */
async function keep(fetched) {
  if (!fetched.length) return;
  const keyed = fetched.map(({ entry, text }) => [mileKey(entry.line, entry.mile), entry, text]);
  const miles = new Map([...kept.miles, ...keyed]);
  await write(["miles", "heads"], (store) => {
    keyed.forEach(([key, , text]) => store("miles").put(text, key));
    putHeads(store, miles, fetched.map(({ entry }) => entry));
  });
  for (const [key, entry] of keyed) {
    kept.miles.set(key, entry);
    kept.open.delete(key);
  }
}

/** Fetch miles, several at once; what arrived is kept even when one of them fails. */
async function fetchMiles(wanted, dataVersion) {
  const row = wanted.values();
  /** @type {any[]} */
  let fetched = [];
  let done = 0;
  let written = Promise.resolve();
  const flush = () => {
    const full = fetched;
    fetched = [];
    written = written.then(() => keep(full));
    return written;
  };
  const one = async () => {
    for (const entry of row) {
      const mile = await fetchMile(entry, dataVersion);
      fetched.push(mile);
      kept.notify((done += 1), wanted.length);
      if (fetched.length >= BATCH) await flush();
    }
  };
  const ends = await Promise.allSettled(Array.from({ length: TOGETHER }, one));
  await flush();
  for (const end of ends) if (end.status === "rejected") throw end.reason;
}

/**
 * Fetch the index and the miles that changed. What was fetched stays even when the rest fails. Throws as
 * `askJson` does.
 */
async function refresh() {
  const began = Date.now();
  const fresh = await askJson("GET", "/api/field/index");
  if (await adopt(fresh.job)) location.reload();
  kept.index = fresh;
  kept.skew = Date.parse(fresh.server_time) - (began + Date.now()) / 2;
  await write(["meta"], (store) => {
    store("meta").put(fresh, "index");
    store("meta").put(kept.skew, "skew");
  });
  try {
    await fetchPlans(fresh.check_plans);
    await fetchMiles(missing(), fresh.data_version);
    stampAll(fresh.data_version);
    await dropGone();
  } finally {
    arrange();
  }
  kept.checkedAt = began;
  await remember("checkedAt", began);
}

/** Miles that the job no longer has leave the phone. */
async function dropGone() {
  const listed = new Set(index().lines.flatMap((line) => line.miles.map((entry) => mileKey(line.name, entry.mile))));
  const gone = [...kept.miles].filter(([key]) => !listed.has(key));
  if (!gone.length) return;
  gone.forEach(([key]) => kept.miles.delete(key));
  await write(["miles", "heads"], (store) => {
    gone.forEach(([key]) => store("miles").delete(key));
    putHeads(store, kept.miles, gone.map(([, entry]) => entry));
  });
}

export { watchLoading, index, heads, checkedAt, skew, head, headsNumbered, lineOf, dataVersionOf, work, mileOf, cardOf, hoursOld, isStale, missing, hasMile, planOf, restore, refresh };
