// What the phone took along: the index, and every structure by mile with the version it was fetched in.

import { all, read, remember, write } from "./db.js";
import { askJson } from "./http.js";
import { sameNumber } from "./number.js";

const HOUR = 3_600_000;
const kept = { index: null, checkedAt: 0, skew: 0, cards: [], byKey: new Map(), miles: new Map() };

const mileKey = (line, mile) => `${line}\n${mile}`;
const cardKey = (line, number) => `${line}\n${number}`;

/** The index as last fetched; null before the first time. */
export const index = () => kept.index;

/** Every structure on the phone, in line order; each card knows its `line` and `dataVersion`. */
export const cards = () => kept.cards;

/** When the phone last heard that what it has is the newest, milliseconds of its own clock; 0 = never. */
export const checkedAt = () => kept.checkedAt;

/** Server clock minus phone clock, milliseconds, as last seen. */
export const skew = () => kept.skew;

/** The card of a structure by any spelling of its number; undefined when it is not on the phone. */
export const card = (line, number) => kept.byKey.get(cardKey(line, sameNumber(number)));

/** All cards with that number, of whatever line. */
export const cardsNumbered = (number) =>
  kept.index.lines.map((line) => card(line.name, number)).filter(Boolean);

/** The mile pack of a card: context features and all. */
export const mileOf = (found) => kept.miles.get(mileKey(found.line, found.mile));

/** The line of a card as the index has it. */
export const lineOf = (found) => kept.index.lines.find((line) => line.name === found.line);

/** Hours since the phone last heard from the server; a clock set back counts as stale. */
export function hoursOld() {
  const hours = (Date.now() - kept.checkedAt) / HOUR;
  return hours < -0.1 ? Infinity : Math.max(hours, 0);
}

/** The day that holds and tickets are held against: today, unless the job is shown for an earlier day. */
export function dayNow() {
  const { as_of, server_time } = kept.index;
  const now = new Date(Date.now() - new Date().getTimezoneOffset() * 60000).toISOString().slice(0, 10);
  return as_of < server_time.slice(0, 10) ? as_of : now;
}

/** Is what the phone has older than the server allows? */
export const isStale = () => !kept.index || hoursOld() > kept.index.stale_after_hours;

/** Miles of the index that are not on the phone in the index's version. */
export function missing() {
  return kept.index.lines.flatMap((line) =>
    line.miles
      .filter((entry) => kept.miles.get(mileKey(line.name, entry.mile))?.version !== entry.version)
      .map((entry) => ({ line: line.name, ...entry })),
  );
}

/** Is a mile on the phone, in whatever version? */
export const hasMile = (line, mile) => kept.miles.has(mileKey(line, mile));

function arrange() {
  kept.cards = [];
  kept.byKey = new Map();
  for (const line of kept.index?.lines ?? []) {
    for (const { mile } of line.miles) {
      for (const found of kept.miles.get(mileKey(line.name, mile))?.structures ?? []) {
        kept.cards.push(found);
        kept.byKey.set(cardKey(line.name, found.number), found);
      }
    }
  }
}

function take(pack) {
  for (const found of pack.structures) Object.assign(found, { line: pack.line, dataVersion: pack.dataVersion });
  kept.miles.set(mileKey(pack.line, pack.mile), pack);
}

/** Bring what is on the phone into memory; needs no network. */
export async function restore() {
  const [known, at, skewed, miles] = await Promise.all([
    read("meta", "index"),
    read("meta", "checkedAt"),
    read("meta", "skew"),
    all("miles"),
  ]);
  Object.assign(kept, { index: known ?? null, checkedAt: at ?? 0, skew: skewed ?? 0 });
  kept.miles.clear();
  miles.forEach(take);
  if (kept.index && !missing().length) stampAll(kept.index.data_version);
  arrange();
}

/** All miles are of the index's data version, whichever version they were fetched in. */
function stampAll(version) {
  for (const pack of kept.miles.values()) {
    pack.dataVersion = version;
    take(pack);
  }
}

async function fetchMile({ line, mile }, dataVersion) {
  const asked = new URLSearchParams({ line, mile });
  const pack = await askJson("GET", `/api/field/mile?${asked}`);
  pack.dataVersion = dataVersion;
  await write(["miles"], (store) => store("miles").put(pack, mileKey(line, mile)));
  take(pack);
}

/**
 * Fetch the index and the miles that changed; `progress(done, of)` is called after each mile.
 * What was fetched stays even when the rest fails. Throws as `askJson` does.
 */
export async function refresh(progress = () => {}) {
  const began = Date.now();
  const fresh = await askJson("GET", "/api/field/index");
  kept.index = fresh;
  kept.skew = Date.parse(fresh.server_time) - (began + Date.now()) / 2;
  await write(["meta"], (store) => {
    store("meta").put(fresh, "index");
    store("meta").put(kept.skew, "skew");
  });
  const wanted = missing();
  for (const [done, entry] of wanted.entries()) {
    progress(done, wanted.length);
    await fetchMile(entry, fresh.data_version);
  }
  stampAll(fresh.data_version);
  await dropGone();
  kept.checkedAt = began;
  await remember("checkedAt", began);
  arrange();
  progress(wanted.length, wanted.length);
}

/** Miles that the job no longer has leave the phone. */
async function dropGone() {
  const listed = new Set(kept.index.lines.flatMap((line) => line.miles.map((entry) => mileKey(line.name, entry.mile))));
  const gone = [...kept.miles.keys()].filter((key) => !listed.has(key));
  if (!gone.length) return;
  gone.forEach((key) => kept.miles.delete(key));
  await write(["miles"], (store) => gone.forEach((key) => store("miles").delete(key)));
}
