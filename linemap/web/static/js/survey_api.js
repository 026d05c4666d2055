// What the pages of survey and files ask of the server, and how they send what a person decided.

import { ApiError } from "./api.js";

async function refusal(response) {
  const body = await response.json().catch(() => null);
  const given = body?.error ?? {};
  return new ApiError(
    {
      code: given.code ?? "unreadable_answer",
      message: given.message ?? `the server answered ${response.status}; try again or tell the office`,
      where: given.where ?? "",
    },
    response.status,
  );
}

async function send(path, options) {
  let response;
  try {
    response = await fetch(path, options);
  } catch {
    const message = "no contact with the server; check the connection and try again";
    throw new ApiError({ code: "no_contact", message, where: path }, 0);
  }
  if (!response.ok) throw await refusal(response);
  return response.json();
}

const post = (path, body) =>
  send(path, {
    method: "POST",
    headers: { Accept: "application/json", "Content-Type": "application/json" },
    body: JSON.stringify(body),
  });

export const getSession = () => send("/api/session", { headers: { Accept: "application/json" } });
export const getSurvey = () => send("/api/survey", { headers: { Accept: "application/json" } });
export const getFiles = () => send("/api/files", { headers: { Accept: "application/json" } });

export const getProgress = (query) => send(`/api/progress?${query}`, { headers: { Accept: "application/json" } });
export const getPeriod = (query) => send(`/api/progress/period?${query}`, { headers: { Accept: "application/json" } });

/** Record a decision; sending the same one again is harmless. */
export const sendDecision = (decision) => post("/api/decisions", decision);

/** Say what the columns of files of one shape are. */
export const sendAnswer = (id, answer) => post(`/api/files/${id}/answer`, answer);

/** A UUID of version 4; pages that came without TLS have no crypto.randomUUID. */
export function newId() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}
