// Where the phone is. A fix tells structures apart, never the poles of one; a poor fix never stops anything.

import { heads, lineOf } from "./pack.js";
import { digitsExchanged } from "../shared/number.js";
import { accuracyWords, lengthWords } from "./words.js";

/** The server's rule for records, in metres: a poorer fix tells nothing; work around one structure; far away. */
const POOR = 150;
const WORK = 60.96;
const AWAY = 304.8;
const SURE = 2;
/** WGS 84 of phones and the datum of a design may differ by so much. */
const DATUM = 2;
const FRESH_MS = 60000;
/** WGS 84 radii for short distances. */
const EQUATOR = 6378137;
const FLATNESS = 1 / 298.257223563;

/** @type {{ fix: Phone.Fix | null, words: string, watching: number | null, notify: () => void }} */
const state = { fix: null, words: "position not asked for yet", watching: null, notify: () => {} };

/** Metres between two points a few kilometres apart: the ellipsoid's own curvature at the middle latitude. */
function distance(a, b) {
  const radians = Math.PI / 180;
  const e2 = FLATNESS * (2 - FLATNESS);
  const middle = ((a.latitude + b.latitude) / 2) * radians;
  const w = Math.sqrt(1 - e2 * Math.sin(middle) ** 2);
  const east = (b.longitude - a.longitude) * radians * (EQUATOR / w) * Math.cos(middle);
  const north = (b.latitude - a.latitude) * radians * ((EQUATOR * (1 - e2)) / w ** 3);
  return Math.hypot(east, north);
}

/**
 * The nearest structure to a point other than `except`, as [head, metres]; null when there is none.
 * @param {{ longitude: number, latitude: number }} point
 * @param {{ number: string, line: string } | null} except
 * @returns {[Phone.Head, number] | null}
 */
function nearest(point, except = null) {
  /** @type {[Phone.Head, number] | null} */
  let best = null;
  for (const card of heads()) {
    if (except && card.number === except.number && card.line === except.line) continue;
    const metres = distance(point, card);
    if (!best || metres < best[1]) best = [card, metres];
  }
  return best;
}

/**
 * Is a phone at a structure? Where the fix reaches to that one, to no other, and not beyond the work around it: "too
 * coarse", "at", "perhaps", "near" or "away", by the distances in metres from it and from the nearest other structure.
 */
function nearness(own, other, accuracy) {
  if (!(accuracy <= POOR)) return "too coarse";
  const good = Math.max(accuracy, DATUM);
  if (own <= good) return good <= WORK && other > good ? "at" : "perhaps";
  return own - good <= WORK ? "near" : "away";
}

/** What a fix says of the structure a record names: {verdict, at, sentence}. */
function judge(card, at) {
  const own = distance(at, card);
  const { unit } = lineOf(card);
  const near = nearest(at, card);
  const verdict = nearness(own, near ? near[1] : Infinity, at.accuracy_m);
  const around = accuracyWords(at.accuracy_m, unit);
  const said = (words) => ({ verdict, at: null, sentence: `The phone is ${words}` });
  if (verdict === "too coarse") return { verdict, at: null, sentence: `The position (${around}) is too poor to tell structures apart.` };
  const margin = SURE * at.accuracy_m;
  const far = lengthWords(own, unit, at.accuracy_m);
  if (near && near[1] + margin < own - margin && near[1] - margin <= WORK) {
    const [other, metres] = near;
    const place = nearness(metres, own, at.accuracy_m) === "at" ? `at ${other.number}` : `${lengthWords(metres, unit, at.accuracy_m)} from ${other.number}`;
    const asked = digitsExchanged(card.number, other.number) ? "Digits exchanged?" : `Is ${other.number} meant?`;
    return { verdict: "elsewhere", at: other, sentence: `The phone is ${place} (${around}), ${far} from ${card.number}. ${asked}` };
  }
  if (own - margin > AWAY) return { ...said(`${far} (${around}) away from ${card.number}.`), verdict: "elsewhere" };
  if (verdict === "at") return said(`at ${card.number} (${around}); a phone cannot tell the poles apart.`);
  if (verdict === "perhaps") return said(`perhaps at ${card.number}${near && near[1] <= at.accuracy_m ? ` or ${near[0].number}` : ""}: ${around} cannot tell.`);
  return said(`${verdict === "near" ? `near ${card.number}, ` : ""}${far} from ${verdict === "near" ? "it" : card.number} (${around}).`);
}

