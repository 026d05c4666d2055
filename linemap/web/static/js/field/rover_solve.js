// Where positions beside stakes and poles put a frame, and what that tells: the twin of
// `linemap/domain/crew_check/rover.py`, with the numbers of its rule from the pack.

import { identity, quantitiesOf, solved, times, transposed, verdictOf } from "./tape_solve.js";

/** @typedef {{ at: string, face: string, longitude: number, latitude: number, start: number, seconds: number, epochs: number, accuracy_m: number, sigma_m: number }} Fix */
/** @typedef {{ letters: string, spacing: number, limits: readonly number[] }} Design A plan of `tape_solve.js` is one. */

const EQUATOR = 6378137;
const E2 = (2 - 1 / 298.257223563) / 298.257223563;
const RADIAN = Math.PI / 180;
const OUTWARD = { back: [0, -1], ahead: [0, 1], left: [-1, 0], right: [1, 0] };

const PAIRS = [[0, 0], [0, 1], [1, 0], [1, 1]];

const zeros = (rows, columns) => Array.from({ length: rows }, () => Array.from({ length: columns }, () => 0));
const applied = (matrix, vector) => matrix.map((row) => row.reduce((sum, value, i) => sum + value * vector[i], 0));
/** The inverse of a symmetric positive matrix. */
const inverse = (matrix) => solved(matrix, identity(matrix.length));

/** Variance of a mean over `span` seconds of noise of variance 1 whose correlation is exp(-t/tau). */
function meanFactor(span, tau) {
  const x = span / tau;
  return (2 / x) * (1 + Math.expm1(-x) / x);
}

/** Variance of the mean of a time at one place, in units of one position's; it hardly shrinks with time. */
const meanVariance = (span, noise) => noise.reduce((sum, [share, tau]) => sum + share * meanFactor(span, tau), 0);

function meansCovariance(fixes, noise) {
  const ends = fixes.map(({ start, seconds }) => start + seconds);
  return fixes.map((one, i) =>
    fixes.map((other, j) => {
      if (i === j) return meanVariance(one.seconds, noise);
      const gap = Math.max(one.start - ends[j], other.start - ends[i], 0);
      const weight = (tau, { seconds }) => (-tau / seconds) * Math.expm1(-seconds / tau);
      return noise.reduce((sum, [share, tau]) => sum + share * weight(tau, one) * weight(tau, other) * Math.exp(-gap / tau), 0);
    }),
  );
}

/** How far right and ahead of the design centre a position lies, ground units. */
function inFrame({ longitude, latitude }, centre, metre) {
  const here = centre.latitude * RADIAN;
  const w = Math.sqrt(1 - E2 * Math.sin(here) ** 2);
  const east = (longitude - centre.longitude) * RADIAN * Math.cos(here) * (EQUATOR / w);
  const north = (latitude - centre.latitude) * RADIAN * ((EQUATOR * (1 - E2)) / w ** 3);
  const turn = centre.azimuth_deg * RADIAN;
  return [(east * Math.cos(turn) - north * Math.sin(turn)) * metre, (east * Math.sin(turn) + north * Math.cos(turn)) * metre];
}

const isSame = (one, other) => one.at === other.at && !one.face === !other.face;

/** Covariance of two positions at one pole: of its radius, its roundness, and of where one stood. */
function besidePole(design, rule, radii, one, other) {
  const [u, v] = [OUTWARD[one.face], OUTWARD[other.face]];
  const turned = u[0] * v[0] + u[1] * v[1];
  const radial = rule.radius ** 2 + rule.oval ** 2 * (2 * turned ** 2 - 1);
  const stance = one === other ? ((radii[design.letters.indexOf(one.at)] + rule.rod) * rule.stance_deg * RADIAN) ** 2 : 0;
  return (a, b) => radial * u[a] * v[b] + stance * (a === b ? 1 - u[a] ** 2 : -u[a] * u[b]);
}

/** Covariance of the positions: the receiver's noise, stakes, radii, and where one stood. */
function covarianceOf(design, rule, radii, fixes) {
  const noise = meansCovariance(fixes, rule.noise);
  const whole = zeros(2 * fixes.length, 2 * fixes.length);
  fixes.forEach((one, i) =>
    fixes.forEach((other, j) => {
      const stake = isSame(one, other) && !one.face ? rule.stake ** 2 : 0;
      const level = noise[i][j] * one.sigma_m * other.sigma_m * rule.metre ** 2 + stake;
      const pole = isSame(one, other) && one.face ? besidePole(design, rule, radii, one, other) : () => 0;
      for (const [a, b] of PAIRS) whole[2 * i + a][2 * j + b] = (a === b ? level : 0) + pole(a, b);
    }),
  );
  return whole;
}

/** What each quantity gains by each coordinate of the poles, at the design. */
function jacobianOf(design) {
  const count = design.letters.length;
  const at = [...design.letters].flatMap((_, i) => [(i - (count - 1) / 2) * design.spacing, 0]);
  const pairs = (flat) => [...design.letters].map((_, i) => [flat[2 * i], flat[2 * i + 1]]);
  const step = 1e-6;
  const slopes = at.map((_, k) => {
    const [more, less] = [step, -step].map((by) => quantitiesOf(design, pairs(at.map((value, i) => value + (i === k ? by : 0)))));
    return more.map((value, i) => (value - less[i]) / (2 * step));
  });
  return transposed(slopes);
}

