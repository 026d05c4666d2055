// Where readings of a tape put the poles of a frame, and what that says, by the numbers a plan brings.
//
// The same rule as the job's own (linemap.domain.crew_check): generalised least squares by four Gauss-Newton
// steps, gates of each quantity, chi-square. Poles run from left to right, [right, ahead] of the centre.

const STEPS = 4;

/** @typedef {[number, number]} Place */

/** @param {number[][]} a @param {number[][]} b */
const times = (a, b) => a.map((row) => b[0].map((_, col) => row.reduce((sum, value, k) => sum + value * b[k][col], 0)));
const transposed = (a) => a[0].map((_, col) => a.map((row) => row[col]));

/** Solve a symmetric positive definite system for several right sides (Cholesky). */
function solved(matrix, sides) {
  const size = matrix.length;
  const low = matrix.map((row) => row.map(() => 0));
  for (let i = 0; i < size; i += 1) {
    for (let j = 0; j <= i; j += 1) {
      let rest = matrix[i][j];
      for (let k = 0; k < j; k += 1) rest -= low[i][k] * low[j][k];
      low[i][j] = i === j ? Math.sqrt(rest) : rest / low[j][j];
    }
  }
  const found = sides.map((row) => [...row]);
  for (let col = 0; col < found[0].length; col += 1) {
    for (let i = 0; i < size; i += 1) {
      for (let k = 0; k < i; k += 1) found[i][col] -= low[i][k] * found[k][col];
      found[i][col] /= low[i][i];
    }
    for (let i = size - 1; i >= 0; i -= 1) {
      for (let k = i + 1; k < size; k += 1) found[i][col] -= low[k][i] * found[k][col];
      found[i][col] /= low[i][i];
    }
  }
  return found;
}

const identity = (size, value = 1) => Array.from({ length: size }, (_, i) => Array.from({ length: size }, (__, j) => (i === j ? value : 0)));

/** The readings of a set, [from, to]. */
const readingsOf = (plan, set) => set.readings.map((at) => plan.readings[at]);

/** Where each reading begins and ends: a stake's place or a pole's position from the left. */
function endsOf(plan, readings) {
  const places = new Map(plan.stakes.map((stake) => [stake.name, [stake.right, stake.ahead]]));
  return readings.map(([from, to]) => ({ stake: places.get(from), name: from, first: places.has(from) ? -1 : plan.letters.indexOf(from), last: plan.letters.indexOf(to) }));
}

/** What would be read of poles, with the direction from begin to end of each reading. */
function predicted(ends, poles, radii) {
  return ends.map(({ stake, first, last }) => {
    const [x, y] = stake ?? poles[first];
    const [right, ahead] = [poles[last][0] - x, poles[last][1] - y];
    const length = Math.hypot(right, ahead);
    return { value: length - radii[last] - (first < 0 ? 0 : radii[first]), unit: [right / length, ahead / length] };
  });
}

/** Derivatives of readings by the pole coordinates. */
function slopesOf(ends, told, count) {
  return ends.map(({ first, last }, row) => {
    const line = Array.from({ length: 2 * count }, () => 0);
    [line[2 * last], line[2 * last + 1]] = told[row].unit;
    if (first >= 0) [line[2 * first], line[2 * first + 1]] = told[row].unit.map((value) => -value);
    return line;
  });
}

/** Covariance of readings: tape and faces of each, stakes and radii of those that share them. */
function covarianceOf(plan, ends, girths) {
  const { errors } = plan;
  const design = predicted(ends, plan.poles, plan.poles.map(() => 0));
  const touched = ends.map(({ first, last }) => plan.poles.map((_, pole) => (pole === last || pole === first ? 1 : 0)));
  const radius = plan.poles.map((_, pole) => (girths[pole] ? errors.girth : errors.table) ** 2);
  return ends.map((one, row) =>
    ends.map((other, col) => {
      const shared = one.stake && one.name === other.name ? errors.stake ** 2 * (design[row].unit[0] * design[col].unit[0] + design[row].unit[1] * design[col].unit[1]) : 0;
      const own = row === col ? errors.tape ** 2 + touched[row].reduce((sum, face) => sum + face, 0) * errors.face ** 2 : 0;
      return own + shared + radius.reduce((sum, variance, pole) => sum + variance * touched[row][pole] * touched[col][pole], 0);
    }),
  );
}

