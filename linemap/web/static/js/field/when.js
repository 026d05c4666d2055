// What of the phone's pack is in force now, to come or over: by the clock of the job's zone, whatever the phone's is.
// The rule is that of linemap/domain/crew/term.py; a test holds the two together.

import { checkedAt, index } from "./pack.js";

/** Signs of a day in ISO form. */
const DAY = 10;
/** What begins or ended within so many days is told beside what is in force. */
const NEAR_DAYS = 7;
const DAY_MS = 86_400_000;
const WEEKDAY = new Intl.DateTimeFormat("en-GB", { weekday: "short", timeZone: "UTC" });
const IN_FULL = new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "long", year: "numeric", timeZone: "UTC" });

/** @type {Map<string, Intl.DateTimeFormat>} */
const clocks = new Map();

/** What shows the time in a zone; one that this phone does not know, or "", is the phone's own. */
function clockIn(zone) {
  const known = clocks.get(zone);
  if (known) return known;
  /** @type {Intl.DateTimeFormatOptions} */
  const parts = { year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", hourCycle: "h23" };
  let made;
  try {
    made = new Intl.DateTimeFormat("en-GB", { ...parts, timeZone: zone || undefined });
  } catch {
    made = new Intl.DateTimeFormat("en-GB", parts);
  }
  clocks.set(zone, made);
  return made;
}

/** A moment by the clock of a zone: "2026-09-14T06:30". */
function localMoment(ms, zone) {
  const part = Object.fromEntries(clockIn(zone).formatToParts(ms).map(({ type, value }) => [type, value]));
  return `${part.year}-${part.month}-${part.day}T${part.hour}:${part.minute}`;
}

/** The job's zone; an index of an older version names none. */
const zone = () => index().zone ?? "";

/**
 * The moment that holds and tickets are held against, by the job's clock; of a job that is shown for another day that
 * whole day, "2026-05-15". A phone whose clock was set back takes the server's time when it last heard from it.
 */
function now() {
  const [known, second] = [index(), Math.floor(Date.now() / 1000)];
  if (told.index !== known || told.second !== second) Object.assign(told, { index: known, second, moment: momentOf(known) });
  return told.moment;
}

/** What `now` said last: thousands of structures are dated at once, and each reading of a zone's clock takes time. */
/** @type {{ index: Answer.FieldIndex | null, second: number, moment: string }} */
const told = { index: null, second: 0, moment: "" };

function momentOf({ as_of, server_time }) {
  const heard = Date.parse(server_time);
  if (as_of !== localMoment(heard, zone()).slice(0, DAY)) return as_of;
  return localMoment(Math.max(Date.now(), heard), zone());
}

/** Is a day today where the job lies? */
const isToday = (day) => localMoment(Math.max(Date.now(), Date.parse(index().server_time)), zone()).slice(0, DAY) === day;

/** The day of `now`. */
const today = () => now().slice(0, DAY);

/**
 * How something with a beginning and an end ("" = not given) stands at a moment: "to come", "in force" or "over".
 * @param {{ begins?: string, ends?: string }} term
 */
function standing({ begins = "", ends = "" }, at = now()) {
  if (begins && begins.slice(0, at.length) > at.slice(0, begins.length)) return "to come";
  if (!ends) return "in force";
  const over = Math.min(ends.length, at.length) > DAY ? at >= ends : at.slice(0, DAY) > ends.slice(0, DAY);
  return over ? "over" : "in force";
}

const dayMs = (iso) => Date.parse(`${iso.slice(0, DAY)}T00:00Z`);

/** Days from one moment's day to that of another. */
const daysFrom = (at, iso) => Math.round((dayMs(iso) - dayMs(at)) / DAY_MS);

/** "15 August 2026" of an ISO day or moment. */
const inFull = (iso) => IN_FULL.format(dayMs(iso));

/** A day, with its time where it has one, as people at a moment say it: "tomorrow", "Thu 06:00", "15 August 2026". */
function momentSaid(iso, at = now()) {
  const apart = daysFrom(at, iso);
  const near = { "-1": "yesterday", 0: "today", 1: "tomorrow" }[apart];
  const words = near ?? (apart > 1 && apart < NEAR_DAYS ? WEEKDAY.format(dayMs(iso)) : inFull(iso));
  return iso.length > DAY ? `${words} ${iso.slice(DAY + 1)}` : words;
}

/** Does it begin within the days that are told ahead? */
const isNear = ({ begins = "" }, at = now()) => begins !== "" && daysFrom(at, begins) <= NEAR_DAYS;

/** Was it over within the days that are told after? */
const endedLately = ({ ends = "" }, at = now()) => ends !== "" && daysFrom(ends, at) <= NEAR_DAYS;

/** What a hold that is to come means; `free` = nothing else holds until then. */
function comingWords({ id, kind, begins = "", condition = "" }, free = true, at = now()) {
  const conditional = kind === "conditional";
  const [from, then] = [momentSaid(begins, at), conditional ? `only with ${condition} (${id})` : `hold ${id}`];
  if (free && begins.length > DAY) return `free until ${from} by the records, then ${then}`;
  return conditional ? `from ${from} ${then}` : `${then} from ${from}`;
}

/**
 * How a ticket stands on a day: until when it is valid, or why it is not.
 * @param {Answer.CardTicket} ticket
 */
function ticketTerm({ valid_from: first, valid_to: last, waits }, day = today()) {
  if (!last) return `has no last day as of ${inFull(day)}`;
  if (last < day) {
    const days = daysFrom(last, day);
    return `expired ${inFull(last)}, ${days} day${days > 1 ? "s" : ""} ago`;
  }
  if (first && day < first) return `begins ${inFull(first)}`;
  if (waits) return `waits for answers as of ${inFull(day)} (${waits})`;
  return `valid until ${inFull(last)}`;
}

/** Does a ticket serve a step on a day? `anchors` = the step sets anchors. */
const ticketServes = ({ valid_from: first, valid_to: last, waits, anchors: covered }, anchors, day = today()) =>
  last !== "" && day <= last && (!first || first <= day) && !waits && (covered || !anchors);

/** When the pack is from an earlier day of the job's calendar: since when nothing newer can be known here; "" = today's. */
function agedWords() {
  const at = now();
  if (at.length === DAY || !checkedAt()) return "";
  const loaded = localMoment(checkedAt(), zone());
  return loaded.slice(0, DAY) < at.slice(0, DAY) ? momentSaid(loaded, at) : "";
}

export { agedWords, comingWords, endedLately, isNear, isToday, localMoment, momentSaid, now, standing, ticketServes, ticketTerm, today };
