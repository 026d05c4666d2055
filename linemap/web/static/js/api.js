// Everything the page asks of the server, in one place. A snapshot carries the same answers in the page.

const EMBEDDED_ID = "linemap-answers";

/** What the server refused, in its own words. */
export class ApiError extends Error {
  constructor({ code, message, where }, status) {
    super(message);
    this.name = "ApiError";
    this.code = code;
    this.where = where;
    this.status = status;
  }
}

let embedded;

function answersInPage() {
  if (embedded === undefined) {
    const element = document.getElementById(EMBEDDED_ID);
    embedded = element ? JSON.parse(element.textContent) : null;
  }
  return embedded;
}

/** True when the page is a file that carries its own data. */
export function isSnapshot() {
  return answersInPage() !== null;
}

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

async function ask(path, signal) {
  let response;
  try {
    response = await fetch(path, { signal, headers: { Accept: "application/json" } });
  } catch (cause) {
    if (cause.name === "AbortError") throw cause;
    throw new ApiError(
      { code: "no_contact", message: "no contact with the server; check the connection and try again", where: path },
      0,
    );
  }
  if (!response.ok) throw await refusal(response);
  return response.json();
}

async function kept(name) {
  const answers = answersInPage();
  if (name in answers) return answers[name];
  throw new ApiError({ code: "not_in_snapshot", message: `this file does not hold ${name}`, where: name }, 404);
}

function whole(name) {
  return isSnapshot() ? kept(name) : ask(`/api/${name}`);
}

export const getJob = () => whole("job");
export const getStructures = () => whole("structures");
export const getCentreline = () => whole("centreline");
export const getContext = () => whole("context");

/** One structure in full. */
export function getStructure(line, number, { signal } = {}) {
  if (!isSnapshot()) {
    const query = new URLSearchParams({ line, number });
    return ask(`/api/structure?${query}`, signal);
  }
  const detail = answersInPage().details.find((item) => item.line === line && item.number === number);
  if (detail) return Promise.resolve(detail);
  return Promise.reject(
    new ApiError({ code: "not_found", message: `this file holds no structure ${number} of ${line}`, where: "number" }, 404),
  );
}
