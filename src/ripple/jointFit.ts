import type { DampingRatio, Hz, Mm, Seconds } from '../core/units.js';
import { rampLengthMm, travelMap, type CornerMotion, type TravelMap } from '../physics/cornerMotion.js';
import { meanDelayS } from '../physics/residual.js';
import { shaperImpulses, type Impulses } from '../physics/shapers.js';
import type { PrintSettings } from '../print/settle.js';
import type { Band, Profiles, Wall } from '../profiles/makeProfiles.js';
import { chebyshevRows } from '../signal/chebyshev.js';
import type { Complex } from '../signal/complex.js';
import { dampedWave } from '../signal/dampedWave.js';
import { invertSymmetric, orthonormalise, solveSymmetric } from '../signal/leastSquares.js';
import { MAD_TO_SD, median, runningMedian } from '../signal/median.js';
import { minimise } from '../signal/simplex.js';
import { clamp, dot, dots, subtractMultiples } from '../core/vector.js';

/**
 * Bands that share one travel map. With the wall move shaped by the ladder the map changes with height;
 * bands of similar frequency share the map of their mean, and their phase is put right afterwards.
 */
interface Group {
  /** Indices into `Profiles.bands`. */
  readonly bands: readonly number[];
  /** Indices of the columns used, into `Profiles.positionsMm`, and where they lie behind the leading corner. */
  readonly columns: readonly number[];
  readonly positionsMm: Float64Array;
  /** Travel time and speed ÷ print speed at those columns. */
  readonly timeS: Float64Array;
  readonly speedRatio: Float64Array;
  /** The same of a nozzle that comes from the other corner; absent where all layers are printed the same way. */
  readonly fromFarEnd?: Pick<Group, 'timeS' | 'speedRatio'>;
  /** Orthonormal background: slow shading, the corner's bulge, fixed pitches. Each shape (columns,). */
  readonly background: readonly Float64Array[];
  /** Profiles with the background projected out, one for each band, each shape (columns,). */
  readonly profiles: readonly Float64Array[];
  /** Which of those columns each band does not show: drawn in by `withoutOutliers`. Absent: all show all. */
  readonly missing?: readonly (readonly number[] | undefined)[];
  /** The profiles before outliers were drawn in; undefined: none were. */
  readonly measured?: readonly Float64Array[];
  readonly energies: Float64Array;
  /** What the ripples are multiplied by along the wall, shape (columns,); undefined: nothing. */
  readonly along?: Float64Array;
  /** How much later each band's ripples set in than the group's map says. */
  readonly lateS: Float64Array;
  /** Of one band's residual: columns less background and the two of the ripples. */
  readonly degreesOfFreedom: number;
  /** The basis holds the columns of the squared slope as well. */
  readonly squares: boolean;
  /** Where each trial puts its ripple columns and those of their squares. */
  readonly scratch: TrialColumns;
}

/** Cosine and sine of the ripples, level, cosine and sine of their squares, then cosine and sine from the far end. */
type TrialColumns = readonly [
  Float64Array,
  Float64Array,
  Float64Array,
  Float64Array,
  Float64Array,
  Float64Array,
  Float64Array,
];

/**
 * Room for the columns of one trial: hundreds of trials share it. The accuracy study makes a problem of its own with it.
 * @param count - Number of columns of the profiles.
 * @returns Seven arrays of that length.
 * @internal
 */
export function trialColumns(count: number): TrialColumns {
  const column = () => new Float64Array(count);
  return [column(), column(), column(), column(), column(), column(), column()];
}

/** The joint least-squares problem: all bands share a damped frequency and a damping ratio. */
export interface JointProblem {
  readonly groups: readonly Group[];
  readonly bandCount: number;
}

/** What background and ripples may contain. */
export interface JointOptions {
  /** The background follows changes slower than this. */
  readonly cutoffHz: Hz;
  /** Patterns of fixed pitch to project out. */
  readonly pitchesMm: readonly Mm[];
  /** Most travel maps. */
  readonly maxGroups: number;
}

/** Minimum of the joint problem, or where the noise that is expected in it puts the minimum. */
export interface JointFit {
  readonly problem: JointProblem;
  /** Damped frequency and damping ratio. */
  readonly frequencyHz: Hz;
  readonly dampingRatio: DampingRatio;
  /** Weight of each band, shape (bands,); 0 for one that is not used. */
  readonly weights: Float64Array;
  /** Weighted residual sum of squares. */
  readonly cost: number;
}

/** Complex amplitude of one band's ripples, referred to the leading corner. */
export interface BandAmplitude {
  /** Relative contrast. */
  readonly amplitude: Complex;
  /** Standard error of each part from the band's own residual, taken as white. */
  readonly sd: number;
  /** The same at twice the frequency; absent where the fit has no columns of the squares. */
  readonly doubled?: { readonly amplitude: Complex; readonly sd: number };
}

/** Left out behind the corner: bulge, seam and rounding hide the ripples there. */
export const CORNER_MM = 2;
/** Length of the corner's bulge in the background, mm. */
const BULGE_MM = 0.6;
/** Columns of the ripples, and of their squares, in the basis of every band. */
const RIPPLE_COLUMNS = 2;
const SQUARES_COLUMNS = 3;
const MAX_COSINES = 40;
/** Fewer columns than this cannot tell ripples from background. */
export const LEAST_COLUMNS = 40;
/** Limits of the damping ratio that the fit may try; beyond them something else is seen. */
export const DAMPING_RANGE = [0.003, 0.37] as const;
const FREQUENCY_RANGE_HZ = [8, 200] as const;
const SIMPLEX_EVALUATIONS = 60;
const NEWTON_STEPS = 3;
/** A step this small, in units of `STEP`, is the last: a hundred-thousandth of the frequency. */
const ARRIVED = 0.003;
/** A band's variance is never taken smaller than this share of the usual one, so that none rules alone. */
const VARIANCE_FLOOR = 0.3;
/** A peak is held against the median of the frequencies within this factor of it. */
const SURROUNDINGS = 1.8;
/** Share that any two columns explain of pure noise, so that little over nothing is no peak. */
const LEAST_SHARE = 0.005;
/** Noise is looked at this factor below and above the ripples: beside their line, and near. */
const NOISE_ASIDE = 1.35;
/** What stands this many robust standard deviations out of a band's residual is no noise. */
const OUTLIER = 3;
/** Contrast of single-precision rounding is 6e-8; half a code of an 8-bit photo over a band of px is 4e-5. */
export const LEAST_CONTRAST = 1e-6;