/** Rotation (clockwise +), along, across, each gap and the bow of poles, in the order of the plan. */
function quantitiesOf(plan, poles) {
  const [left, right] = [poles[0], poles[poles.length - 1]];
  const arm = [right[0] - left[0], right[1] - left[1]];
  const gaps = poles.slice(1).map((pole, at) => Math.hypot(pole[0] - poles[at][0], pole[1] - poles[at][1]) - plan.spacing);
  const found = [(Math.atan2(-arm[1], arm[0]) * 180) / Math.PI, (left[1] + right[1]) / 2, (left[0] + right[0]) / 2, ...gaps];
  if (poles.length === 3) {
    const middle = [poles[1][0] - left[0], poles[1][1] - left[1]];
    found.push((arm[0] * middle[1] - arm[1] * middle[0]) / Math.hypot(...arm));
  }
  return found;
}

/** What is read of a frame that stands as designed. */
const expectedOf = (plan, readings, radii) => predicted(endsOf(plan, readings), plan.poles, radii).map(({ value }) => value);

/**
 * Where readings put the poles, and how much they disagree.
 * @returns {{ poles: Place[], quantities: number[], chiSquare: number }}
 */
function solve(plan, readings, values, radii, girths) {
  const ends = endsOf(plan, readings);
  const [count, prior] = [plan.poles.length, 1 / plan.errors.pole ** 2];
  const weights = solved(covarianceOf(plan, ends, girths), identity(ends.length));
  let poles = plan.poles.map((pole) => [...pole]);
  for (let step = 0; step < STEPS; step += 1) {
    const told = predicted(ends, poles, radii);
    const slopes = slopesOf(ends, told, count);
    const weighed = times(transposed(slopes), weights);
    const normal = times(weighed, slopes).map((row, i) => row.map((value, j) => value + (i === j ? prior : 0)));
    const left = told.map(({ value }, row) => [values[row] - value]);
    const flat = poles.flat();
    const pull = times(weighed, left).map(([value], at) => [value - prior * (flat[at] - plan.poles[at >> 1][at & 1])]);
    const move = solved(normal, pull).flat();
    poles = poles.map((pole, at) => [pole[0] + move[2 * at], pole[1] + move[2 * at + 1]]);
  }
  const left = predicted(ends, poles, radii).map(({ value }, row) => values[row] - value);
  const chiSquare = left.reduce((sum, value, i) => sum + value * left.reduce((inner, other, j) => inner + weights[i][j] * other, 0), 0);
  return { poles: /** @type {Place[]} */ (poles), quantities: quantitiesOf(plan, poles), chiSquare };
}

/** What readings of one distance count as: NaN where a third one must decide. */
function combined(values, agree) {
  if (!values.length) return NaN;
  const sorted = [...values].sort((a, b) => a - b);
  if (sorted.length === 2 && sorted[1] - sorted[0] > agree) return NaN;
  const half = sorted.length >> 1;
  return sorted.length % 2 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
}

/** By which gates a set is judged: those of taped girths, or of class tables where any radius is from one. */
const gatesOf = (set, girths) => set.gates[girths.every(Boolean) ? "girth" : "table"];

/** Judge quantities by gates [sigma, pass, fail]: "pass", "fail" or "cannot tell". */
function verdictOf(quantities, gates) {
  const sizes = quantities.map(Math.abs);
  if (sizes.some((size, at) => size > gates[at][2])) return "fail";
  return sizes.every((size, at) => size <= gates[at][1]) ? "pass" : "cannot tell";
}

/**
 * Judge what was taped of a set: `taped` has for each reading every value, `radii` and `girths` are of the poles
 * from left to right. `again` = it must be taped again before it counts.
 */
function judge(plan, set, taped, radii, girths, quick = false) {
  const values = taped.map((each) => combined(each, plan.errors.agree));
  const same = girths.every(Boolean) ? girths : girths.map(() => false);
  if (values.some(Number.isNaN)) return { verdict: "cannot tell", again: false, values, quantities: plan.quantities.map(() => NaN), gates: gatesOf(set, girths), poles: plan.poles, chiSquare: NaN };
  const found = solve(plan, readingsOf(plan, set), values, radii, same);
  const gates = gatesOf(set, girths);
  let verdict = verdictOf(found.quantities, gates);
  if (!quick && set.spare && found.chiSquare > plan.contradicts[set.spare - 1]) verdict = "contradict";
  if (verdict !== "pass" && (quick || !set.spare)) verdict = "cannot tell";
  const doubtful = verdict === "fail" || verdict === "contradict";
  return { verdict, again: doubtful && Math.min(...taped.map((each) => each.length)) < 2, values, gates, ...found };
}

