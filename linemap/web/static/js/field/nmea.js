// What a receiver says over its wire: NMEA 0183 sentences GGA, GST and RMC, put together to whole epochs.
//
// A sentence counts when its checksum holds. What is between sentences (other protocols, a line cut short) is
// passed over; a line cut short takes the sentence behind it along, as no end of it is seen.

/** Degrees, and what the receiver says of itself: standard deviations north and east in metres. */
/** @typedef {{ time: string, longitude: number, latitude: number, quality: number, age: number | null, north_m: number, east_m: number }} Epoch */

const START = 0x24;
const END = 0x0a;
const LONGEST = 1024;
/** Times of which a part is kept while the rest has not come. */
const OPEN = 8;

const isNumber = (text) => /^[-+]?(\d+\.?\d*|\.\d+)$/.test(text);

/** The content of a sentence, from $ to the line's end, or null when its checksum does not hold. */
function checked(sentence) {
  if (sentence.some((byte) => byte > 0x7f)) return null;
  const text = String.fromCharCode(...sentence).replace(/^[$\r\n]+|[$\r\n]+$/g, "");
  const star = text.indexOf("*");
  const content = text.slice(0, Math.max(star, 0));
  if (!content || content.includes("$")) return null;
  let sum = 0;
  for (let i = 0; i < content.length; i += 1) sum ^= content.charCodeAt(i);
  return text.slice(star + 1).toUpperCase() === sum.toString(16).toUpperCase().padStart(2, "0") ? content : null;
}

/** Degrees of (d)ddmm.mmmm with its hemisphere; NaN when it is none. */
function degrees(text, way) {
  const dot = text.indexOf(".");
  if (dot < 4 || !isNumber(text) || !/^[NSEW]$/.test(way)) return NaN;
  const size = Math.abs(Number(text.slice(0, dot - 2))) + Number(text.slice(dot - 2)) / 60;
  return way === "S" || way === "W" ? -size : size;
}

/** "150402.50" of any way to write hours, minutes and seconds; "" when it is none. */
function timeOf(text) {
  const parts = /^([01]\d|2[0-3])([0-5]\d)([0-5]\d)(\.\d{1,6})?$/.exec(text);
  return parts ? `${parts[1]}${parts[2]}${parts[3]}${Number(parts[4] ?? 0).toFixed(6).slice(1)}` : "";
}

const READ = {
  GGA: ([, latitude, ns, longitude, ew, quality, , , , , , , age]) => ({
    latitude: degrees(latitude, ns),
    longitude: degrees(longitude, ew),
    quality: /^\d+$/.test(quality) ? Number(quality) : NaN,
    age: isNumber(age ?? "") ? Number(age) : null,
  }),
  GST: ([, , , , , north, east]) => ({ north_m: isNumber(north ?? "") ? Number(north) : NaN, east_m: isNumber(east ?? "") ? Number(east) : NaN }),
  RMC: ([, status]) => ({ status }),
};

/** Puts the bytes of a wire together to epochs, however they arrive. */
class NmeaReader {
  /** @type {number[] | null} */
  #sentence = null;
  #parts = new Map();

  /**
   * Take in more bytes; gives the epochs that they make whole: GGA, GST and RMC of one time, valid by RMC.
   * @param {Uint8Array} bytes
   * @returns {Epoch[]}
   */
  push(bytes) {
    /** @type {Epoch[]} */
    const found = [];
    for (const byte of bytes) {
      const whole = this.#take(byte);
      const epoch = whole && this.#heard(whole);
      if (epoch) found.push(epoch);
    }
    return found;
  }

  /** A whole line when this byte ends one. A sentence begins with $ and the G of a talker or P. */
  #take(byte) {
    const sentence = this.#sentence;
    if (!sentence) {
      if (byte === START) this.#sentence = [byte];
      return null;
    }
    if (sentence.length === 1 && byte !== 0x47 && byte !== 0x50) {
      this.#sentence = null;
      return null;
    }
    sentence.push(byte);
    if (byte !== END && sentence.length < LONGEST) return null;
    this.#sentence = null;
    return byte === END ? sentence : null;
  }

  #heard(sentence) {
    const content = checked(sentence);
    const [head, ...fields] = (content ?? "").split(",");
    const read = /^G[A-Z]...$/.test(head) ? READ[head.slice(2)] : undefined;
    const time = read ? timeOf(fields[0] ?? "") : "";
    if (!read || !time) return null;
    const parts = this.#parts.get(time) ?? {};
    parts[head.slice(2)] = read(fields);
    this.#parts.set(time, parts);
    if (this.#parts.size > OPEN) this.#parts.delete(this.#parts.keys().next().value);
    if (!parts.GGA || !parts.GST || !parts.RMC) return null;
    this.#parts.delete(time);
    const epoch = { time, ...parts.GGA, ...parts.GST };
    const known = [epoch.latitude, epoch.longitude, epoch.quality, epoch.north_m, epoch.east_m].every(Number.isFinite);
    return known && parts.RMC.status === "A" ? epoch : null;
  }
}

/** Indicator of GGA -> what the receiver says its position is. */
const QUALITY = { 0: "no position", 1: "a position without corrections", 2: "a position with code corrections alone", 4: "fixed RTK", 5: "RTK that is not fixed (float)", 6: "dead reckoning", 7: "typed in by hand", 8: "simulated" };
const FIXED = 4;

/**
 * What a position is taken for: what the receiver says of it, and why it does not count, in words; "" = it counts.
 * `accuracy_m` is the root of the mean square distance that GST states, `sigma_m` that of one axis.
 * @param {Epoch} epoch
 * @param {{ gate_m: number, age_s: number }} rule
 */
function judgeEpoch({ longitude, latitude, quality, age, north_m, east_m }, rule) {
  const accuracy = Math.hypot(north_m, east_m);
  let why = "";
  if (quality !== FIXED) why = `the receiver says: ${QUALITY[quality] ?? `quality ${quality}`}`;
  else if (age === null) why = "the receiver does not say how old its corrections are";
  else if (age > rule.age_s) why = `its corrections are ${age.toFixed(0)} s old`;
  else if (accuracy > rule.gate_m) why = `good to ${accuracy.toFixed(3)} m by its own words (GST)`;
  return { longitude, latitude, accuracy_m: accuracy, sigma_m: accuracy / Math.SQRT2, why };
}

export { NmeaReader, judgeEpoch };