/**
 * Sets up the joint problem for one background.
 * @param profiles - Profiles of the face.
 * @param settings - The print's settings: motion, shaper, ladder.
 * @param wall - The wall to use; its start is a corner.
 * @param options - What background and ripples may contain.
 * @returns The problem; groups without enough columns and bands without texture are left out.
 */
export function setUpJoint(
  profiles: Profiles,
  settings: PrintSettings,
  wall: Wall,
  options: JointOptions,
): JointProblem {
  const shaped = profiles.bands.map((band) => wallImpulses(settings, band.ladderHz));
  const untilS = profiles.bands.map((band) => shapedS(settings, band.ladderHz));
  const groups: Group[] = [];
  for (const { motion, members } of splitByMotion(profiles, settings, untilS, options.maxGroups)) {
    const longest = Math.max(...members.map((band) => untilS[band]!));
    const middle = middleImpulses(members.map((band) => shaped[band]));
    const steady = (map: TravelMap, columns: readonly number[]) => ({
      timeS: gather(map.timeS, columns),
      speedRatio: gather(map.speedMmPerS, columns).map((speed) => speed / motion.speedMmPerS),
    });
    const map = travelMap(motion, middle, profiles.positionsMm);
    const far =
      settings.direction === 'alternates' ? travelMap(motion, middle, fromFarEnd(profiles)) : undefined;
    const columns = columnsToUse(profiles, wall, motion, map.timeS, longest, far?.timeS);
    if (columns.length < LEAST_COLUMNS) continue;
    const x = gather(profiles.positionsMm, columns);
    const background = orthonormalise(backgroundColumns(x, options, motion.speedMmPerS));
    const all = projectOut(
      members.map((band) => gather(profiles.bands[band]!.values, columns)),
      background,
    );
    // A band without any texture, burnt out or drawn, has nothing to fit but rounding.
    const textured = all.map((y) => dot(y, y) > LEAST_CONTRAST ** 2 * y.length);
    const bands = members.filter((_, row) => textured[row]);
    if (bands.length === 0) continue;
    const data = all.filter((_, row) => textured[row]);
    const middleDelayS = middle === undefined ? 0 : meanDelayS(middle);
    groups.push({
      bands,
      columns,
      positionsMm: x,
      ...steady(map, columns),
      ...(far === undefined ? {} : { fromFarEnd: steady(far, columns) }),
      background,
      profiles: data,
      ...missingOf(profiles, bands, columns),
      energies: Float64Array.from(data, (y) => dot(y, y)),
      lateS: Float64Array.from(bands, (band) => {
        const own = shaped[band];
        return settings.alongWall === 'as-ladder' && own !== undefined ? meanDelayS(own) - middleDelayS : 0;
      }),
      degreesOfFreedom: columns.length - background.length - RIPPLE_COLUMNS,
      squares: false,
      scratch: trialColumns(columns.length),
    });
  }
  return { groups, bandCount: profiles.bands.length };
}

/** Which columns a patch of glare hides from which bands. */
function missingOf(
  profiles: Profiles,
  bands: readonly number[],
  columns: readonly number[],
): Pick<Group, 'missing'> {
  const missing = bands.map((band) => {
    const hidden = profiles.bands[band]!.missing;
    return hidden && [...columns.keys()].filter((i) => hidden[columns[i]!] === 1);
  });
  return missing.some((one) => one !== undefined) ? { missing } : {};
}

/**
 * How many bins of wall there are to fit, for the band that leaves most: from behind the corner, once the
 * shaped move is complete, to the ramp before the wall's end.
 * @param profiles - Profiles of the face.
 * @param settings - The print's settings: motion, shaper, ladder.
 * @param wall - The wall to use.
 * @returns The number of bins, to be held against `LEAST_COLUMNS`.
 */
export function columnsLeft(profiles: Profiles, settings: PrintSettings, wall: Wall): number {
  const counts = profiles.bands.map((band) => {
    const motion = cornerMotion(settings, band);
    if (motion === undefined) return 0;
    const impulses = wallImpulses(settings, band.ladderHz);
    const timeAt = (positionsMm: Float64Array) => travelMap(motion, impulses, positionsMm).timeS;
    const far = settings.direction === 'alternates' ? timeAt(fromFarEnd(profiles)) : undefined;
    const longest = shapedS(settings, band.ladderHz);
    return columnsToUse(profiles, wall, motion, timeAt(profiles.positionsMm), longest, far).length;
  });
  return Math.max(0, ...counts);
}

/** Values at the columns used. A plain loop: `from` with a function takes several times as long. */
function gather(values: Float64Array, columns: readonly number[]): Float64Array {
  const result = new Float64Array(columns.length);
  for (let i = 0; i < result.length; i += 1) result[i] = values[columns[i]!]!;
  return result;
}

/**
 * Columns behind the corner at which the shaped move is complete, before the ramp at the end; where layers come from the
 * far end as well, as far as what is read behind that corner.
 */
function columnsToUse(
  profiles: Profiles,
  wall: Wall,
  motion: CornerMotion,
  timeS: Float64Array,
  longestS: Seconds,
  farTimeS: Float64Array | undefined,
): number[] {
  const fromBothEnds = farTimeS !== undefined && wall.endMm === farEndMm(profiles);
  const endMm = wall.endMm - (fromBothEnds ? CORNER_MM : rampLengthMm(motion));
  const isFree = (time: Seconds) => time > longestS + 0.001;
  const columns: number[] = [];
  profiles.positionsMm.forEach((x, i) => {
    const fits = x > wall.startMm + CORNER_MM && x < endMm && isFree(timeS[i]!);
    if (fits && profiles.usable[i] === 1 && (farTimeS === undefined || isFree(farTimeS[i]!))) columns.push(i);
  });
  return columns;
}

/** Where the face ends, whatever lies between. */
function farEndMm({ walls }: Profiles): Mm {
  return Math.max(...walls.map(({ endMm }) => endMm));
}

/** Positions of the profiles from the far corner. */
function fromFarEnd(profiles: Profiles): Float64Array {
  const endMm = farEndMm(profiles);
  return profiles.positionsMm.map((x) => endMm - x);
}

/**
 * The same problem for layers that are all printed the same way.
 * @param problem - The joint problem.
 * @param from - Which corner they begin at.
 * @returns The problem without the columns of ripples from the other corner.
 */
