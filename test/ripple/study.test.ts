import { describe, expect, it } from 'vitest';
import { rampLengthMm, travelMap, type CornerMotion } from '../../src/physics/cornerMotion.js';
import { meanDelayS } from '../../src/physics/residual.js';
import { shaperImpulses, type Impulses } from '../../src/physics/shapers.js';
import {
  bandAmplitudes,
  fitJoint,
  jointCost,
  setUpJoint,
  stencil,
  trialColumns,
  withSquares,
  type JointFit,
  type JointProblem,
} from '../../src/ripple/jointFit.js';
import { orthonormalise } from '../../src/signal/leastSquares.js';
import { minimise } from '../../src/signal/simplex.js';
import { expectClose } from '../helpers/closeTo.js';
import { studyFaces, type StudyFace, type StudyJoint } from '../helpers/studyFaces.js';

// Source: numpy and scipy, scripts/reference/studyFaces.py; its head lists what is the same by method and what is not.
// Ten faces drawn there: 4 shapers, wall shaped or not, with and without a slot, amplitude ÷ noise 4 to 195.
const FACES = studyFaces();
const AGREE = { rel: 1e-6, why: 'the same method; our Gram matrix adds 1e-9 of a column’s energy' };

/** The problem as the product sets it up. */
function productProblem(face: StudyFace): JointProblem {
  const options = { cutoffHz: face.cutoffHz, pitchesMm: [face.pitchMm], maxGroups: 6 };
  return setUpJoint(face.profiles, face.settings, face.profiles.walls[0]!, options);
}

/** The problem as the study sets it up: its groups, columns and background, `STUDY` in the script. */
function studyProblem(face: StudyFace): JointProblem {
  const { settings, profiles } = face;
  const motion = motionOf(face);
  const x = profiles.positionsMm;
  const span = x[x.length - 1]! - x[0]!;
  const shaped = profiles.bands.map((band) => shaperImpulses({ ...settings.shaper, hz: band.ladderHz! }));
  const groups = face.study.groups.map(({ bands }) => {
    const wallShaped = settings.alongWall === 'as-ladder';
    const middle = middleOf(bands.map((band) => shaped[band]!));
    const map = travelMap(motion, wallShaped ? middle : undefined, x);
    const longest = Math.max(...bands.map((band) => shaped[band]!.timesS.at(-1)!));
    const columns = [...x.keys()].filter((i) => {
      const onWall = profiles.usable[i] === 1 && x[i]! > 2 && x[i]! < profiles.walls[0]!.endMm;
      return onWall && map.timeS[i]! > longest + 0.001;
    });
    const used = Float64Array.from(columns, (i) => x[i]!);
    const cosines = Math.max(3, Math.min(40, Math.trunc((2 * span * face.cutoffHz) / motion.speedMmPerS)));
    const background = orthonormalise([
      ...Array.from({ length: cosines + 1 }, (_, j) =>
        used.map((value) => Math.cos((Math.PI * j * (value - x[0]!)) / span)),
      ),
      used.map((value) => Math.exp(-value / 0.6)),
      used.map((value) => Math.cos((2 * Math.PI * value) / face.pitchMm)),
      used.map((value) => Math.sin((2 * Math.PI * value) / face.pitchMm)),
    ]);
    const left = bands.map((band) => {
      const values = Float64Array.from(columns, (i) => profiles.bands[band]!.values[i]!);
      return background.reduce((rest, q) => {
        const share = q.reduce((sum, value, i) => sum + value * rest[i]!, 0);
        return rest.map((value, i) => value - share * q[i]!);
      }, values);
    });
    return {
      bands,
      columns,
      positionsMm: Float64Array.from(columns, (i) => profiles.positionsMm[i]!),
      timeS: Float64Array.from(columns, (i) => map.timeS[i]!),
      speedRatio: Float64Array.from(columns, (i) => map.speedMmPerS[i]! / motion.speedMmPerS),
      background,
      profiles: left,
      energies: Float64Array.from(left, (y) => y.reduce((sum, value) => sum + value * value, 0)),
      lateS: Float64Array.from(bands, (band) =>
        wallShaped ? meanDelayS(shaped[band]!) - meanDelayS(middle) : 0,
      ),
      degreesOfFreedom: columns.length - background.length - 2,
      squares: false,
      scratch: trialColumns(columns.length),
    };
  });
  return { groups, bandCount: profiles.bands.length };
}

function motionOf({ settings }: StudyFace): CornerMotion {
  return {
    speedMmPerS: settings.speedMmPerS.value,
    cornerSpeedMmPerS: settings.cornerSpeedMmPerS,
    accelerationMmPerS2: settings.accelerationMmPerS2,
  };
}

function middleOf(all: readonly Impulses[]): Impulses {
  const timesS = all[0]!.timesS.map((_, i) => all.reduce((sum, one) => sum + one.timesS[i]!, 0) / all.length);
  return { amplitudes: all[0]!.amplitudes, timesS };
}

