import type { Hz } from '../core/units.js';
import { minimise } from '../signal/simplex.js';
import { GainProblem, type Path, type SignedAmplitude, type TimeOrigin } from './gainProblem.js';
import {
  LEAST_HEIGHTS,
  reducedChiSquareOf,
  searchNull,
  shaperNullHz,
  trialAt,
  type NullFit,
  type NullQuestion,
} from './nullFit.js';
import { AGREEMENT } from './spacingCheck.js';

/**
 * How far one of a tower's ladders contradicts the null of all. Its heights are fitted three ways, each with a gain and a
 * lean of their own: with the axis of all; with any axis; and as if the shaper had stayed at one frequency. Which of the
 * ladders is wrong is not told: the null of all may follow the wrong one.
 * @param amplitudes - Signed amplitudes of all ladders.
 * @param question - What the null fit was asked.
 * @param fit - The null of all.
 * @returns By how much the worst one fits better without the null of all, chi-square; 0 where there is one ladder, or
 * where none has heights enough.
 */
export function oddLadder(amplitudes: readonly SignedAmplitude[], question: NullQuestion, fit: Axis): number {
  const ladders = [...new Set(amplitudes.map(({ ladder = 0 }) => ladder))];
  if (ladders.length < 2) return 0;
  const better = ladders.map((index) => {
    const own = amplitudes.filter(({ ladder = 0 }) => ladder === index);
    return own.length < LEAST_HEIGHTS
      ? 0
      : Math.max(betterElsewhere(own, question, fit), betterStaying(own, question, fit));
  });
  return Math.max(0, ...better);
}

type Axis = Pick<NullFit, 'naturalHz' | 'dampingRatio' | 'nullHz' | 'timeOrigin'>;

/** How much better any axis fits than that of all, 0 where its null is the same. */
function betterElsewhere(own: readonly SignedAmplitude[], question: NullQuestion, fit: Axis): number {
  const free = searchNull(own, { ...question, timeOrigins: [fit.timeOrigin], gated: false });
  if (free === undefined) return 0;
  const { naturalHz, zeta } = trialAt(free.point);
  const nullHz: Hz = shaperNullHz(question.shaper, naturalHz, zeta);
  if (Math.abs(nullHz / fit.nullHz - 1) < AGREEMENT) return 0;
  const { problem, model } = free;
  const shared = upright(problem, fit);
  const unit = reducedChiSquareOf(free.cost, own.length);
  const leaning = (path: Path) =>
    leastOverLeans(problem, path, free.phaseSd, unit, (one) => problem.cost(one, model));
  const freePath = problem.upright({ naturalHz, zeta });
  return (leaning(shared) - leaning(freePath)) / unit;
}

/** How much better the heights fit as if the shaper had stayed at one frequency. */
function betterStaying(own: readonly SignedAmplitude[], question: NullQuestion, fit: Axis): number {
  const phaseSd = Math.max(1e-3, question.cornerPhaseRad);
  // Whether the wall's own shaper stayed as well decides if the ripples lag by its delay.
  const origins: readonly TimeOrigin[] = [0, 1];
  const shared = upright(new GainProblem(own, question, fit.timeOrigin), fit);
  return Math.max(
    ...origins.map((origin) => {
      const problem = new GainProblem(own, question, origin);
      const staying = problem.upright({ naturalHz: fit.naturalHz, zeta: fit.dampingRatio }, 'flat');
      const model = problem.bentGain(staying);
      const unit = reducedChiSquareOf(problem.cost(staying, model), own.length);
      const leaning = (path: Path) =>
        leastOverLeans(problem, path, phaseSd, unit, (one) => problem.cost(one, model));
      return (leaning(shared) - leaning(staying)) / unit;
    }),
  );
}

function upright(problem: GainProblem, { naturalHz, dampingRatio }: Axis): Path {
  return problem.upright({ naturalHz, zeta: dampingRatio });
}

/** Least cost of a path over tilt and bow of the corner, with what is known of them. */
function leastOverLeans(
  problem: GainProblem,
  path: Path,
  phaseSd: number,
  unit: number,
  cost: (path: Path) => number,
): number {
  const target = ([tilt = 0, bow = 0]: readonly number[]) =>
    cost(problem.turned(path, problem.turn({ tilt, bow }))) +
    unit * ((tilt / phaseSd) ** 2 + (bow / phaseSd) ** 2);
  return minimise(target, [0, 0], [phaseSd / 2, phaseSd / 2], { maxEvaluations: 120, tolerance: 1e-6 }).cost;
}
