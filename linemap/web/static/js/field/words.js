// How times, days, lengths and addresses of views are written on the field page.

const FEET = 0.3048;
const WEEKDAY = new Intl.DateTimeFormat("en-GB", { weekday: "short" });
const DAY = new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "short", year: "numeric" });
const CLOCK = new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });

const dayOf = (at) => `${WEEKDAY.format(at)} ${DAY.format(at)}`;

/** "Fri 15 May 2026" of an ISO day. */
const dayWords = (iso) => dayOf(new Date(`${iso}T12:00:00`));

/** "07:12", with the day when it is not today. */
function clockWords(ms) {
  const at = new Date(ms);
  const today = at.toDateString() === new Date().toDateString();
  return today ? CLOCK.format(at) : `${dayOf(at)} ${CLOCK.format(at)}`;
}

/** "5 min ago", "3 h ago", "2 days ago". */
function agoWords(hours) {
  if (hours === Infinity) return "the phone's clock was set back";
  if (hours < 1 / 60) return "just now";
  if (hours < 1) return `${Math.floor(hours * 60)} min ago`;
  return hours < 48 ? `${Math.floor(hours)} h ago` : `${Math.floor(hours / 24)} days ago`;
}

const SHORT = new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "short" });

/** "22 May" of an ISO day; with the year when it is another year than that of `beside`. */
function shortDay(iso, beside = "") {
  const day = new Date(`${iso}T12:00:00`);
  return (iso.slice(0, 4) === beside.slice(0, 4) ? SHORT : DAY).format(day);
}

/** "5 May 10:53" of a moment, in this phone's time. */
function momentWords(moment) {
  const at = new Date(moment);
  return Number.isNaN(at.getTime()) ? moment : `${SHORT.format(at)} ${CLOCK.format(at)}`;
}

/** Local time with its offset, as records carry it: 2026-05-16T07:12:05.120-06:00. */
function stamp(ms) {
  const offset = -new Date(ms).getTimezoneOffset();
  const local = new Date(ms + offset * 60000).toISOString().slice(0, -1);
  const pad = (value) => String(Math.floor(value)).padStart(2, "0");
  return `${local}${offset < 0 ? "-" : "+"}${pad(Math.abs(offset) / 60)}:${pad(Math.abs(offset) % 60)}`;
}

/** Bytes in words: "412 kB". */
function sizeWords(bytes) {
  if (bytes < 1e6) return `${Math.ceil(bytes / 1000)} kB`;
  return bytes < 1e9 ? `${(bytes / 1e6).toFixed(1)} MB` : `${(bytes / 1e9).toFixed(1)} GB`;
}

/** A length in the line's unit, never finer than the fix allows. */
function lengthWords(metres, unit, accuracy = 0) {
  const per = unit === "m" ? 1 : FEET;
  const [most, name] = unit === "m" ? [1000, "km"] : [5280, "mi"];
  const value = metres / per;
  if (value >= most) return `${(value / most).toFixed(1)} ${name}`;
  const step = 10 ** Math.max(0, Math.floor(Math.log10(Math.max(accuracy / per, 10))));
  return `${(Math.round(value / step) * step).toLocaleString("en-US")} ${unit}`;
}

/** "± 16 ft". */
const accuracyWords = (metres, unit) => `± ${Math.ceil(metres / (unit === "m" ? 1 : FEET))} ${unit}`;

/** Hash address of a view of a structure. */
const viewLink = (view, card, more = {}) => `#${new URLSearchParams({ v: view, n: card.number, l: card.line, ...more })}`;

/** "1 record", "2 records". */
const counted = (count, word) => `${count} ${word}${count === 1 ? "" : "s"}`;

/** "check by tape: pass" of a record of a crew's own check of a frame. */
const checkWords = ({ content }) => `check by ${content?.method ?? "the crew"}: ${content?.verdict ?? "no verdict"}`;

export { checkWords, viewLink, counted, dayWords, clockWords, agoWords, shortDay, momentWords, stamp, sizeWords, lengthWords, accuracyWords };
