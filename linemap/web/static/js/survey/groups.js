// Which exceptions the page shows, under which cause. No page is needed to use this.

const ANY = "";

/** A filter that shows everything. */
const everything = () => ({ verdict: ANY, code: ANY, state: ANY });

/** "open" until somebody accepted or rejected it: a cause that needs evidence is open too. */
function stateOf(cause) {
  const answer = cause?.decision?.answer;
  return answer === "accepted" || answer === "rejected" ? answer : "open";
}

function verdictFits(row, wanted) {
  if (wanted === ANY) return true;
  return wanted === "reversed" ? row.reversed : row.verdict === wanted;
}

/**
 * Groups in the order of the causes: [{cause, rows}], rows without a cause last under cause null.
 * A cause whose rows are all filtered away is left out; one without any row is shown unless rows are chosen.
 */
function groups(survey, filter) {
  const byCause = survey.causes.map((cause) => ({ cause, rows: [], any: false }));
  const rest = { cause: null, rows: [], any: false };
  for (const row of survey.exceptions) {
    const group = row.cause === null ? rest : byCause[row.cause];
    group.any = true;
    if (verdictFits(row, filter.verdict)) group.rows.push(row);
  }
  return [...byCause, rest].filter(({ cause, rows, any }) => {
    if (filter.code !== ANY && cause?.code !== filter.code) return false;
    if (filter.state === "needs evidence") {
      if (cause?.decision?.answer !== "needs evidence") return false;
    } else if (filter.state !== ANY && stateOf(cause) !== filter.state) return false;
    return rows.length > 0 || (!any && cause !== null && filter.verdict === ANY);
  });
}

/** How many structures and causes there are, and how many are still open. */
function tally(survey) {
  const open = survey.causes.filter((cause) => stateOf(cause) === "open").length;
  return { structures: survey.exceptions.length, causes: survey.causes.length, open };
}

/** Address of a structure on the map. */
function mapLink(row, severalLines) {
  const encode = (text) => encodeURIComponent(text).replaceAll("%2F", "/").replaceAll("%20", "+");
  return `/#structure=${encode(row.structure)}${severalLines ? `&line=${encode(row.line)}` : ""}`;
}

/** Files and rows of shots in words: "may.csv rows 3, 4". */
function sourceWords(shots) {
  const files = new Map();
  for (const shot of shots) files.set(shot.file, [...(files.get(shot.file) ?? []), shot.row]);
  return [...files].map(([file, rows]) => `${file} row${rows.length > 1 ? "s" : ""} ${rows.join(", ")}`);
}

export { everything, groups, tally, mapLink, sourceWords };