export function fromOneEnd(problem: JointProblem, from: 'near' | 'far'): JointProblem {
  const groups = problem.groups.map(({ fromFarEnd: far, ...group }) => ({
    ...group,
    ...(from === 'far' ? far : {}),
  }));
  return { ...problem, groups };
}

/**
 * The same problem for brightness that carries the square of the slope too (gloss, frontal light), with three more
 * columns in the basis of every band, or for brightness that does not.
 * @param problem - The joint problem.
 * @param squares - Whether it does.
 * @returns The problem with the squares' columns, or without.
 */
export function withSquares(problem: JointProblem, squares: boolean): JointProblem {
  return { ...problem, groups: problem.groups.map((group) => ({ ...group, squares })) };
}

/**
 * Whether any band of a problem has the columns of the squares.
 * @param problem - The joint problem.
 * @returns True where one has.
 */
export function fitsSquares(problem: JointProblem): boolean {
  return problem.groups.some((group) => group.squares);
}

/**
 * Several problems as one: they share frequency and damping ratio, and nothing else. The bands of each follow those of
 * the one before.
 * @param problems - Joint problems of several photos or walls of one axis.
 * @returns The problem of all their bands.
 */
export function allTogether(problems: readonly JointProblem[]): JointProblem {
  let before = 0;
  const groups = problems.flatMap((problem) => {
    const offset = before;
    before += problem.bandCount;
    return problem.groups.map((group) => ({ ...group, bands: group.bands.map((band) => offset + band) }));
  });
  return { groups, bandCount: before };
}

/**
 * The same problem for light that does not show the slope alike all along the wall: the ripples, not their squares,
 * times a factor. It changes what the light makes of the slope, and so has nothing to do with the travel map.
 * @param problem - The joint problem.
 * @param factor - Of a place of the wall, mm from the leading corner.
 * @returns The problem with that factor.
 */
export function changedAlong(problem: JointProblem, factor: (xMm: Mm) => number): JointProblem {
  const groups = problem.groups.map((group) => ({ ...group, along: group.positionsMm.map(factor) }));
  return { ...problem, groups };
}

/**
 * The same problem with ripples of another swing projected out, whatever their amplitudes: what is fitted to it then is
 * fitted beside them.
 * @param problem - The joint problem.
 * @param other - Frequency and damping ratio of the other ripples.
 * @returns The problem beside them.
 */
export function besideOther(
  problem: JointProblem,
  other: Pick<JointFit, 'frequencyHz' | 'dampingRatio'>,
): JointProblem {
  const groups = problem.groups.map((group) => {
    const plain = { ...group, squares: false };
    const { columns } = rippleBasis(plain, other.frequencyHz, other.dampingRatio);
    const taken = orthonormalise(projectOut(columns, group.background));
    const left = {
      ...group,
      background: [...group.background, ...taken],
      degreesOfFreedom: group.degreesOfFreedom - taken.length,
      ...(group.measured === undefined ? {} : { measured: projectOut(group.measured, taken) }),
    };
    return withProfiles(left, projectOut(group.profiles, taken));
  });
  return { ...problem, groups };
}

/**
 * Profiles without other ripples that were fitted beside the ripples of a problem.
 * @param profiles - The profiles that the problem was set up with; not modified.
 * @param problem - The joint problem.
 * @param other - The other ripples, fitted beside those of the problem.
 * @returns The profiles that are left.
 */
export function withoutOther(profiles: Profiles, problem: JointProblem, other: JointFit): Profiles {
  const bands = [...profiles.bands];
  problem.groups.forEach(({ background }, g) => {
    const group = other.problem.groups[g]!;
    const basis = rippleBasis({ ...group, squares: false }, other.frequencyHz, other.dampingRatio);
    const products = dots(group.profiles, basis.columns);
    // What the background takes of them is its own affair; what the problem's ripples have in common with them, is not.
    const columns = projectOut(basis.columns, background);
    const coefficients = new Float64Array(columns.length);
    group.bands.forEach((band, row) => {
      fitRow(basis, products, row, coefficients);
      const values = profiles.bands[band]!.values.slice();
      group.columns.forEach((column, i) => {
        for (const [k, one] of columns.entries()) {
          values[column] = values[column]! - coefficients[k]! * one[i]!;
        }
      });
      bands[band] = { ...profiles.bands[band]!, values };
    });
  });
  return { ...profiles, bands };
}

/** Degrees of freedom of what is left of one band. */
function freedomOfBand({ degreesOfFreedom, squares, fromFarEnd: far, missing }: Group, row: number): number {
  const more = (squares ? SQUARES_COLUMNS : 0) + (far === undefined ? 0 : RIPPLE_COLUMNS);
  return Math.max(1, degreesOfFreedom - more - (missing?.[row]?.length ?? 0));
}

/**
 * Residual sum of squares when every band's best complex amplitude at (f, ζ) is taken out: variable
 * projection in Gram form, so that a trial costs a few dot products for each band.
 * @param problem - The joint problem.
 * @param frequencyHz - Trial damped frequency.
 * @param dampingRatio - Trial damping ratio.
 * @param residuals - Receives the residual sum of squares of each band, shape (bands,); unused bands stay 0.
 * @see Golub & Pereyra, "The differentiation of pseudo-inverses and nonlinear least squares problems whose
 * variables separate", SIAM J. Numer. Anal. 10, 1973 (from memory).
 */
function jointResiduals(
  problem: JointProblem,
  frequencyHz: Hz,
  dampingRatio: DampingRatio,
  residuals: Float64Array,
): void {
  for (const group of problem.groups) {
    const basis = rippleBasis(group, frequencyHz, dampingRatio);
    const products = dots(group.profiles, basis.columns);
    const coefficients = new Float64Array(basis.columns.length);
    for (let row = 0; row < group.bands.length; row += 1) {
      const explained = fitRow(basis, products, row, coefficients);
      residuals[group.bands[row]!] = group.energies[row]! - explained;
    }
  }
}

/**
 * Weighted cost of the joint problem at (f, ζ).
 * @param problem - The joint problem.
 * @param frequencyHz - Trial damped frequency.
 * @param dampingRatio - Trial damping ratio.
 * @param weights - Weight of each band, shape (bands,).
 * @returns The weighted residual sum of squares.
 */