const METRES_PER_DEGREE = 111320;

/** How far along the span from one structure to the next a point lies (0..1), and right of it, metres. */
function onSpan(point, from, to) {
  const east = METRES_PER_DEGREE * Math.cos((from.latitude * Math.PI) / 180);
  const flat = (at) => [(at.longitude - from.longitude) * east, (at.latitude - from.latitude) * METRES_PER_DEGREE];
  const [[x, y], [spanX, spanY]] = [flat(point), flat(to)];
  const length = Math.hypot(spanX, spanY) || 1;
  return { share: (x * spanX + y * spanY) / length ** 2, right: (x * spanY - y * spanX) / length };
}

function stationWords(from, to, share, accuracy, { per_plus: full, unit }) {
  if (from.region !== to.region) return "";
  const step = Math.max(1, 10 ** Math.floor(Math.log10(Math.max(accuracy / (unit === "m" ? 1 : 0.3048), 1))));
  const station = Math.round((from.station + share * (to.station - from.station)) / step) * step;
  const past = String(Math.abs(station) % full).padStart(String(full).length - 1, "0");
  return `, ${station < 0 ? "-" : ""}${Math.floor(Math.abs(station) / full)}+${past}`;
}

/** Where a fix lies on the line by what is on the phone, in words and never finer than the fix; "" with no line. */
function onLine(at) {
  const found = nearest(at);
  if (!found) return "";
  const [close, metres] = found;
  const line = lineOf(close);
  const around = accuracyWords(at.accuracy_m, line.unit);
  if (nearness(metres, Infinity, at.accuracy_m) === "too coarse") return `about ${close.number}, too coarse a fix to tell structures apart, ${around}`;
  if (metres > 16 * AWAY) return `${lengthWords(metres, line.unit, at.accuracy_m)} from ${close.number}, the nearest structure, ${around}`;
  if (metres <= Math.max(at.accuracy_m, DATUM)) return `at or near ${close.number}, ${around}`;
  const place = heads().indexOf(close);
  const spans = [place - 1, place].map((first) => [heads()[first], heads()[first + 1]]).filter((pair) => pair.every((one) => one?.line === close.line));
  const inside = spans.map(([from, to]) => ({ from, to, ...onSpan(at, from, to) })).find(({ share }) => share >= 0 && share <= 1);
  if (!inside) return `${lengthWords(metres, line.unit, at.accuracy_m)} from ${close.number}, ${around}`;
  const { from, to, share, right } = inside;
  const side = Math.abs(right) <= at.accuracy_m ? "on line" : `${lengthWords(Math.abs(right), line.unit, at.accuracy_m)} ${right > 0 ? "right" : "left"}`;
  return `between ${from.number} and ${to.number}${stationWords(from, to, share, at.accuracy_m, line)}, ${side}, ${around}`;
}

/** The newest fix while it is fresh, as records carry it; null otherwise. */
function fix() {
  return state.fix && Date.now() - state.fix.at < FRESH_MS ? state.fix : null;
}

/** What can be said of the position itself. */
const words = () => state.words;

const WHY = { 1: "position not allowed on this phone", 2: "no position: no satellites in view", 3: "waiting for satellites" };

function failed(error) {
  state.words = WHY[error.code] ?? "no position";
  state.notify();
}

function got({ coords }) {
  state.fix = { longitude: coords.longitude, latitude: coords.latitude, accuracy_m: coords.accuracy, at: Date.now() };
  state.words = "";
  state.notify();
}

/** Ask for positions from now on; they stop with `rest`, and while the screen is off. */
function watch(listener) {
  state.notify = listener;
  if (state.watching !== null || !navigator.geolocation) return;
  if (!state.fix) state.words = "waiting for satellites";
  state.watching = navigator.geolocation.watchPosition(got, failed, { enableHighAccuracy: true, maximumAge: 5000, timeout: 30000 });
}

/** Stop asking: it costs the battery. */
function rest() {
  state.notify = () => {};
  if (state.watching === null) return;
  navigator.geolocation.clearWatch(state.watching);
  state.watching = null;
}

document.addEventListener("visibilitychange", () => document.hidden && rest());

/** A fix as records carry it. */
const asRecorded = (found) => found && { longitude: found.longitude, latitude: found.latitude, accuracy_m: found.accuracy_m };

export { asRecorded, distance, nearest, nearness, judge, onLine, fix, words, watch, rest };
