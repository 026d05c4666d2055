// What one phone hands to another, packed small: a text that a file holds, or a row of square codes.

import { JOB } from "../shared/request.js";

const HEADING = "Records of linemap, handed over by a phone. Open this file on another phone of the job: field page, Send, Hand over.";
/** Signs of square codes that take 5.5 bits each (ISO/IEC 18004), and the base of RFC 9285 over them. */
const SIGNS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:";
const BASE = SIGNS.length;
/** Bytes in one code: a code of 57 to 61 modules a side, which small screens show and old cameras read. */
const PIECE = 200;
/** Codes a person still waits for; more goes by a file. */
const MOST_CODES = 120;
const CODE = /^LM1:([0-9A-F]{8}):(\d{1,3}):(\d{1,3}):(.+)$/s;

async function through(bytes, stream) {
  const answer = new Response(new Blob([bytes]).stream().pipeThrough(stream));
  return new Uint8Array(await answer.arrayBuffer());
}

const toBase64 = (bytes) => {
  let text = "";
  for (let from = 0; from < bytes.length; from += 32768) text += String.fromCharCode(...bytes.subarray(from, from + 32768));
  return btoa(text);
};

const fromBase64 = (text) => Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));

/** Pack records and the photos of some of them: bytes. */
async function pack(entries, photos, from) {
  const parcel = {
    job: JOB,
    from,
    entries: entries.map(({ id, kind, at, body }) => ({ id, kind, at, body })),
    photos: photos.map(({ id, event, type, taken, data }) => ({ id, event, type, taken, data: toBase64(new Uint8Array(data)) })),
  };
  return through(new TextEncoder().encode(JSON.stringify(parcel)), new CompressionStream("deflate-raw"));
}

const UUID = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/;
const KINDS = ["event", "claim", "briefing"];
const isEntry = ({ id, kind, at, body }) => UUID.test(id) && KINDS.includes(kind) && Number.isFinite(at) && body?.id === id && typeof body.structure === "string";

/** Unpack: { from, entries, photos }. Throws an Error in plain words when it is none, or of another job. */
async function unpack(bytes) {
  let parcel;
  try {
    parcel = JSON.parse(new TextDecoder().decode(await through(bytes, new DecompressionStream("deflate-raw"))));
    parcel.photos = parcel.photos.map((photo) => ({ ...photo, data: fromBase64(photo.data).buffer }));
  } catch {
    throw new Error("What came is damaged, or holds no records; hand it over again");
  }
  if (parcel.job !== JOB) throw new Error("These records are of another job; open that job's page on this phone first");
  if (!parcel.entries.every(isEntry)) throw new Error("What came holds a record that cannot be read; hand it over again");
  return parcel;
}

/** The text of a file. */
const fileText = (bytes) => `${HEADING}\n\n${toBase64(bytes)}\n`;

/** The bytes in the text of a file; throws an Error when it is no such file. */
function fileBytes(text) {
  const [heading, , body] = text.split(/\r?\n/);
  try {
    if (heading !== HEADING) throw new Error("another file");
    return fromBase64(body);
  } catch {
    throw new Error("This is no file of records that a phone handed over");
  }
}

function encode(bytes) {
  let text = "";
  for (let at = 0; at < bytes.length; at += 2) {
    const pair = at + 1 < bytes.length;
    const value = pair ? bytes[at] * 256 + bytes[at + 1] : bytes[at];
    text += SIGNS[value % BASE] + SIGNS[Math.floor(value / BASE) % BASE] + (pair ? SIGNS[Math.floor(value / BASE ** 2)] : "");
  }
  return text;
}

function decode(text) {
  const bytes = [];
  for (let at = 0; at < text.length; at += 3) {
    const some = Array.from(text.slice(at, at + 3), (sign) => SIGNS.indexOf(sign));
    const value = some.reduceRight((sum, digit) => sum * BASE + digit, 0);
    if (some.length === 3) bytes.push(value >> 8);
    bytes.push(value & 255);
  }
  return Uint8Array.from(bytes);
}

async function markOf(bytes) {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return [...digest.subarray(0, 4)].map((byte) => byte.toString(16).padStart(2, "0")).join("").toUpperCase();
}

/** The texts of a row of codes, each naming the row, its place and how many there are; [] = too many. */
async function codesOf(bytes) {
  const of = Math.ceil(bytes.length / PIECE);
  if (of > MOST_CODES) return [];
  const mark = await markOf(bytes);
  return Array.from({ length: of }, (_, at) => `LM1:${mark}:${at + 1}:${of}:${encode(bytes.subarray(at * PIECE, (at + 1) * PIECE))}`);
}

/** Puts a row of codes together, in whatever order and however often they are read. */
class Row {
  mark = "";

  of = 0;

  /** @type {Map<number, string>} */
  pieces = new Map();

  /** Take a code; false when it is none of such a row. Another row begins anew. */
  take(text) {
    const [, mark, at, of, piece] = CODE.exec(text) ?? [];
    if (!mark) return false;
    if (mark !== this.mark) Object.assign(this, { mark, of: Number(of), pieces: new Map() });
    this.pieces.set(Number(at), piece);
    return true;
  }

  /** Numbers of the codes that were not read yet. */
  get missing() {
    return Array.from({ length: this.of }, (_, at) => at + 1).filter((at) => !this.pieces.has(at));
  }

  /** The bytes once all codes were read; throws an Error when they do not belong together. */
  async bytes() {
    const parts = Array.from({ length: this.of }, (_, at) => decode(this.pieces.get(at + 1)));
    const bytes = new Uint8Array(await new Blob(parts).arrayBuffer());
    if ((await markOf(bytes)) !== this.mark) throw new Error("The codes do not belong together; read them again");
    return bytes;
  }
}

export { Row, codesOf, fileBytes, fileText, pack, unpack };