export function jointCost(
  problem: JointProblem,
  frequencyHz: Hz,
  dampingRatio: DampingRatio,
  weights: Float64Array,
): number {
  const residuals = new Float64Array(problem.bandCount);
  jointResiduals(problem, frequencyHz, dampingRatio, residuals);
  return dot(residuals, weights);
}

/** Trial damped frequencies, ascending (Hz), and damping ratios. */
export interface JointGrid {
  readonly frequenciesHz: readonly Hz[];
  readonly dampingRatios: readonly DampingRatio[];
}

/**
 * Finds the minimum over (f, ζ): a grid, then a simplex, with each band weighed by its own residual variance
 * at the best point of the grid.
 * @param problem - The joint problem.
 * @param grid - What to try first.
 * @returns The fit, or undefined when no band has enough columns.
 */
export function fitJoint(problem: JointProblem, grid: JointGrid): JointFit | undefined {
  return fitFrom(problem, grid, (explained) => explained);
}

/**
 * The same, but begun at the frequency that stands out most of its surroundings on the grid: what is left of the
 * background, the corner's bulge and stains explain more the lower the frequency, without any peak.
 * @param problem - The joint problem.
 * @param grid - What to try first, in even ratios of frequency.
 * @returns The fit, or undefined when no band has enough columns.
 */
export function searchJoint(problem: JointProblem, grid: JointGrid): JointFit | undefined {
  const step = Math.log(grid.frequenciesHz[1]! / grid.frequenciesHz[0]!);
  const halfWidth = Math.round(Math.log(SURROUNDINGS) / step);
  return fitFrom(problem, grid, (explained) => {
    const around = runningMedian(explained, halfWidth);
    return explained.map((share, i) => (share + LEAST_SHARE) / (around[i]! + LEAST_SHARE));
  });
}

/** Begins where the score of the explained share over the frequencies is highest, for any damping ratio. */
function fitFrom(
  problem: JointProblem,
  grid: JointGrid,
  scoresOf: (explained: Float64Array) => Float64Array,
): JointFit | undefined {
  if (problem.groups.length === 0) return undefined;
  const all = energies(problem);
  const weights = weightsOf(problem, all);
  const energy = dot(all, weights);
  let best = { score: -Infinity, frequencyHz: 0, dampingRatio: 0 };
  for (const dampingRatio of grid.dampingRatios) {
    const explained = Float64Array.from(
      grid.frequenciesHz,
      (frequencyHz) => 1 - jointCost(problem, frequencyHz, dampingRatio, weights) / energy,
    );
    scoresOf(explained).forEach((score, i) => {
      if (score > best.score) best = { score, frequencyHz: grid.frequenciesHz[i]!, dampingRatio };
    });
  }
  return refine(problem, weigh(problem, best.frequencyHz, best.dampingRatio), best);
}

/**
 * Moves a fit to another problem of the same bands: new weights there, then Newton steps. For a problem
 * with more columns, whose minimum lies close by but costs more to search.
 * @param problem - The problem to move to.
 * @param fit - A fit of another problem.
 * @param pull - What `noisePull` says of the noise; 0 takes it as white.
 * @returns The fit of `problem`.
 */
export function moveFit(problem: JointProblem, fit: JointFit, pull = 0): JointFit {
  let moved: JointFit = { ...fit, problem, weights: weigh(problem, fit.frequencyHz, fit.dampingRatio) };
  for (let step = 0; step < NEWTON_STEPS; step += 1) {
    const newton = newtonStep(stencil(moved), moved.weights, pull);
    if (newton === undefined) break;
    moved = {
      ...moved,
      frequencyHz: clamp(moved.frequencyHz * (1 + newton.shift[0] * STEP.frequency), FREQUENCY_RANGE_HZ),
      dampingRatio: clamp(moved.dampingRatio * (1 + newton.shift[1] * STEP.damping), DAMPING_RANGE),
    };
    if (Math.hypot(...newton.shift) < ARRIVED) break;
  }
  const { frequencyHz, dampingRatio, weights } = moved;
  return { ...moved, cost: jointCost(problem, frequencyHz, dampingRatio, weights) };
}

/**
 * Ripples of a frequency and damping ratio that are known otherwise: only their amplitudes are fitted.
 * @param problem - The joint problem.
 * @param frequencyHz - Damped frequency.
 * @param dampingRatio - Damping ratio.
 * @returns The fit, with each band weighed by what those ripples leave of it.
 */
export function fitAt(problem: JointProblem, frequencyHz: Hz, dampingRatio: DampingRatio): JointFit {
  const weights = weigh(problem, frequencyHz, dampingRatio);
  return {
    problem,
    frequencyHz,
    dampingRatio,
    weights,
    cost: jointCost(problem, frequencyHz, dampingRatio, weights),
  };
}

/** Steps of the parabola through the cost, relative: small against the resolution, large against rounding. */
export const STEP = { frequency: 0.003, damping: 0.06 };

/**
 * The residuals of each band at six points around a fit: enough for gradient and Hessian of any weighting.
 * @param fit - The joint fit.
 * @returns Residual sums of squares at (0,0), (1,0), (−1,0), (0,1), (0,−1), (1,1) steps; each shape (bands,).
 */
export function stencil(fit: JointFit): readonly Float64Array[] {
  const { frequencyHz: f, dampingRatio: z } = fit;
  return [
    [0, 0],
    [1, 0],
    [-1, 0],
    [0, 1],
    [0, -1],
    [1, 1],
  ].map(([i, j]) => {
    const residuals = new Float64Array(fit.problem.bandCount);
    jointResiduals(fit.problem, f * (1 + i! * STEP.frequency), z * (1 + j! * STEP.damping), residuals);
    return residuals;
  });
}

/** A Newton step in units of `STEP`, with the Hessian [ff, fζ, ζζ] it used. */
export interface NewtonStep {
  readonly shift: readonly [number, number];
  readonly hessian: readonly [number, number, number];
}

/**
 * One Newton step on the parabola through a stencil.
 * @param costs - The stencil.
 * @param weights - Weight of each band, shape (bands,).
 * @param pull - Added to the gradient in frequency: see `noisePull`.
 * @returns The step, or undefined when the parabola has no minimum.
 */
