// Which structures the list and the map show, and in which order.

import { STOPS, WRONG } from "../shared/marks.js";
import { foldNumber } from "../shared/number.js";

const ANY = "";

/** A filter that lets everything through. */
const openFilter = () => ({ line: ANY, stage: ANY, verdict: ANY, hold: ANY, cases: ANY, mile: ANY, text: "" });

const wrongWanted = "wrong";
const stopsWanted = "stops";
const reversedWanted = "reversed";
const surveyorWanted = "surveyor";
/** Places of "fail" and "cannot tell" among the verdicts. */
const IN_QUESTION = [1, 2];

/** What a surveyor must look at: surveyed and not passed, A and B the other way round, or anything found wrong. */
const needsSurveyor = (s, i) => IN_QUESTION.includes(s.verdict[i]) || s.reversed[i] === 1 || s.worst[i] >= WRONG;

/** Test of one row, made once per filter: each chosen criterion is one predicate. */
function predicates(s, filter) {
  const tests = [];
  const equal = (column, wanted) => wanted !== ANY && tests.push((i) => column[i] === Number(wanted));
  equal(s.line, filter.line);
  equal(s.stage, filter.stage);
  equal(s.mile, filter.mile);
  if (filter.verdict === reversedWanted) tests.push((i) => s.reversed[i] === 1);
  else if (filter.verdict === wrongWanted) tests.push((i) => s.worst[i] >= WRONG);
  else if (filter.verdict === stopsWanted) tests.push((i) => s.worst[i] === STOPS);
  else if (filter.verdict === surveyorWanted) tests.push((i) => needsSurveyor(s, i));
  else equal(s.verdict, filter.verdict);
  if (filter.hold === "any") tests.push((i) => s.hold[i] > 0);
  else equal(s.hold, filter.hold);
  if (filter.cases !== ANY) tests.push((i) => s.cases[i] > 0);
  const text = foldNumber(filter.text);
  if (text && !text.includes("+")) tests.push((i) => foldNumber(s.number[i]).startsWith(text));
  return tests;
}

/** Mask of the rows that pass: Uint8Array of 0 and 1. */
function applyFilter(s, filter) {
  const tests = predicates(s, filter);
  const shown = new Uint8Array(s.n);
  for (let i = 0; i < s.n; i += 1) shown[i] = tests.every((test) => test(i)) ? 1 : 0;
  return shown;
}

/** Columns a list may be ordered by; ties keep the order along the line. */
const SORTS = {
  number: null,
  station: (s) => s.stationValue,
  stage: (s) => s.stage,
  verdict: (s) => Float64Array.from(s.verdict, (value, i) => s.reversed[i] * 10 + [0, 3, 2, 1][value]),
};

/** Rows in list order: along the line, or by a column, upward (1) or downward (-1). */
function sortRows(s, shown, { by = "number", direction = 1 } = {}) {
  const rows = [];
  for (let i = 0; i < s.n; i += 1) if (shown[i]) rows.push(i);
  const column = SORTS[by]?.(s);
  if (column) rows.sort((a, b) => direction * (column[a] - column[b]) || a - b);
  else if (direction < 0) rows.reverse();
  return rows;
}

export { ANY, openFilter, applyFilter, sortRows };
