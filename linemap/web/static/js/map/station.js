// Stations as people write and read them. Twin of linemap/geometry/station.py; both read the same test cases.

const SHAPE = new RegExp(
  String.raw`^(?:STATION|STA)?[.:]?\s*(?<sign>[+-]?)\s*` +
    String.raw`(?:(?<full>\d+)\s*\+\s*(?<part>\d+)(?<decimals>\.\d*)?|(?<plain>\d+(?:\.\d*)?|\d{1,3}(?:,\d{3})+(?:\.\d*)?))` +
    String.raw`\s*(?<side>BACK|BK|AHEAD|AH)?\.?` +
    String.raw`\s*(?:\(\s*(?:REGION\s*|R)(?<inner>\d+)\s*\)|(?:REGION\s*|R)(?<region>\d+))?$`,
);

function refusal(text, why) {
  return new RangeError(`"${text}" ${why}`);
}

/**
 * Value of the full+part form: the digits after the plus must be those of one full station.
 * @param {any} found
 * @param {number | null} perPlus
 * @param {string} text
 */
function plusValue({ full, part, decimals }, perPlus, text) {
  const allowed = perPlus ? { [String(perPlus).length - 1]: perPlus } : { 2: 100, 3: 1000 };
  const unit = allowed[part.length];
  if (!unit) {
    throw refusal(text, `has ${part.length} digits after the plus where ${Object.keys(allowed).join(" or ")} are needed`);
  }
  return Number(full) * unit + Number(part + (decimals ?? ""));
}

/**
 * Read "12+34.56", "1+234.560", "STA 953+52.50 (R2)", "118+40 BK" or a plain number.
 * Returns {value, side: "back"|"ahead"|null, region: number|null}; throws RangeError with what to do.
 * @param {string} text
 * @param {{ perPlus?: number | null }} [form]
 */
function parseStation(text, { perPlus = null } = {}) {
  const found = SHAPE.exec(String(text).trim().toUpperCase().replace(/[−–]/g, "-").replaceAll("\u00a0", " "))?.groups;
  if (!found) throw refusal(text, "is not a station; write it like 118+40.00, or as a plain number");
  const value = found.full ? plusValue(found, perPlus, text) : Number(found.plain.replaceAll(",", ""));
  const region = found.inner ?? found.region ?? null;
  if (region !== null && Number(region) < 1) throw refusal(text, `has region ${region}; regions count from 1`);
  let side = null;
  if (found.side) side = found.side.startsWith("B") ? "back" : "ahead";
  return { value: found.sign === "-" ? -value : value, side, region: region === null ? null : Number(region) };
}

/** True when the text has the plus of a station, so that a plain structure number is not taken for one. */
function looksLikeStation(text) {
  return /\d\s*\+\s*\d/.test(text);
}

/** Round half to even, as the server does, so that both print the same station. */
function roundEven(value) {
  const floor = Math.floor(value);
  const rest = value - floor;
  if (rest !== 0.5) return Math.round(value);
  return floor % 2 === 0 ? floor : floor + 1;
}

/** Write a station: 11840 -> "118+40.00". Carries correctly; "" for a value that is not a number. */
function formatStation(value, { perPlus = 100, decimals = 2 } = {}) {
  if (!Number.isFinite(value)) return "";
  const scale = 10 ** decimals;
  const count = roundEven(Math.abs(value) * scale);
  const full = Math.floor(count / (perPlus * scale));
  const rest = count - full * perPlus * scale;
  const part = String(Math.floor(rest / scale)).padStart(String(perPlus).length - 1, "0");
  const fraction = decimals ? `.${String(rest % scale).padStart(decimals, "0")}` : "";
  return `${value < 0 && count > 0 ? "-" : ""}${full}+${part}${fraction}`;
}

export { parseStation, looksLikeStation, formatStation };
