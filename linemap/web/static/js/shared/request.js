// How the pages ask the server for JSON, and what they make of its refusals. The field page, which must tell a lost
// answer from a refused one, has its own (field/http.js).

/** Identity of the job this page is of; "" on a page that says none. */
const JOB = document.querySelector('meta[name="linemap-job"]')?.content ?? "";

/**
 * Every question says which job it is meant for: another one may be served at the address by now.
 * @returns {Record<string, string>}
 */
const ofJob = () => (JOB ? { "linemap-job": JOB } : {});

/** What the server refused, in its own words; status 0 when it was not reached. */
class ApiError extends Error {
  constructor({ code, message, where }, status) {
    super(message);
    this.name = "ApiError";
    this.code = code;
    this.where = where;
    this.status = status;
  }
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

/**
 * Ask for JSON. A `body` is sent as JSON; an abort of the caller's own `signal` stays an abort.
 * @param {string} path
 * @param {{ method?: string, body?: unknown, signal?: AbortSignal, cache?: RequestCache }} [asked]
 * @returns {Promise<any>}
 */
async function ask(path, { method = "GET", body, signal, cache } = {}) {
  const headers = { Accept: "application/json", ...ofJob(), ...(body === undefined ? {} : { "Content-Type": "application/json" }) };
  let response;
  try {
    response = await fetch(path, { method, headers, body: body === undefined ? undefined : JSON.stringify(body), signal, cache });
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

export { ApiError, JOB, ask, ofJob };