/** A fit that stands at the axis' true values, with the study's weights there. */
function fitAt(
  problem: JointProblem,
  { frequencyHz, dampingRatio }: StudyFace,
  weights: readonly number[],
): JointFit {
  return { problem, frequencyHz, dampingRatio, weights: Float64Array.from(weights), cost: 0 };
}

/** Complex numbers agree as a share of their own size, not part by part. */
function expectComplex(
  found: readonly { re: number; im: number }[],
  expected: StudyJoint['amplitudes'],
): void {
  const sizes = expected.re.map((re, i) => Math.hypot(re, expected.im[i]!));
  const off = found.map(
    ({ re, im }, i) => Math.hypot(re - expected.re[i]!, im - expected.im[i]!) / sizes[i]!,
  );
  expectClose(off, new Float64Array(sizes.length), { abs: AGREE.rel, why: AGREE.why });
}

it('there are ten faces, of four shapers', () => {
  expect(FACES).toHaveLength(10);
  expect(new Set(FACES.map((face) => face.settings.shaper.family))).toEqual(
    new Set(['ZV', 'ZVD', 'ZVDD', 'EI']),
  );
  for (const { profiles } of FACES) expect(profiles.bands).toHaveLength(24);
});

describe.each(FACES.map((face) => [face.name, face] as const))('%s', (_, face) => {
  describe.each([
    ['set up as the product does', productProblem(face), face.product],
    ['set up as the study does', studyProblem(face), face.study],
  ] as const)('joint problem %s', (__, problem, expected) => {
    it('groups, columns and travel map', () => {
      expect(problem.groups).toHaveLength(expected.groups.length);
      problem.groups.forEach((group, g) => {
        const { bands, columns, first, last } = expected.groups[g]!;
        expect([...group.bands].sort()).toEqual([...bands].sort());
        expect([group.columns.length, group.columns[0], group.columns.at(-1)]).toEqual([
          columns,
          first,
          last,
        ]);
        const sixteenth = (values: Float64Array) => values.filter((___, i) => i % 16 === 0);
        const why = 'numpy interpolates on 200,000 points: 3e-13 s';
        expectClose(sixteenth(group.timeS), expected.timeS[g]!, { abs: 2e-12, why });
        expectClose(sixteenth(group.speedRatio), expected.speedRatio[g]!, { rel: 1e-8, why });
      });
    });

    it('what is left of each band, at six points about the true frequency and damping', () => {
      const residuals = stencil(fitAt(problem, face, expected.weights));
      residuals.forEach((found, point) => {
        expectClose(found, expected.residuals[point]!, AGREE);
      });
    });

    it('weighted cost there and far off', () => {
      const { frequencyHz: f, dampingRatio: z } = face;
      const weights = Float64Array.from(expected.weights);
      expectClose(jointCost(problem, f, z, weights), expected.cost, AGREE);
      expectClose(jointCost(problem, 1.3 * f, 0.6 * z, weights), expected.farCost, AGREE);
    });

    it('signed amplitudes and their standard errors', () => {
      const bands = bandAmplitudes(fitAt(problem, face, expected.weights)).map((band) => band!);
      expectComplex(
        bands.map(({ amplitude }) => amplitude),
        expected.amplitudes,
      );
      expectClose(
        bands.map(({ sd }) => sd),
        expected.sd,
        AGREE,
      );
    });

    it('weights, and the minimum of the cost with them', () => {
      const grid = { frequenciesHz: [face.frequencyHz], dampingRatios: [face.dampingRatio] };
      const fit = fitJoint(problem, grid)!;
      expectClose(fit.weights, expected.weights, AGREE);
      expectClose(fit.cost, expected.minimum.cost, AGREE);
      // The product stops its simplex once the cost agrees to 1e-7, far below what the noise leaves open; the place
      // of the minimum itself is compared after a search to rounding.
      const { point } = minimise(
        (p) => jointCost(problem, Math.exp(p[0]!), Math.exp(p[1]!), fit.weights),
        [Math.log(fit.frequencyHz), Math.log(fit.dampingRatio)],
        [1e-3, 1e-2],
        { tolerance: 1e-14, maxEvaluations: 1000 },
      );
      const { frequencyHz, dampingRatio } = expected.minimum;
      expectClose(point.map(Math.exp), [frequencyHz, dampingRatio], AGREE);
    });
  });

  it('with the columns of the squared slope', () => {
    const fit = fitAt(withSquares(productProblem(face), true), face, face.product.weights);
    expectClose(stencil(fit)[0]!, face.squares.residuals, AGREE);
    const bands = bandAmplitudes(fit).map((band) => band!);
    expectComplex(
      bands.map(({ amplitude }) => amplitude),
      face.squares.amplitudes,
    );
    expectClose(
      bands.map(({ sd }) => sd),
      face.squares.sd,
      AGREE,
    );
  });

  it('the product leaves out the ramp at the wall’s end, the study does not', () => {
    const last = (joint: StudyJoint) => face.profiles.positionsMm[joint.groups[0]!.last]!;
    expectClose(last(face.study) - last(face.product), rampLengthMm(motionOf(face)), {
      abs: 2 * face.profiles.stepMm,
      why: 'whole columns',
    });
  });
});