export function newtonStep(
  costs: readonly Float64Array[],
  weights: Float64Array,
  pull = 0,
): NewtonStep | undefined {
  const [c0, cp, cm, zp, zm, pp] = costs.map((cost) => dot(cost, weights)) as [
    number,
    number,
    number,
    number,
    number,
    number,
  ];
  const hessian = [cp + cm - 2 * c0, pp - cp - zp + c0, zp + zm - 2 * c0] as const;
  const step = solveSymmetric(
    Float64Array.of(hessian[0], hessian[1], hessian[1], hessian[2]),
    Float64Array.of((cm - cp) / 2 - pull, (zm - zp) / 2),
  );
  if (step === undefined) return undefined;
  return { shift: [clamp(step[0]!, [-6, 6]), clamp(step[1]!, [-6, 6])], hessian };
}

/**
 * How coloured noise pulls at the frequency. Uneven layers have more of slow changes than of fast ones, so whatever
 * columns are fitted explain more noise the lower their frequency, and the minimum lies too low. What the columns explain
 * of the fit's own residual, a little below and a little above, tells the noise at the ripples as a power of the frequency.
 * @param fit - Where the problem stands; its weights are those of the cost.
 * @returns Slope of the expected explained noise for one `STEP` of the frequency, in units of the cost: to be added to the
 * cost's gradient, which takes the first order of the bias away, a third to a half of it where ripples hardly stand out;
 * 0 where too little is left to tell.
 */
export function noisePull(fit: JointFit): number {
  const { frequencyHz, dampingRatio, weights } = fit;
  const left = withoutRipples(fit);
  const all = dot(energies(left), weights);
  const [below, above] = [1 / NOISE_ASIDE, NOISE_ASIDE].map(
    (factor) => all - jointCost(left, factor * frequencyHz, dampingRatio, weights),
  ) as [number, number];
  if (!(below > 0 && above > 0)) return 0;
  const exponent = Math.log(above / below) / (2 * Math.log(NOISE_ASIDE));
  return exponent * Math.sqrt(below * above) * STEP.frequency;
}

/**
 * What is left of a problem once the fitted ripples are taken out.
 * @param fit - A fit of the problem.
 * @returns The problem with the residual in place of the profiles.
 */
export function withoutRipples(fit: JointFit): JointProblem {
  const groups = fit.problem.groups.map((group) => {
    const fitted = fittedRows(group, fit);
    return withProfiles(
      group,
      group.profiles.map((y, row) => y.map((value, i) => value - fitted[row]![i]!)),
    );
  });
  return { ...fit.problem, groups };
}

/**
 * Complex amplitude of every band at the fit, referred to the leading corner.
 * @param fit - The joint fit.
 * @returns One for each band, undefined where the band is not used.
 */
export function bandAmplitudes(fit: JointFit): readonly (BandAmplitude | undefined)[] {
  const { problem, frequencyHz, dampingRatio } = fit;
  const result = new Array<BandAmplitude | undefined>(problem.bandCount).fill(undefined);
  const omega = 2 * Math.PI * frequencyHz;
  const sigma = decayPerS(frequencyHz, dampingRatio);
  for (const group of problem.groups) {
    const basis = rippleBasis(group, frequencyHz, dampingRatio);
    const size = basis.columns.length;
    const products = dots(group.profiles, basis.columns);
    const coefficients = new Float64Array(size);
    group.bands.forEach((band, row) => {
      const explained = fitRow(basis, products, row, coefficients);
      const left = Math.max(0, group.energies[row]! - explained);
      const variance = left / freedomOfBand(group, row);
      // Two columns as one amplitude. The group's map is late or early for this band by lateS: multiply by e^{−λ late}.
      const at = (column: number, times: number) => {
        const [re, im] = [coefficients[column]!, coefficients[column + 1]!];
        const late = times * group.lateS[row]!;
        const grow = Math.exp(sigma * late);
        const turn = -omega * late;
        const variances = basis.inverse[column * (size + 1)]! + basis.inverse[(column + 1) * (size + 1)]!;
        return {
          amplitude: {
            re: grow * (re * Math.cos(turn) - im * Math.sin(turn)),
            im: grow * (re * Math.sin(turn) + im * Math.cos(turn)),
          },
          sd: grow * Math.sqrt((variance * variances) / 2),
        };
      };
      result[band] = { ...at(0, 1), ...(group.squares ? { doubled: at(RIPPLE_COLUMNS + 1, 2) } : {}) };
    });
  }
  return result;
}

/**
 * The same problem without what neither ripples nor noise explain: a scratch along the height, the edge of a stain.
 * What a band's fit leaves is kept up to three robust standard deviations, and of what stands out by more the less
 * the further it does, down to nothing at six.
 * @param fit - A fit of the problem.
 * @returns The problem with the profiles mended.
 * @see Hampel, Ronchetti, Rousseeuw & Stahel, Robust Statistics, 1986, 2.6 (from memory): the three-part function, its
 * flat part left out.
 */
export function withoutOutliers(fit: JointFit): JointProblem {
  const groups = fit.problem.groups.map((group) => {
    let now = group;
    // What is missing is drawn in by a fit that it takes part in: each round leaves its share of the error before.
    const rounds = group.missing === undefined ? 1 : MISSING_ROUNDS;
    for (let round = 0; round < rounds; round += 1) {
      const fitted = fittedRows(now, fit);
      const mended = group.profiles.map((y, row) => withoutOutlier(y, fitted[row]!, group.missing?.[row]));
      now = { ...withProfiles(group, projectOut(mended, group.background)), measured: measuredRows(group) };
    }
    return now;
  });
  return { ...fit.problem, groups };
}

/**
 * The profiles of a group as measured, background removed.
 * @param group - The group.
 * @returns One for each band, outliers included, each shape (columns,).
 */
export function measuredRows(group: Group): readonly Float64Array[] {
  return group.measured ?? group.profiles;
}

/**
 * The profiles of a face with the outliers of a problem drawn in.
 * @param profiles - The profiles that the problem was set up with; not modified.
 * @param problem - The problem, mended by `withoutOutliers`.
 * @returns The same profiles, with what was drawn in taken from their values.
 */
export function mendedProfiles(profiles: Profiles, problem: JointProblem): Profiles {
  const bands = [...profiles.bands];
  for (const group of problem.groups) {
    const measured = measuredRows(group);
    group.bands.forEach((band, row) => {
      const values = profiles.bands[band]!.values.slice();
      group.columns.forEach((column, i) => {
        values[column] = values[column]! - (measured[row]![i]! - group.profiles[row]![i]!);
      });
      bands[band] = { ...profiles.bands[band]!, values };
    });
  }
  return { ...profiles, bands };
}

