// What the browser does with what this page keeps: is it kept for good, how much is used, was it dropped. A mark of
// what is here lies outside the database too, so that an empty one can be told from a lost one.

import { JOB } from "../shared/request.js";
import { isNew, read, remember } from "./db.js";
import { counted, momentWords, sizeWords } from "./words.js";

const NAME = `linemap-kept-${JOB}`;
/** Browsers keep a cookie no longer (RFC 6265bis, 5.5). */
const COOKIE_S = 400 * 86_400;

/** What the mark says: when it was written, how much waited and had been sent, the device's name, what it saw of the record. */
/** @typedef {{ at: number, waiting: number, photos: number, sent: number, device: string, seq: number, newest: string }} Mark */
/** What was lost: as the mark had it; `rescued` records were still in the open page and are here again. */
/** @typedef {{ at: number, waiting: number, photos: number, sent: number, rescued?: number, told?: number }} Loss */

/** @type {{ kept: boolean | null, used: number, quota: number, loss: Loss | null, wasEmpty: boolean }} */
const state = { kept: null, used: 0, quota: 0, loss: null, wasEmpty: false };

/** Is the memory kept for good (null = the browser does not say), bytes used and allowed, what was lost. */
const memory = () => state;

function inCookie() {
  const found = document.cookie.split("; ").find((each) => each.startsWith(`${NAME}=`));
  return found ? decodeURIComponent(found.slice(NAME.length + 1)) : null;
}

function inStorage() {
  try {
    return localStorage.getItem(NAME);
  } catch {
    return null; // storage may be closed in private windows
  }
}

/**
 * What this phone had of the job when the mark was last written; null when it never was.
 * @returns {Mark | null}
 */
function marker() {
  try {
    return JSON.parse(inStorage() ?? inCookie() ?? "null");
  } catch {
    return null;
  }
}

/** Bring the mark up to date, where it does not say so already. */
function mark(changes) {
  const before = marker();
  if (before && Object.entries(changes).every(([name, value]) => before[name] === value)) return;
  const text = JSON.stringify({ device: "", seq: 0, newest: "", ...before, ...changes, at: Date.now() });
  try {
    localStorage.setItem(NAME, text);
  } catch {
    // the cookie holds it then
  }
  document.cookie = `${NAME}=${encodeURIComponent(text)}; path=/field; max-age=${COOKIE_S}; samesite=strict`;
}

/** Keep what was lost, until somebody has read it. */
async function noteLoss(loss) {
  state.loss = { at: Date.now(), ...state.loss, ...loss };
  await remember("loss", state.loss);
}

/** At the start: was there something where nothing is now? Call before anything is counted anew. */
async function noticeLoss() {
  state.loss = (await read("meta", "loss")) ?? null;
  const before = isNew() ? marker() : null;
  state.wasEmpty = isNew();
  if (before && before.waiting + before.photos + before.sent) await noteLoss(before);
}

/** Somebody has read what was lost. */
async function lossRead() {
  state.loss = null;
  await remember("loss", null);
}

/** The server knows records of a phone that finds nothing of its own: nobody can say what else was on it. */
async function toldByServer(found) {
  state.wasEmpty = false;
  if (found && !state.loss) await noteLoss({ at: Date.parse(found.newest), waiting: 0, photos: 0, sent: 0, told: found.count });
}

/** What was lost, in sentences; "" = nothing. */
function lossWords() {
  const { loss } = state;
  if (!loss) return "";
  if (loss.told) {
    return `This phone starts empty, but the job has ${counted(loss.told, "record")} that came from it, the last on ${momentWords(loss.at)}. What it had not sent since is gone: ask whoever used it.`;
  }
  const unsent = [loss.waiting && counted(loss.waiting, "record"), loss.photos && counted(loss.photos, "photo")].filter(Boolean).join(" and ");
  const many = loss.waiting + loss.photos > 1;
  return [
    `The browser dropped what this phone kept; it was there on ${momentWords(loss.at)}.`,
    unsent && `${unsent} that had not been sent ${many ? "are" : "is"} GONE: record and take ${many ? "them" : "it"} again.`,
    loss.rescued && `${counted(loss.rescued, "record")} that waited ${loss.rescued > 1 ? "were" : "was"} still in the open page and ${loss.rescued > 1 ? "are" : "is"} on this phone again.`,
    loss.sent && `${counted(loss.sent, "record")} had been sent.`,
    "Load the line again before the signal goes.",
  ].filter(Boolean).join(" ");
}

/** Look how the browser keeps this page's memory; with `ask` it is asked to keep it for good. */
async function lookAtMemory(ask = false) {
  const { storage } = navigator;
  if (!storage?.persisted) return;
  state.kept = (await storage.persisted()) || (ask && (await storage.persist()));
  const { usage = 0, quota = 0 } = await storage.estimate();
  Object.assign(state, { used: usage, quota });
}

/** Is so much of what the browser allows used that photos which the server has must make room? */
const isShort = () => state.quota > 0 && state.used > 0.8 * state.quota;

/** How the memory is kept, and what to do where it may be dropped: [in short, sentence]. */
function keptWords() {
  const used = state.quota ? ` ${sizeWords(state.used)} of ${sizeWords(state.quota)} are used.` : "";
  if (state.kept) return ["Kept for good", `The browser drops nothing of this page by itself.${used}`];
  if (state.kept === null) return ["Not known", `This browser does not say whether it keeps this page's memory. Send often.${used}`];
  return ["May be dropped", `The browser may drop it when the phone's memory is short. Put this page on the home screen (browser menu, Install or Add to home screen), open it from there, and ask again; send often.${used}`];
}

export { isShort, keptWords, lookAtMemory, lossRead, lossWords, mark, marker, memory, noteLoss, noticeLoss, toldByServer };
