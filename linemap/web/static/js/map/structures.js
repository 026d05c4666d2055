// The structures payload as columns ready to draw, search and list.

import { decodeDeltas, groundBetween, worldPerMetre, worldX, worldY } from "./geo.js";
import { makeGrid } from "./grid.js";
import { foldNumber, wordsOfPoles } from "../shared/number.js";

const RAD = Math.PI / 180;
/** Half arm of a structure whose pole spacing is unknown, in metres: only so that its azimuth shows. */
const UNKNOWN_HALF_ARM_M = 2;

function setPosition(pair, scale) {
  return pair ? { x: worldX(pair[0] / scale), y: worldY(pair[1] / scale) } : null;
}

/** World positions of surveyed poles by row: Map(row -> [a, b, c|null]). */
function setPoles(set, scale) {
  const found = new Map();
  set.index.forEach((row, k) => {
    found.set(row, [set.a[k], set.b[k], set.c[k]].map((pair) => setPosition(pair, scale)));
  });
  return found;
}

/** Half of the arm as world vectors from the centre to the last pole (B, or C of three poles). */
function armVectors(payload, lat) {
  const dx = new Float64Array(payload.n);
  const dy = new Float64Array(payload.n);
  const known = new Uint8Array(payload.n);
  for (let i = 0; i < payload.n; i += 1) {
    const spacing = payload.spacing[i];
    known[i] = spacing === null ? 0 : 1;
    const half = spacing === null ? UNKNOWN_HALF_ARM_M : (spacing * (payload.poles[i] - 1)) / 2;
    const per = worldPerMetre(lat[i]);
    dx[i] = Math.sin(payload.arm[i] * RAD) * half * per.east;
    dy[i] = -Math.cos(payload.arm[i] * RAD) * half * per.north;
  }
  return { dx, dy, known };
}

function middleSpan(x, y, line) {
  const lengths = [];
  const stride = Math.max(1, Math.floor(x.length / 2000));
  for (let i = 1; i < x.length; i += stride) {
    if (line[i] === line[i - 1]) lengths.push(Math.hypot(x[i] - x[i - 1], y[i] - y[i - 1]));
  }
  lengths.sort((a, b) => a - b);
  return lengths.length ? lengths[lengths.length >> 1] : 1e-3;
}

/**
 * Ground units per metre on the ellipsoid, by line, told by the stations themselves: ground lies above the
 * ellipsoid, so a metre there is a little more here. Spans with a station equation are left out.
 */
function groundPerMetre({ lon, lat, line, region, station }, unit) {
  const sums = new Map();
  for (let i = 1; i < line.length; i += 1) {
    if (line[i] !== line[i - 1] || region[i] !== region[i - 1]) continue;
    const sum = sums.get(line[i]) ?? { ground: 0, metres: 0 };
    sum.ground += station[i] - station[i - 1];
    sum.metres += groundBetween(lon[i - 1], lat[i - 1], lon[i], lat[i]).metres;
    sums.set(line[i], sum);
  }
  const plain = unit === "m" ? 1 : 1 / 0.3048;
  return (index) => {
    const { ground = 0, metres = 0 } = sums.get(index) ?? {};
    return metres > 0 && ground > 0 ? ground / metres : plain;
  };
}

/** Rows by structure number as compared: lines may share numbers. */
function rowsByNumber(numbers) {
  const rows = new Map();
  numbers.forEach((number, i) => {
    const key = foldNumber(number);
    if (rows.has(key)) rows.get(key).push(i);
    else rows.set(key, [i]);
  });
  return rows;
}

/** Rows that a number may mean: those written exactly so, else all that differ in nothing but their writing. */
function meantRows(rows, numbers, text) {
  const alike = rows.get(foldNumber(text)) ?? [];
  const exact = alike.filter((i) => numbers[i] === text.trim());
  return exact.length ? exact : alike;
}

/** Make a thing when it is first asked for, and keep it: the map is painted before most are needed. */
function once(make) {
  let made;
  return () => (made ??= make());
}

/** Prepare the payload of /api/structures: typed columns, a grid index and lookups. */
function prepareStructures(payload, job) {
  const { unit } = job;
  const lon = decodeDeltas(payload.lon, payload.scale);
  const lat = decodeDeltas(payload.lat, payload.scale);
  const x = lon.map((value) => worldX(value));
  const y = lat.map((value) => worldY(value));
  const divisor = unit === "m" ? 1000 : 100;
  const stationValue = Float64Array.from(payload.station, (value) => value / divisor);
  const rows = once(() => rowsByNumber(payload.number));
  const set = once(() => setPoles(payload.set, payload.scale));
  const ground = once(() => groundPerMetre({ lon, lat, line: payload.line, region: payload.region, station: stationValue }, unit));
  return {
    ...payload,
    lon,
    lat,
    x,
    y,
    arms: armVectors(payload, lat),
    stationValue,
    groundPerMetre: (line) => ground()(line),
    poleWordsOf: (row) => wordsOfPoles(job, payload.poles[row]),
    setPolesOf: (row) => set().get(row),
    spanWorld: middleSpan(x, y, payload.line),
    grid: makeGrid(x, y),
    rowsOf: (number) => meantRows(rows(), payload.number, number),
  };
}

export { prepareStructures };
