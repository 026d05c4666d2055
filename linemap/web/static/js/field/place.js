// Where a record of this phone belongs: under the number its structure has now, or where it was moved to.

import { index } from "./pack.js";
import { foldNumber } from "../shared/number.js";

/** The lists that are newer than the one a record was made by, as the server takes it. */
function listsSince(lists, { revision_seen, happened_at }, receivedAt) {
  const called = lists.map(({ name }, at) => ({ name, at })).filter(({ name }) => revision_seen && name === revision_seen);
  if (!called.length) return lists.filter(({ at }) => Date.parse(at) > receivedAt);
  const come = called.filter(({ at }) => Date.parse(lists[at].at) <= Date.parse(happened_at));
  return lists.slice((come.at(-1) ?? called[0]).at + 1);
}

function renamed(number, { renumbered }) {
  if (number in renumbered) return renumbered[number];
  const was = Object.keys(renumbered).find((each) => foldNumber(each) === foldNumber(number));
  return was === undefined ? number : renumbered[was];
}

/** The number that a structure has now which a record names as its list did. */
function numberNow(body, receivedAt, number = body.structure) {
  const lists = index()?.lines.find(({ name }) => name === body.line)?.lists ?? [];
  return lists.length ? listsSince(lists, body, receivedAt).reduce(renamed, number) : number;
}

/** Record -> where it was moved to on this phone, by the moves that stand. */
function movesOf(entries) {
  const moving = entries.filter(({ kind, body, state }) => kind === "event" && body.what === "moved" && state !== "refused");
  const back = new Set(moving.map(({ body }) => body.supersedes).filter(Boolean));
  return new Map(moving.filter(({ body, id }) => body.result !== "withdrawn" && !back.has(id)).map(({ body, at }) => [body.content.event, { body, at }]));
}

/**
 * Line and structure a record belongs to, and the body it has there.
 * @param {Phone.Entry} entry
 * @param {ReturnType<typeof movesOf>} moves
 */
function placeOf({ id, body, at }, moves) {
  const moved = moves.get(id);
  if (!moved) return { line: body.line, structure: numberNow(body, at), body };
  const { content } = moved.body;
  const line = content.line || body.line;
  const structure = numberNow({ ...moved.body, line }, moved.at, content.structure);
  return { line, structure, body: { ...body, ...(content.pole !== undefined && { pole: content.pole }) } };
}

export { movesOf, placeOf };