/** Share of a normal distribution more than `x` sigmas beyond its middle: series near it, a fraction far off. */
function beyond(x) {
  if (x < 0) return 1 - beyond(-x);
  const density = Math.exp((-x * x) / 2) / Math.sqrt(2 * Math.PI);
  if (x < 3) {
    let [term, sum] = [x, x];
    for (let n = 3; Math.abs(term) > 1e-17 * sum; n += 2) sum += term *= (x * x) / n;
    return 0.5 - density * sum;
  }
  let tail = 0;
  for (let n = 60; n > 0; n -= 1) tail = n / (x + tail);
  return density / (x + tail);
}

/** The survey's rule for one uncertainty: [sigma, inside with confidence up to this size, outside beyond this one]. */
function gateOf(sigma, limit, rule) {
  const isInside = (size) => 1 - beyond((limit - size) / sigma) - beyond((limit + size) / sigma) >= rule.confidence;
  const fail = limit + (limit < rule.coverage * sigma ? rule.coarse : rule.beyond) * sigma;
  if (!isInside(0)) return [sigma, -1, fail];
  let [low, high] = [0, limit];
  for (let middle = limit / 2; middle !== low && middle !== high; middle = (low + high) / 2) [low, high] = isInside(middle) ? [middle, high] : [low, middle];
  return [sigma, low, fail];
}

/** What the positions would be with the base right and the poles at nought, and what each unknown adds. */
function modelOf(design, rule, stakes, radii, fixes) {
  const known = [];
  const model = zeros(2 * fixes.length, 2 + 2 * design.letters.length);
  fixes.forEach(({ at, face }, i) => {
    const place = design.letters.indexOf(at);
    for (const axis of [0, 1]) {
      known.push(face ? (radii[place] + rule.rod) * OUTWARD[face][axis] : stakes[at][axis]);
      model[2 * i + axis][axis] = 1;
      if (face) model[2 * i + axis][2 + 2 * place + axis] = 1;
    }
  });
  return { known, model };
}

/**
 * Solve and judge a check whose places are all there (`lacking` says so).
 * @param {Design} design
 * @param {any} rule
 * @param {{ centre: { longitude: number, latitude: number, azimuth_deg: number }, stakes: Record<string, number[]>, radii: number[], fixes: Fix[] }} check
 */
function judgeRover(design, rule, { centre, stakes, radii, fixes }) {
  const { known, model } = modelOf(design, rule, stakes, radii, fixes);
  const weight = inverse(covarianceOf(design, rule, radii, fixes));
  const across = transposed(model);
  const spread = inverse(times(across, times(weight, model)));
  const seen = fixes.flatMap((fix) => inFrame(fix, centre, rule.metre)).map((value, i) => value - known[i]);
  const unknowns = applied(spread, applied(across, applied(weight, seen)));
  const left = seen.map((value, i) => value - applied(model, unknowns)[i]);
  const poles = [...design.letters].map((_, i) => [unknowns[2 + 2 * i], unknowns[3 + 2 * i]]);
  const slopes = jacobianOf(design);
  const ofPoles = times(slopes, times(spread.slice(2).map((row) => row.slice(2)), transposed(slopes)));
  const quantities = quantitiesOf(design, poles);
  const gates = ofPoles.map((row, i) => gateOf(Math.sqrt(row[i]), design.limits[i], rule));
  const told = { quantities, gates, poles, shift: unknowns.slice(0, 2), why: "", odd: /** @type {number | null} */ (null) };
  const chiSquare = left.reduce((sum, value, i) => sum + value * applied(weight, left)[i], 0);
  if (chiSquare > rule.chi_square[(known.length - unknowns.length) / 2 - 1]) {
    return { ...told, verdict: "contradict", odd: oddest(left, weight, model, spread) };
  }
  if (Math.hypot(unknowns[0], unknowns[1]) > rule.shift) return { ...told, verdict: "cannot tell", why: "another stake, or another reference" };
  return { ...told, verdict: verdictOf(quantities, gates) };
}

/** The place without which all others would disagree least, by its index: Baarda's test; of two alike the last. */
function oddest(left, weight, model, spread) {
  const pulled = applied(weight, left);
  const weighed = times(weight, model);
  const told = times(weighed, times(spread, transposed(weighed)));
  const gains = [];
  for (let at = 0; at < left.length; at += 2) {
    const [[a, b], [, d]] = [0, 1].map((i) => [0, 1].map((j) => weight[at + i][at + j] - told[at + i][at + j]));
    const [x, y] = [pulled[at], pulled[at + 1]];
    const size = a * d - b * b;
    gains.push(size > 1e-9 * (a + d) ** 2 ? (d * x * x - 2 * b * x * y + a * y * y) / size : 0);
  }
  const most = Math.max(...gains);
  return gains.findLastIndex((gain) => gain >= (1 - 1e-6) * most);
}

/** What a check lacks before it can tell anything; "" = nothing. */
function lacking(design, rule, fixes) {
  if (!fixes.length || fixes[0].face) return "no stake first";
  for (const letter of design.letters) {
    const faces = new Set(fixes.filter(({ at, face }) => at === letter && face).map(({ face }) => face));
    if (faces.size < rule.faces) return `${faces.size} of at least ${rule.faces} faces of pole ${letter}`;
  }
  return fixes[fixes.length - 1].face ? "no stake last" : "";
}

export { inFrame, judgeRover, lacking, meanVariance };
