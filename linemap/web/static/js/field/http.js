// Questions to the server. Only its own answers count as contact; navigator.onLine is never asked.

import { ofJob } from "../shared/request.js";

const PATIENCE_MS = 20000;

/** The server did not answer, or something between the phone and the server did. */
class Unreachable extends Error {}

/** The server answered that it will not: `status`, its code and its own words. */
class Refused extends Error {
  constructor(status, words, code = "") {
    super(words);
    this.status = status;
    this.code = code;
  }

  /** Is nothing wrong with what was sent: it is to wait until somebody signs in, or until its own job is served? */
  get waits() {
    return [401, 403, 404].includes(this.status) || this.code === "another_job";
  }
}

async function answered(address, asked, patience) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), patience);
  try {
    const headers = { ...asked.headers, ...ofJob() };
    return await fetch(address, { ...asked, headers, signal: stop.signal, redirect: "error", cache: "no-store" });
  } catch {
    throw new Unreachable("the server did not answer");
  } finally {
    clearTimeout(timer);
  }
}

/** Statuses after which a request is sent again. */
const RETRIED = new Set([408, 425, 429]);

async function refusal(response) {
  const body = await response.json().catch(() => null);
  const words = body?.error?.message;
  if (response.status >= 500 || RETRIED.has(response.status) || (!words && response.status !== 404)) {
    return new Unreachable(words ?? `answer ${response.status} of something on the way`);
  }
  return new Refused(response.status, words ?? "not known to the server", body?.error?.code);
}

/** Ask for text; gives it whole. Throws Unreachable or Refused. */
async function askText(method, address) {
  const response = await answered(address, { method, headers: { accept: "application/json" } }, PATIENCE_MS);
  if (!response.ok) throw await refusal(response);
  try {
    return await response.text();
  } catch {
    throw new Unreachable("the answer was cut short");
  }
}

/**
 * Ask for JSON; gives the parsed answer. Throws Unreachable or Refused.
 * @param {string} method
 * @param {string} address
 * @param {{ body?: unknown, patience?: number }} [asked]
 * @returns {Promise<any>}
 */
async function askJson(method, address, { body, patience = PATIENCE_MS } = {}) {
  const asked = { method, headers: { accept: "application/json" } };
  if (body !== undefined) {
    asked.body = JSON.stringify(body);
    asked.headers["content-type"] = "application/json";
  }
  const response = await answered(address, asked, patience);
  if (!response.ok) throw await refusal(response);
  try {
    return await response.json();
  } catch {
    throw new Unreachable("the answer was cut short");
  }
}

/**
 * Ask for anything else; gives the response. A refusal is thrown unless its status is in `accept`.
 * @param {string} method
 * @param {string} address
 * @param {{ body?: BodyInit, headers?: HeadersInit, accept?: number[] }} [asked]
 */
async function askRaw(method, address, { body, headers, accept = [] } = {}) {
  const response = await answered(address, { method, body, headers }, PATIENCE_MS);
  if (!response.ok && !accept.includes(response.status)) throw await refusal(response);
  return response;
}

export { Unreachable, Refused, askText, askJson, askRaw };
