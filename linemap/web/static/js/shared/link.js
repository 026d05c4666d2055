// Addresses that open a structure: #structure=9/2, with &line=NAME when a job has several lines.

/** Read a hash: {number, line} or null. */
function readLink(hash) {
  const fields = new URLSearchParams(hash.replace(/^#/, ""));
  const number = fields.get("structure");
  return number ? { number, line: fields.get("line") } : null;
}

const encode = (text) => encodeURIComponent(text).replaceAll("%2F", "/").replaceAll("%20", "+");

/** Write a hash for a structure; the line is named only when there are several. */
function writeLink(number, line) {
  return `#structure=${encode(number)}${line ? `&line=${encode(line)}` : ""}`;
}

/** Row a link means, or -1. */
function linkedRow(s, lines, link) {
  const rows = s.rowsOf(link.number);
  if (!link.line) return rows[0] ?? -1;
  return rows.find((i) => lines[s.line[i]].name === link.line) ?? -1;
}

export { readLink, writeLink, linkedRow };
