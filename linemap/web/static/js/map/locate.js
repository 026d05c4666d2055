// Where a station lies, and what station a point has, told by the structures on both sides.

import { groundBetween, latOf, lonOf } from "./geo.js";
import { formatStation, looksLikeStation, parseStation } from "./station.js";

/** Format a station the way the job prints it. */
const stationText = (value, unit) =>
  unit === "m" ? formatStation(value, { perPlus: 1000, decimals: 1 }) : formatStation(value, { decimals: 0 });

const sameSpan = (s, i) => i + 1 < s.n && s.line[i] === s.line[i + 1];

function between(s, i, along) {
  const share = Math.max(0, Math.min(1, along));
  return { x: s.x[i] + (s.x[i + 1] - s.x[i]) * share, y: s.y[i] + (s.y[i + 1] - s.y[i]) * share };
}

/** A hit in the span ahead of row i, `past` ground units ahead of it. */
function hit(s, { i, past, span, region }) {
  const nearest = past <= span / 2 ? i : i + 1;
  return { row: nearest, back: i, ahead: i + 1, past, region, ...between(s, i, past / span) };
}

/** Ground distance between two points in degrees, in units of the line. */
const groundApart = (s, line, from, to) =>
  groundBetween(from[0], from[1], to[0], to[1]).metres * s.groundPerMetre(line);

const spanLength = (s, i) => groundApart(s, s.line[i], [s.lon[i], s.lat[i]], [s.lon[i + 1], s.lat[i + 1]]);

/**
 * Hits in the span ahead of row i. Station equations part it: what lies in a gap stands nowhere, what two pieces
 * have stands twice, and an equation's own back station belongs to the piece that ends there.
 */
function spanHits(s, i, wanted, equations) {
  const last = s.region[i + 1];
  const found = [];
  let from = s.stationValue[i];
  let begun = 0;
  for (let region = s.region[i]; region <= last; region += 1) {
    const [back, ahead] = region < last ? equations[region - 1] : [s.stationValue[i + 1], null];
    if (wanted.value >= from && (wanted.value < back || (region < last && wanted.value === back))) {
      found.push({ past: begun + wanted.value - from, region });
    }
    begun += back - from;
    from = ahead;
  }
  return found.map(({ past, region }) => hit(s, { i, past, span: begun, region }));
}

/**
 * Places that carry a station text, in line order: none, one, or several at station equations and on several lines.
 * @param {Answer.Job} job
 */
function findStation(s, text, job) {
  if (!looksLikeStation(text)) return [];
  let wanted;
  try {
    wanted = parseStation(text, { perPlus: job.unit === "m" ? 1000 : 100 });
  } catch {
    return [];
  }
  const hits = [];
  for (let i = 0; i < s.n; i += 1) {
    if (sameSpan(s, i)) hits.push(...spanHits(s, i, wanted, job.lines[s.line[i]].equations));
    else if (Math.abs(s.stationValue[i] - wanted.value) < 0.005) {
      hits.push({ row: i, back: i, ahead: i, past: 0, region: s.region[i], x: s.x[i], y: s.y[i] });
    }
  }
  return wanted.region === null ? hits : hits.filter((item) => item.region === wanted.region);
}

/** "39.5 ft ahead of 9/2, before 9/3". */
function hitWords(s, found, unit) {
  if (found.past < 0.05) return `at structure ${s.number[found.back]}`;
  return `${found.past.toFixed(1)} ${unit} ahead of ${s.number[found.back]}, before ${s.number[found.ahead]}`;
}

/** Where a world point stands on the nearest span near it: {back, ahead, station, offset, metres} or null. */
function standing(s, at, { withinWorld }) {
  /** @type {any} */
  let best = null;
  const reach = withinWorld + s.spanWorld * 3;
  s.grid.each({ minX: at.x - reach, minY: at.y - reach, maxX: at.x + reach, maxY: at.y + reach }, (i) => {
    for (const first of [i - 1, i]) {
      if (first < 0 || !sameSpan(s, first)) continue;
      const foot = footOnSpan(s, first, at);
      if (foot.from <= withinWorld && (!best || foot.from < best.from)) best = foot;
    }
  });
  return best && describe(s, best, at);
}

function footOnSpan(s, i, at) {
  const dx = s.x[i + 1] - s.x[i];
  const dy = s.y[i + 1] - s.y[i];
  const t = Math.max(0, Math.min(1, ((at.x - s.x[i]) * dx + (at.y - s.y[i]) * dy) / (dx * dx + dy * dy || 1e-30)));
  const right = dx * (at.y - s.y[i]) - dy * (at.x - s.x[i]) > 0;
  return { i, t, right, x: s.x[i] + t * dx, y: s.y[i] + t * dy, from: Math.hypot(at.x - s.x[i] - t * dx, at.y - s.y[i] - t * dy) };
}

function describe(s, foot, at) {
  const { i, t } = foot;
  const whole = spanLength(s, i);
  const aside = groundApart(s, s.line[i], [lonOf(foot.x), latOf(foot.y)], [lonOf(at.x), latOf(at.y)]);
  const fromAhead = t > 0.5 && s.region[i] !== s.region[i + 1];
  const station = fromAhead ? s.stationValue[i + 1] - (1 - t) * whole : s.stationValue[i] + t * whole;
  return { back: i, ahead: i + 1, station, offset: foot.right ? aside : -aside };
}

/** "between 9/1 and 9/2, about 434+20, 12 ft left looking ahead". */
function standingWords(s, found, unit) {
  const side = Math.abs(found.offset) < 0.5 ? "on line" : `${Math.abs(found.offset).toFixed(0)} ${unit} ${found.offset < 0 ? "left" : "right"}`;
  return `between ${s.number[found.back]} and ${s.number[found.ahead]}, about ${stationText(found.station, unit)}, ${side}`;
}

export { findStation, hitWords, standing, standingWords };
