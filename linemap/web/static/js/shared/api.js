// Everything the page asks of the server, in one place. A snapshot carries the same answers in the page.

import { ApiError, ask } from "./request.js";

const EMBEDDED_ID = "linemap-answers";

let embedded;

function answersInPage() {
  if (embedded === undefined) {
    const element = document.getElementById(EMBEDDED_ID);
    embedded = element ? JSON.parse(element.textContent) : null;
  }
  return embedded;
}

/** True when the page is a file that carries its own data. */
function isSnapshot() {
  return answersInPage() !== null;
}

async function kept(name) {
  const answers = answersInPage();
  if (name in answers) return answers[name];
  throw new ApiError({ code: "not_in_snapshot", message: `this file does not hold ${name}`, where: name }, 404);
}

function whole(name) {
  return isSnapshot() ? kept(name) : ask(`/api/${name}`);
}

/** @returns {Promise<Answer.Job>} */
const getJob = () => whole("job");
/** @returns {Promise<Answer.Structures>} */
const getStructures = () => whole("structures");
/** @returns {Promise<Answer.Centrelines>} */
const getCentreline = () => whole("centreline");
/** @returns {Promise<Answer.FeatureCollection>} */
const getContext = () => whole("context");

/**
 * One structure in full.
 * @param {string} line
 * @param {string} number
 * @param {{ signal?: AbortSignal }} [asked]
 * @returns {Promise<Answer.Panel>}
 */
function getStructure(line, number, { signal } = {}) {
  if (!isSnapshot()) {
    const query = new URLSearchParams({ line, number });
    return ask(`/api/structure?${query}`, { signal });
  }
  const detail = answersInPage().details.find((item) => item.line === line && item.number === number);
  if (detail) return Promise.resolve(detail);
  return Promise.reject(
    new ApiError({ code: "not_found", message: `this file holds no structure ${number} of ${line}`, where: "number" }, 404),
  );
}

/**
 * Every place a text may mean; a snapshot has no server to ask, and says so.
 * @param {string} text
 * @param {{ signal?: AbortSignal }} [asked]
 * @returns {Promise<Answer.Places>}
 */
function findPlaces(text, { signal } = {}) {
  if (isSnapshot()) return Promise.resolve({ places: [], none: "not found: this file knows structures and stations; coordinates and offsets need the served map" });
  return ask(`/api/place?${new URLSearchParams({ text })}`, { signal });
}

export { findPlaces, isSnapshot, getJob, getStructures, getCentreline, getContext, getStructure };
