// Stations as people write and read them. Twin of linemap/geometry/station.py; both read the same test cases.

const SHAPE = new RegExp(
  String.raw`^(?:sta(?:tion)?\.?\s*:?\s*)?` + // STA 12+34
    String.raw`([+-]?)\s*(?:(\d+)\s*\+\s*(\d+)(\.\d*)?|(\d{1,3}(?:,\d{3})+|\d+)(\.\d*)?|(\.\d+))` +
    String.raw`\s*(?:'|ft|feet|m)?` +
    String.raw`\s*(bk|back|ah|ahead)?\.?\s*(?:\(?\s*r\s*(\d+)\s*\)?)?$`,
  "i",
);

function remedy(text) {
  return new RangeError(`"${text}" is no station; write it as 118+40.00, 1+234.560 or 11840`);
}

function sideOf(word) {
  if (!word) return null;
  return word[0].toLowerCase() === "b" ? "back" : "ahead";
}

/** Ground units in one full station: given, or told by the digits after the plus (three mean 1,000). */
function unitsPerPlus(rest, given, text) {
  if (given) {
    if (Number(rest) >= given) throw remedy(text);
    return given;
  }
  if (rest.length > 3) throw remedy(text);
  return rest.length === 3 ? 1000 : 100;
}

/**
 * Read "12+34.56", "1+234.560", "STA 953+52.50 (R2)", "118+40 BK" or a plain number.
 * Returns {value, side: "back"|"ahead"|null, region: number|null}; throws RangeError with what to do.
 */
export function parseStation(text, { perPlus = null } = {}) {
  const found = SHAPE.exec(String(text).trim().replaceAll("−", "-"));
  if (!found) throw remedy(text);
  const [, sign, full, rest, fraction, plain, plainFraction, bare, side, region] = found;
  let value;
  if (full !== undefined) value = Number(full) * unitsPerPlus(rest, perPlus, text) + Number(rest + (fraction ?? ""));
  else if (bare !== undefined) value = Number(bare);
  else value = Number(plain.replaceAll(",", "") + (plainFraction ?? ""));
  return { value: sign === "-" ? -value : value, side: sideOf(side), region: region ? Number(region) : null };
}

/** True when the text has the plus of a station, so that a plain structure number is not taken for one. */
export function looksLikeStation(text) {
  return /\d\s*\+\s*\d/.test(text);
}

/** Write a station: 11840 -> "118+40.00". Carries correctly; "" for a value that is not a number. */
export function formatStation(value, { perPlus = 100, decimals = 2 } = {}) {
  if (!Number.isFinite(value)) return "";
  const scale = 10 ** decimals;
  const units = Math.round(Math.abs(value) * scale + 1e-7);
  const full = Math.floor(units / (perPlus * scale));
  const rest = (units - full * perPlus * scale) / scale;
  const width = String(perPlus - 1).length + (decimals ? decimals + 1 : 0);
  const sign = value < 0 && units > 0 ? "-" : "";
  return `${sign}${full}+${rest.toFixed(decimals).padStart(width, "0")}`;
}