/** The same bands with other profiles. */
function withProfiles(group: Group, profiles: readonly Float64Array[]): Group {
  return { ...group, profiles, energies: Float64Array.from(profiles, (y) => dot(y, y)) };
}

/** At least two thirds of a band, and of what lies behind its corner, are seen: each round leaves about a third of what a bridge gets wrong. */
const MISSING_ROUNDS = 4;

/** One band's profile with what stands out of its fit, and what is missing, drawn in. */
function withoutOutlier(
  y: Float64Array,
  fitted: Float64Array,
  missing: readonly number[] = [],
): Float64Array {
  const left = y.map((value, i) => value - fitted[i]!);
  const most = OUTLIER * MAD_TO_SD * median(left.map(Math.abs));
  const mended = left.map((value, i) => {
    const kept = clamp(2 * most - Math.abs(value), [0, most]);
    return fitted[i]! + clamp(value, [-kept, kept]);
  });
  for (const i of missing) mended[i] = fitted[i]!;
  return mended;
}

/** Fitted ripples of each of the group's bands, background removed, each shape (columns,). */
function fittedRows(
  group: Group,
  { frequencyHz, dampingRatio }: Pick<JointFit, 'frequencyHz' | 'dampingRatio'>,
): readonly Float64Array[] {
  const basis = rippleBasis(group, frequencyHz, dampingRatio);
  const products = dots(group.profiles, basis.columns);
  const columns = projectOut(basis.columns, group.background);
  const coefficients = new Float64Array(columns.length);
  return group.profiles.map((_, row) => {
    fitRow(basis, products, row, coefficients);
    const fitted = new Float64Array(group.columns.length);
    for (const [k, column] of columns.entries()) {
      for (let i = 0; i < fitted.length; i += 1) fitted[i] = fitted[i]! + coefficients[k]! * column[i]!;
    }
    return fitted;
  });
}

/** What one band's profile holds of other columns, beside the background and the ripples of a fit. */
export interface BesideRipples {
  /** Index of the band. */
  readonly band: number;
  /** Scalar products of the profile with the columns, the background and the ripples taken out of both. */
  readonly products: Float64Array;
  /** Those of the columns with each other, row-major; the same array for all bands of one group. */
  readonly gram: Float64Array;
}

/**
 * Holds other columns against what background and ripples leave of the profiles.
 * @param fit - The joint fit.
 * @param columnsAt - The columns over positions in mm from the leading corner, each as long as those.
 * @returns One for each band that is used.
 */
export function besideRipples(
  fit: JointFit,
  columnsAt: (positionsMm: Float64Array) => readonly Float64Array[],
): readonly BesideRipples[] {
  return fit.problem.groups.flatMap((group) => {
    const ripples = orthonormalise(
      projectOut(rippleBasis(group, fit.frequencyHz, fit.dampingRatio).columns, group.background),
    );
    const others = projectOut(projectOut(columnsAt(group.positionsMm), group.background), ripples);
    const count = others.length;
    const gram = dots(others, others);
    // The profiles hold no background; what they hold of the ripples is at right angles to these columns.
    const products = dots(group.profiles, others);
    return group.bands.map((band, row) => ({
      band,
      products: products.subarray(row * count, (row + 1) * count),
      gram,
    }));
  });
}

/** One band's profile over travel time, background removed. */
export interface BandProfile {
  /** Travel time and speed ÷ print speed at the columns used. */
  readonly timeS: Float64Array;
  readonly speedRatio: Float64Array;
  readonly measured: Float64Array;
}

/** One band's part of the fit, for a picture: what was measured and what was fitted, background removed. */
export interface FittedProfile extends BandProfile {
  readonly positionsMm: Float64Array;
  readonly fitted: Float64Array;
}

/**
 * The detrended profile of one band.
 * @param fit - The joint fit.
 * @param band - Index of the band.
 * @returns The profile over the columns used, or undefined where the band was not used.
 */
export function bandProfile(fit: JointFit, band: number): BandProfile | undefined {
  const place = placeOf(fit, band);
  return place && profileAt(place);
}

/**
 * The detrended profile of one band and the fitted ripple over it.
 * @param fit - The joint fit.
 * @param band - Index of the band.
 * @returns Both over the columns used, or undefined where the band was not used.
 */
export function fittedProfile(fit: JointFit, band: number): FittedProfile | undefined {
  const place = placeOf(fit, band);
  if (place === undefined) return undefined;
  const { group } = place;
  const profile = profileAt(place);
  return {
    ...profile,
    positionsMm: group.positionsMm,
    fitted: fittedRows(group, fit)[place.row]!,
  };
}

/** Brightness along the wall in one band, less its slow changes: relative contrast, shape (columns,). */
export interface DetrendedBand {
  /** Index of the band. */
  readonly band: number;
  readonly positionsMm: Float64Array;
  readonly measured: Float64Array;
}

/**
 * The detrended profiles of all bands that were used.
 * @param fit - The joint fit.
 * @returns One for each, over the columns used.
 */
export function detrendedBands(fit: JointFit): readonly DetrendedBand[] {
  return fit.problem.groups.flatMap((group) => {
    const rows = measuredRows(group);
    return group.bands.map((band, row) => ({
      band,
      positionsMm: group.positionsMm,
      measured: rows[row]!,
    }));
  });
}

/** Where a band is kept. */
interface BandPlace {
  readonly group: Group;
  readonly row: number;
}

function placeOf(fit: JointFit, band: number): BandPlace | undefined {
  for (const group of fit.problem.groups) {
    const row = group.bands.indexOf(band);
    if (row >= 0) return { group, row };
  }
  return undefined;
}

function profileAt({ group, row }: BandPlace): BandProfile {
  return { timeS: group.timeS, speedRatio: group.speedRatio, measured: measuredRows(group)[row]! };
}

/** The nozzle's motion behind the leading corner at a band; undefined where a proof print's acceleration is not known. */
function cornerMotion(
  settings: PrintSettings,
  { accelerationStep }: Pick<Band, 'accelerationStep'>,
): CornerMotion | undefined {
  const steps = settings.accelerationLadder;
  const step = accelerationStep === undefined ? undefined : steps?.[accelerationStep];
  if (steps !== undefined && step === undefined) return undefined;
  return {
    speedMmPerS: settings.speedMmPerS.value,
    cornerSpeedMmPerS: settings.cornerSpeedMmPerS,
    accelerationMmPerS2: step?.mmPerS2 ?? settings.accelerationMmPerS2,
  };
}