/** All ways to choose so many of a list, in its order. */
function choices(list, size) {
  if (!size) return [[]];
  return list.flatMap((first, at) => choices(list.slice(at + 1), size - 1).map((rest) => [first, ...rest]));
}

function withKept(plan, poles, kept) {
  const mean = [0, 1].map((axis) => kept.reduce((sum, at) => sum + poles[at][axis] - plan.poles[at][axis], 0) / kept.length);
  return poles.map((pole, at) => (kept.includes(at) ? pole : [plan.poles[at][0] + mean[0], plan.poles[at][1] + mean[1]]));
}

const asMoves = (plan, poles, to) =>
  poles
    .map((pole, at) => {
      const [right, ahead] = [0, 1].map((axis) => (Math.abs(to[at][axis] - pole[axis]) >= plan.errors.move ? to[at][axis] - pole[axis] : 0));
      return { letter: plan.letters[at], ahead, right };
    })
    .filter(({ ahead, right }) => ahead || right);

/** The fewest, then shortest moves that put a frame right: [{ letter, ahead, right }]. */
function movesOf(plan, poles, gates) {
  const all = poles.map((_, at) => at);
  const far = (to) => to.reduce((sum, place, at) => sum + Math.hypot(place[0] - poles[at][0], place[1] - poles[at][1]), 0);
  for (let moved = 1; moved < poles.length; moved += 1) {
    const right = choices(all, poles.length - moved)
      .map((kept) => withKept(plan, poles, kept))
      .filter((to) => quantitiesOf(plan, to).every((value, at) => Math.abs(value) <= Math.max(gates[at][1], 0)));
    const enough = Math.min(...right.map(far)) + plan.errors.move / 3;
    if (right.length) return asMoves(plan, poles, right.find((to) => far(to) <= enough));
  }
  return asMoves(plan, poles, plan.poles);
}

/** Single mistakes that would make readings agree, the best first: [{ readings, slip, amount, chiSquare }]. */
function misreadsOf(plan, set, values, radii, girths) {
  const readings = readingsOf(plan, set);
  const trials = endsOf(plan, readings).flatMap(({ last }, row) => [
    ...plan.errors.slips.map((amount) => ({ readings: [row], slip: amount > 0 ? "long" : "short", amount })),
    { readings: [row], slip: "side", amount: radii[last] },
    { readings: [row], slip: "far face", amount: 2 * radii[last] },
  ]);
  for (const two of choices(values.map((_, at) => at), 2)) trials.push({ readings: two, slip: "exchanged", amount: 0 });
  return trials
    .map((trial) => {
      const tried = [...values];
      const from = [...trial.readings].reverse();
      trial.readings.forEach((row, at) => (tried[row] = values[from[at]] - trial.amount));
      return { ...trial, amount: Math.abs(trial.amount), chiSquare: solve(plan, readings, tried, radii, girths).chiSquare };
    })
    .sort((a, b) => a.chiSquare - b.chiSquare);
}

/** The two readings to tape again, by their positions in the set. */
const toRepeat = (found) => [...new Set(found.flatMap(({ readings }) => readings))].slice(0, 2);

/** How far off each reading of a frame in tolerance may be: [[surely, at most]]. */
function zonesOf(plan, set, girths) {
  const ends = endsOf(plan, readingsOf(plan, set));
  const slopes = slopesOf(ends, predicted(ends, plan.poles, plan.poles.map(() => 0)), plan.poles.length);
  const gates = gatesOf(set, girths);
  return times(slopes, plan.per_quantity).map((row) => [1, 2].map((which) => row.reduce((sum, value, at) => sum + Math.abs(value) * Math.max(gates[at][which], 0), 0)));
}

/** Level distance of a tape held from one height to another; NaN when that cannot be. */
const levelDistance = (read, rise) => (Math.abs(rise) > read ? NaN : Math.sqrt(read * read - rise * rise));

/** The rise between the ends from which a distance is half the tape's own error too long. */
const riseThatMatters = (plan, distance) => Math.sqrt(plan.errors.tape * distance);

/** The group of sets for the stakes that stand; undefined when nothing proves the frame from them. */
const groupOf = (plan, lost) => plan.groups.find(({ stakes }) => stakes.every((at) => !lost.includes(plan.stakes[at].name)));

export { combined, expectedOf, groupOf, identity, judge, levelDistance, misreadsOf, movesOf, quantitiesOf, readingsOf, riseThatMatters, solved, times, toRepeat, transposed, verdictOf, zonesOf };
