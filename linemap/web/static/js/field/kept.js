// What a phone keeps of what it sent, until a copy of the job holds it: held against the job, and sent again where the
// job lacks it, as one that was brought back from an older copy does.

import { keys, read, remember, write } from "./db.js";
import { askJson } from "./http.js";
import { me } from "./me.js";
import { isShort, lookAtMemory, mark, memory, toldByServer } from "./memory.js";
import { changed, photos, sent } from "./outbox.js";
import { index } from "./pack.js";
import { counted, momentWords, stamp } from "./words.js";

const DAY = 86_400_000;
/** Identifiers asked about at once. */
const MOST = 1000;

/** How far the record reached when this phone last saw it: newest event, newest links, life of the job, data version, when. */
/** @typedef {{ seq: number, newest: string, at: number, incarnation: string, version: number }} Witness */
/** What this phone saw and is not in the job any more (`lost`: of which chains), and what it sends again. */
/** @typedef {{ seq: number, lost: readonly string[], at: number, records: number, photos: number, otherLife: boolean }} Cut */

/** @type {{ witness: Witness | null, cut: Cut | null }} */
const state = { witness: null, cut: null };

/** Bring back what this phone saw of the record. */
async function restoreKept() {
  state.witness = (await read("meta", "witness")) ?? null;
  state.cut = (await read("meta", "cut")) ?? null;
}

/** How far the record reached when this phone last saw it; null = never. */
const witness = () => state.witness;

/**
 * Is an acknowledged record in a copy of the job that is kept?
 * @param {Phone.Entry} entry
 */
const isSafe = ({ kept }) => {
  const backup = index()?.backup;
  return Boolean(kept && backup && kept.incarnation === index().incarnation && kept.version <= backup.version);
};

/** Acknowledged records that no copy of the job is known to hold. */
const unsafe = () => sent().filter((entry) => !isSafe(entry));

async function ask(entries, pictures, seen) {
  const records = entries.map(({ id }) => id);
  const missing = new Set();
  for (let from = 0; ; from += MOST) {
    const body = {
      device: me().device,
      new: memory().wasEmpty,
      records: records.slice(from, from + MOST),
      photos: pictures.slice(from, from + MOST),
      seen: seen && { newest: seen.newest, at: stamp(seen.at) },
    };
    /** @type {Answer.Compared} */
    const answer = await askJson("POST", "/api/events/compare", { body });
    answer.missing.forEach((id) => missing.add(id));
    if (from + MOST >= Math.max(records.length, pictures.length)) return { ...answer, missing };
  }
}

/** What the job has stays kept, labelled with the version that has it; what it lacks goes out once more. */
async function sort(entries, pictures, { missing, incarnation, data_version: version }) {
  const lost = pictures.filter((id) => missing.has(id));
  await write(["outbox", "sent", "photos", "kept"], (store) => {
    for (const entry of entries) {
      if (missing.has(entry.id)) {
        store("sent").delete(entry.id);
        store("outbox").put({ ...entry, state: "waiting", why: "", tried: true, again: (entry.again ?? 0) + 1, kept: null });
      } else store("sent").put({ ...entry, kept: { incarnation, version } });
    }
    for (const id of lost) {
      store("kept").get(id).onsuccess = ({ target }) => {
        store("photos").put({ ...target.result, state: "waiting", why: "", sent: 0 });
        store("kept").delete(id);
      };
    }
  });
  return [entries.filter(({ id }) => missing.has(id)).length, lost.length];
}

async function note(name, value) {
  state[name] = value;
  await remember(name, value);
}

/** The pictures of some records that lie on this phone still. */
async function picturesOf(entries) {
  const here = new Set(await keys("kept"));
  return entries.flatMap(({ body }) => body.photos ?? []).filter((id) => here.has(id));
}

/**
 * Ask what became of what was sent: of what is not known to be there, or of all of it where the job is another life of
 * itself, went back, or lacks what this phone saw of it. Gives true when something has to go out once more. Throws as
 * `askJson` does.
 */
async function holdAgainstJob() {
  const { incarnation, data_version, record } = index();
  const before = state.witness;
  const otherLife = before !== null && (before.incarnation !== incarnation || data_version < before.version);
  let some = sent().filter(({ kept }) => otherLife || !kept || kept.incarnation !== incarnation);
  if (!some.length && before?.newest === record.newest && !otherLife && !memory().wasEmpty) return false;
  let pictures = await picturesOf(some);
  let answer = await ask(some, pictures, before);
  const { lost } = answer;
  if (lost.length && some.length < sent().length) {
    some = [...sent()];
    pictures = await picturesOf(some);
    answer = await ask(some, pictures, null);
  }
  await toldByServer(answer.from_device);
  const [records, again] = await sort(some, pictures, answer);
  if (before && (lost.length || records || again)) {
    await note("cut", { seq: before.seq, at: before.at, lost, records, photos: again, otherLife });
  }
  await note("witness", { ...answer.record, at: Date.now(), incarnation: answer.incarnation, version: answer.data_version });
  mark({ ...answer.record });
  await changed();
  return records + again > 0;
}

/** Somebody has read what became of the record. */
const cutRead = () => note("cut", null);

/** What became of the record that this phone saw, in sentences; "" = it is all there. */
function cutWords() {
  const { cut } = state;
  if (!cut) return "";
  const many = cut.records + cut.photos > 1;
  const what = [cut.records && counted(cut.records, "record"), cut.photos && counted(cut.photos, "photo")].filter(Boolean).join(" and ");
  const again = what && ` ${what} of this phone ${many ? "were" : "was"} missing and ${many ? "are" : "is"} sent again.`;
  if (cut.otherLife) return `The job was brought back from a copy. This phone had seen its record up to event ${cut.seq} on ${momentWords(cut.at)}.${again}`;
  if (!cut.lost.length) return `Not everything this phone had sent is in the job.${again}`;
  return `The record is not the one this phone saw on ${momentWords(cut.at)}, up to event ${cut.seq}: of its ${cut.lost.join(" and ")} something was cut or exchanged. Tell the office.${again}`;
}

async function giveUp(entries, pictures) {
  await write(["sent", "kept"], (store) => {
    entries.forEach(({ id }) => store("sent").delete(id));
    pictures.forEach((id) => store("kept").delete(id));
  });
}

/** Forget what a copy holds and was sent days ago; where memory is short, photos that the server has go first. */
async function forgetOld() {
  const travelling = new Set(photos().map(({ event }) => event));
  const old = sent().filter((entry) => entry.at < Date.now() - 4 * DAY && isSafe(entry) && !travelling.has(entry.id));
  if (old.length) await giveUp(old, await picturesOf(old));
  await lookAtMemory();
  if (isShort()) await giveUp([], (await picturesOf([...sent()].reverse())).slice(0, 20));
  if (old.length) await changed();
}

export { cutRead, cutWords, forgetOld, holdAgainstJob, isSafe, restoreKept, unsafe, witness };