/**
 * The decay rate σ of a damped oscillation, 1/s.
 * @param frequencyHz - Damped frequency.
 * @param dampingRatio - Damping ratio ζ.
 * @returns σ = 2π f_d ζ / √(1 − ζ²).
 */
export function decayPerS(frequencyHz: Hz, dampingRatio: DampingRatio): number {
  return (2 * Math.PI * frequencyHz * dampingRatio) / Math.sqrt(1 - dampingRatio * dampingRatio);
}

/** Impulses that shape the move along the wall, or undefined when it is not shaped. */
function wallImpulses(settings: PrintSettings, ladderHz: Hz | undefined): Impulses | undefined {
  if (settings.alongWall === 'off') return undefined;
  if (settings.alongWall === 'as-ladder') return ladderImpulses(settings, ladderHz);
  return shaperImpulses({ ...settings.alongWall, hzMeans: settings.shaper.hzMeans });
}

/** Impulses that shape the swinging axis, or undefined where the ladder is off. */
function ladderImpulses(settings: PrintSettings, ladderHz: Hz | undefined): Impulses | undefined {
  return ladderHz === undefined ? undefined : shaperImpulses({ ...settings.shaper, hz: ladderHz });
}

/** How long after the corner a shaper is still at work, on the swinging axis or along the wall. */
function shapedS(settings: PrintSettings, ladderHz: Hz | undefined): Seconds {
  return Math.max(lengthS(wallImpulses(settings, ladderHz)), lengthS(ladderImpulses(settings, ladderHz)));
}

function lengthS(impulses: Impulses | undefined): Seconds {
  return impulses === undefined ? 0 : impulses.timesS[impulses.timesS.length - 1]!;
}

/** The same shaper with every time at the mean of the given ones. */
function middleImpulses(all: readonly (Impulses | undefined)[]): Impulses | undefined {
  const some = all.filter((impulses) => impulses !== undefined);
  const first = some[0];
  if (first === undefined) return undefined;
  const timesS = first.timesS.map(
    (_, i) => some.reduce((sum, impulses) => sum + impulses.timesS[i]!, 0) / some.length,
  );
  return { amplitudes: first.amplitudes, timesS };
}

/** Bands that may share a travel map: of one acceleration, and shaped for a similar time. */
function splitByMotion(
  profiles: Profiles,
  settings: PrintSettings,
  untilS: readonly Seconds[],
  maxGroups: number,
): readonly { readonly motion: CornerMotion; readonly members: readonly number[] }[] {
  const order = [...profiles.bands.keys()].sort((a, b) => untilS[a]! - untilS[b]!);
  const steps = new Set(profiles.bands.map((band) => band.accelerationStep));
  return [...steps].flatMap((accelerationStep) => {
    const motion = cornerMotion(settings, accelerationStep === undefined ? {} : { accelerationStep });
    if (motion === undefined) return [];
    const alike = order.filter((band) => profiles.bands[band]!.accelerationStep === accelerationStep);
    return splitEvenly(alike, untilS, maxGroups).map((members) => ({ motion, members }));
  });
}

/** Splits bands into groups that are shaped for a similar time; unshaped bands never share with shaped ones. */
function splitEvenly(
  order: readonly number[],
  untilS: readonly Seconds[],
  maxGroups: number,
): readonly (readonly number[])[] {
  const unshaped = order.filter((band) => untilS[band] === 0);
  const rest = order.filter((band) => untilS[band]! > 0);
  const spread = rest.length === 0 ? 0 : untilS[rest[rest.length - 1]!]! - untilS[rest[0]!]!;
  const count = spread === 0 ? 1 : Math.min(maxGroups, rest.length);
  const groups = Array.from({ length: count }, (_, g) =>
    rest.slice(Math.floor((g * rest.length) / count), Math.floor(((g + 1) * rest.length) / count)),
  );
  return [unshaped, ...groups].filter((group) => group.length > 0);
}

function backgroundColumns(x: Float64Array, options: JointOptions, speedMmPerS: number): Float64Array[] {
  const first = x[0]!;
  const span = x[x.length - 1]! - first;
  const cosines = Math.max(3, Math.min(MAX_COSINES, Math.round((2 * span * options.cutoffHz) / speedMmPerS)));
  const halfWave = x.map((value) => Math.cos((Math.PI * (value - first)) / span));
  const columns = [...chebyshevRows(halfWave, cosines)];
  columns.push(x.map((value) => Math.exp(-(value - first) / BULGE_MM)));
  // The light makes a pattern stronger or weaker along the wall, even turns it over: a straight line times it.
  for (const pitch of options.pitchesMm) {
    for (const along of [x.map(() => 1), x.map((value) => (value - first) / span)]) {
      columns.push(
        x.map((value, i) => along[i]! * Math.cos((2 * Math.PI * value) / pitch)),
        x.map((value, i) => along[i]! * Math.sin((2 * Math.PI * value) / pitch)),
      );
    }
  }
  return columns;
}

/** Ripple columns of one trial, and the inverse of their Gram matrix with the background out. */
interface RippleBasis {
  readonly columns: readonly Float64Array[];
  /** k × k row-major. */
  readonly inverse: Float64Array;
}

/**
 * Columns e^{−σt}{cos, −sin}(2πft) · v/v(t), and their squares' columns (e^{−σt} v/v(t))² {1, cos, −sin}(4πft).
 * The group's next basis overwrites them.
 */
function rippleBasis(group: Group, frequencyHz: Hz, dampingRatio: DampingRatio): RippleBasis {
  const { timeS, squares } = group;
  const [cosine, sine, level, cosine2, sine2, farCosine, farSine] = group.scratch;
  const count = timeS.length;
  waveInto(group, frequencyHz, dampingRatio, cosine, sine);
  const columns = [cosine, sine];
  if (squares) {
    for (let i = 0; i < count; i += 1) {
      const c = cosine[i]!;
      const s = sine[i]!;
      level[i] = c * c + s * s;
      cosine2[i] = c * c - s * s;
      sine2[i] = 2 * c * s;
    }
    columns.push(level, cosine2, sine2);
  }
  if (group.along !== undefined) {
    for (let i = 0; i < count; i += 1) {
      cosine[i] = cosine[i]! * group.along[i]!;
      sine[i] = sine[i]! * group.along[i]!;
    }
  }
  if (group.fromFarEnd !== undefined) {
    waveInto(group.fromFarEnd, frequencyHz, dampingRatio, farCosine, farSine);
    columns.push(farCosine, farSine);
  }
  return { columns, inverse: gramInverse(columns, group.background) };
}

/** Ripples e^{−σt}{cos, −sin}(2πft) · v/v(t) over the columns, into two arrays. */
function waveInto(
  { timeS, speedRatio }: Pick<Group, 'timeS' | 'speedRatio'>,
  frequencyHz: Hz,
  dampingRatio: DampingRatio,
  cosine: Float64Array,
  sine: Float64Array,
): void {
  dampedWave(timeS, decayPerS(frequencyHz, dampingRatio), 2 * Math.PI * frequencyHz, {
    re: cosine,
    im: sine,
  });
  for (let i = 0; i < timeS.length; i += 1) {
    cosine[i] = cosine[i]! / speedRatio[i]!;
    sine[i] = -sine[i]! / speedRatio[i]!;
  }
}

/** Inverse of the Gram matrix of columns from which the background has been projected out. */
function gramInverse(columns: readonly Float64Array[], background: readonly Float64Array[]): Float64Array {
  const size = columns.length;
  const gram = dots(columns, columns);
  // A column that the background can imitate keeps a thousandth of a millionth of its length, so that the
  // matrix stays regular and the column counts for nothing.
  for (let a = 0; a < size; a += 1) gram[a * size + a] = gram[a * size + a]! * (1 + 1e-9) + Number.MIN_VALUE;
  const shares = dots(background, columns);
  for (let q = 0; q < shares.length; q += size) {
    for (let a = 0; a < size; a += 1) {
      for (let b = 0; b <= a; b += 1)
        gram[a * size + b] = gram[a * size + b]! - shares[q + a]! * shares[q + b]!;
    }
  }
  return invertSymmetric(gram, size) ?? new Float64Array(size * size);
}

/**
 * Least squares of one band.
 * @param basis - Columns and inverse Gram matrix.
 * @param products - Scalar products of the group's profiles with the columns, row-major.
 * @param row - The band's row in them.
 * @param coefficients - Receives the coefficients of the columns.
 * @returns How much of the band's energy the columns explain.
 */
function fitRow(
  { inverse }: RippleBasis,
  products: Float64Array,
  row: number,
  coefficients: Float64Array,
): number {
  const size = coefficients.length;
  let explained = 0;
  for (let a = 0; a < size; a += 1) {
    let sum = 0;
    for (let b = 0; b < size; b += 1) sum += inverse[a * size + b]! * products[row * size + b]!;
    coefficients[a] = sum;
    explained += sum * products[row * size + a]!;
  }
  return explained;
}

function refine(
  problem: JointProblem,
  weights: Float64Array,
  start: { readonly frequencyHz: Hz; readonly dampingRatio: DampingRatio },
): JointFit {
  const at = (p: readonly number[]) => ({
    frequencyHz: clamp(Math.exp(p[0]!), FREQUENCY_RANGE_HZ),
    dampingRatio: clamp(Math.exp(p[1]!), DAMPING_RANGE),
  });
  const found = minimise(
    (p) => {
      const trial = at(p);
      // Outside the limits the cost keeps rising, so that the simplex comes back.
      const outside =
        Math.abs(p[0]! - Math.log(trial.frequencyHz)) + Math.abs(p[1]! - Math.log(trial.dampingRatio));
      return jointCost(problem, trial.frequencyHz, trial.dampingRatio, weights) * (1 + outside);
    },
    [Math.log(start.frequencyHz), Math.log(clamp(start.dampingRatio, DAMPING_RANGE))],
    [0.02, 0.3],
    { maxEvaluations: SIMPLEX_EVALUATIONS, tolerance: 1e-7 },
  );
  return { problem, ...at(found.point), weights, cost: found.cost };
}

function weigh(problem: JointProblem, frequencyHz: Hz, dampingRatio: DampingRatio): Float64Array {
  const residuals = new Float64Array(problem.bandCount);
  jointResiduals(problem, frequencyHz, dampingRatio, residuals);
  return weightsOf(problem, residuals);
}

/** Each band by what is left of it, so that a stain or a scratch has no more to say than a clean band. */
function weightsOf(problem: JointProblem, residuals: Float64Array): Float64Array {
  const variances = new Float64Array(problem.bandCount);
  for (const group of problem.groups) {
    group.bands.forEach((band, row) => (variances[band] = residuals[band]! / freedomOfBand(group, row)));
  }
  const used = usedBands(problem);
  const usual = median(variances.filter((_, band) => used[band] === 1));
  return variances.map((variance, band) => (used[band] === 1 ? 1 / (variance + VARIANCE_FLOOR * usual) : 0));
}

/**
 * Energy of each band's profile, background removed.
 * @param problem - The joint problem.
 * @returns Sums of squares, shape (bands,); 0 for a band that is not used.
 */
export function energies(problem: JointProblem): Float64Array {
  const all = new Float64Array(problem.bandCount);
  for (const group of problem.groups) {
    group.bands.forEach((band, row) => (all[band] = group.energies[row]!));
  }
  return all;
}

/**
 * Degrees of freedom of all bands together, once each has its amplitudes.
 * @param problem - The joint problem.
 * @returns The sum; 0 where no band is used.
 */
export function freedomOf(problem: JointProblem): number {
  return problem.groups.reduce(
    (sum, group) => group.bands.reduce((all, _, row) => all + freedomOfBand(group, row), sum),
    0,
  );
}

/**
 * How many bands a problem uses.
 * @param problem - The joint problem.
 * @returns Their number.
 */
export function countBands(problem: JointProblem): number {
  return problem.groups.reduce((sum, group) => sum + group.bands.length, 0);
}

function usedBands(problem: JointProblem): Float64Array {
  const used = new Float64Array(problem.bandCount);
  for (const group of problem.groups) for (const band of group.bands) used[band] = 1;
  return used;
}

/** Rows without what an orthonormal background explains of them. */
function projectOut(
  rows: readonly Float64Array[],
  background: readonly Float64Array[],
): readonly Float64Array[] {
  const shares = dots(rows, background);
  const width = background.length;
  return rows.map((row, i) => {
    const result = row.slice();
    subtractMultiples(result, background, shares.subarray(i * width, (i + 1) * width));
    return result;
  });
}
