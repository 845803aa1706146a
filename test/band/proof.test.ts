import ndarray from 'ndarray';
import { describe, expect, it } from 'vitest';
import { decideBand } from '../../src/band/decide.js';
import type { Evidence } from '../../src/band/decision.js';
import { readProof, type Proof } from '../../src/band/proof.js';
import type { ProofRipples, ProofStep } from '../../src/ripple/proofRipples.js';
import { expectClose } from '../helpers/closeTo.js';
import { drawn, measureDrawn, measurePlaced, RECIPE } from '../helpers/drawn.js';
import { readCsv } from '../helpers/readReference.js';
import type { FaceRecipe } from '../synth/recipe.js';

const MM_PER_S2 = [2000, 3500, 5000, 6500, 8000];
const RECIPE_OF_PROOF: FaceRecipe = {
  ...RECIPE,
  noise: 0.03,
  accelerations: MM_PER_S2.map((mmPerS2, i) => ({ fromMm: 10 * i, toMm: 10 * (i + 1), mmPerS2 })),
};
const SET_RIGHT = { fromHz: 38, toHz: 38, dampingRatio: 0.07 };
const SET_WRONG = { fromHz: 47, toHz: 47, dampingRatio: 0.07 };

const quiet = measureDrawn({ ...RECIPE_OF_PROOF, ladder: SET_RIGHT, gain: 0 });
const loud = measureDrawn({ ...RECIPE_OF_PROOF, ladder: SET_WRONG });

function proofOf({ proposal }: { readonly proposal: { readonly state: string } }): Proof {
  if (proposal.state !== 'proof') throw new Error(`expected a proof but it is ${JSON.stringify(proposal)}`);
  return proposal as Proof;
}

function reasonOf(evidence: Evidence): string {
  const { proposal } = decideBand(evidence);
  return proposal.state === 'refused' ? proposal.reason : proposal.state;
}

const RINGING = { frequencyHz: { value: 38, sd: 0.5 }, dampingRatio: { value: 0.07, sd: 0.01 } };

/** A proof print of amplitudes in units of their noise; undefined: not read. */
function read(times: readonly (number | undefined)[], state: 'measured' | 'assumed' = 'assumed'): Proof {
  const frequency: ProofRipples['frequency'] =
    state === 'measured' ? { state } : { state, dampedHz: 38, dampingRatio: 0.1 };
  const steps = times.map((ratio): ProofStep | undefined =>
    ratio === undefined
      ? undefined
      : { heights: 8, amplitude: { value: 0.001 * ratio, sd: 0.001 }, noise: 0.001 },
  );
  const { ripples } = loud;
  return readProof(loud.settings, { frequency, ripples: ripples!, steps, clearest: 9, sharedSd: 0 }, RINGING);
}

describe('accelerations without ringing', () => {
  it('up to the highest below all that ring', () => {
    expect(read([1, 2, 1, 3, 2]).quietUpTo?.mmPerS2).toBe(8000);
    expect(read([1, 2, 1, 9, 9]).quietUpTo?.mmPerS2).toBe(5000);
    // Common practice: a ramp of whole swings hides ringing at one acceleration, so that one above it counts.
    expect(read([1, 9, 1, 1, 9]).quietUpTo?.mmPerS2).toBe(2000);
    expect(read([9, 1, 1, 1, 1]).quietUpTo).toBeUndefined();
  });

  it('one that was not read says nothing', () => {
    const { quietUpTo, steps } = read([1, 1, 1, 1, undefined]);
    expect(quietUpTo?.mmPerS2).toBe(6500);
    expect(steps[4]).toEqual({
      ...{ fromMm: 40, toMm: 50, mmPerS2: 8000 },
      ...{ heights: 0, significant: false },
    });
  });

  // Source: Rice's distribution of |A + noise|, here by quadrature over both parts of the noise.
  it('ripples of the detectable amplitude are called ringing 95 of 100 times', () => {
    const { detectable } = read([1, 1, 1, 1, 1]).steps[0]!;
    const amplitude = detectable! / 0.001;
    let seen = 0;
    let all = 0;
    for (let x = -6; x <= 6; x += 0.02) {
      for (let y = -6; y <= 6; y += 0.02) {
        const weight = Math.exp(-(x * x + y * y) / 2);
        all += weight;
        if (Math.hypot(amplitude + x, y) > 4) seen += weight;
      }
    }
    expectClose(seen / all, 0.95, {
      abs: 0.003,
      why: 'steps of 0.02, and an approximation to 0.02 of the noise',
    });
  });

  it('just above and just below four times the noise', () => {
    expect(read([4.01, 3.99, 1, 1, 1]).steps.map(({ significant }) => significant)).toEqual([
      true,
      false,
      false,
      false,
      false,
    ]);
  });
});

describe('growth with acceleration', () => {
  // Source: weighted least squares of a straight line, elementary: 2000 to 8000 mm/s² are two doublings.
  it('is the slope of a straight line over doublings', () => {
    const octaves = MM_PER_S2.map((a) => Math.log2(a / 2000));
    const { growth } = read(octaves.map((x) => 5 + 7 * x));
    expectClose(growth!.perDoubling.value, 0.007, { rel: 1e-9, why: 'the points lie on the line' });
    const mean = octaves.reduce((sum, x) => sum + x, 0) / 5;
    const spread = octaves.reduce((sum, x) => sum + (x - mean) ** 2, 0);
    expectClose(growth!.perDoubling.sd, 0.001 / Math.sqrt(spread), { rel: 1e-9, why: 'equal weights' });
    expect(growth!.verdict).toBe('grows');
    expect(read(octaves.map((x) => 20 - 7 * x)).growth!.verdict).toBe('falls');
    expect(read([2, 1, 2, 1, 2]).growth!.verdict).toBe('level');
  });

  it('needs two accelerations', () => {
    expect(read([5, undefined, undefined, undefined, undefined]).growth).toBeUndefined();
    expect(read([5, 6, undefined, undefined, undefined]).growth).toBeDefined();
  });
});

describe("theory's curve", () => {
  it('is drawn only where the frequency was measured', () => {
    expect(read([1, 1, 1, 1, 1]).model).toBeUndefined();
    expect(read([9, 9, 9, 9, 9], 'measured').model!.length).toBeGreaterThan(50);
  });

  // Source: test/reference/corner_ringing_amplitude.csv: a ramp of one whole swing leaves nothing without damping.
  it('has its lowest place beyond the first hump where the ramp lasts one swing', () => {
    const [row] = readCsv('corner_ringing_amplitude.csv', ['dv', 'a', 'f', 'X_closed']).filter(
      ({ dv, a, f }) => dv === 100 && a === 4000 && f === 40,
    );
    expect(row!.X_closed).toBeLessThan(1e-12);
    const { speedMmPerS, cornerSpeedMmPerS, naturalHz } = RECIPE_OF_PROOF;
    const oneSwing = (speedMmPerS - cornerSpeedMmPerS) * naturalHz;
    const near = read([9, 9, 9, 9, 9], 'measured').model!.filter(
      ({ mmPerS2 }) => mmPerS2 > 0.75 * oneSwing && mmPerS2 < 1.4 * oneSwing,
    );
    const least = near.reduce((low, point) => (point.amplitude < low.amplitude ? point : low));
    expectClose(least.mmPerS2, oneSwing, { rel: 0.08, why: 'damping and the corner speed move it a little' });
  });
});

describe('the decision', () => {
  it('little ringing is a result', () => {
    const proof = proofOf(quiet.decision);
    expect(proof.at.state).toBe('assumed');
    expect(proof.quietUpTo?.mmPerS2).toBe(8000);
    expect(quiet.decision.ringing).toBeUndefined();
    expect(quiet.decision.spacingCheck).toEqual({ state: 'not-measurable' });
  });

  it('ringing is one, too, with its frequency', () => {
    const proof = proofOf(loud.decision);
    expect(proof.at.state).toBe('measured');
    expect(proof.steps.at(-1)!.significant).toBe(true);
    expect(proof.growth!.verdict).toBe('grows');
    expectClose(loud.decision.ringing!.frequencyHz.value, 38 * Math.sqrt(1 - 0.07 ** 2), {
      abs: 3 * loud.decision.ringing!.frequencyHz.sd,
      why: 'three of its standard uncertainties; the drawn axis',
    });
  });

  it('asked for the spacing only, the same print tells its frequency', () => {
    expect(reasonOf({ ...loud.evidence, spacingOnly: true })).toBe('spacing-only');
  });

  it.each([
    ['glare', 0.06, 'proof', 0.04],
    ['glare', 0.31, 'glare', 0.06],
  ] as const)('burnt out: %s at a share of %d, %s at %d', (reason, share, below, less) => {
    const at = (clippedShare: number) =>
      reasonOf({ ...quiet.evidence, geometry: { ...quiet.evidence.geometry, clippedShare } });
    expect([at(share), at(less)]).toEqual([reason, below]);
  });

  // Source: Fourier transform of a Gaussian, exp(−2π² (s/p)²): half is left at s = 0.187 p; p is 105/38 mm of 16 px.
  it('blur that leaves less than half of the ripples cannot rule them out', () => {
    const halfPx = Math.sqrt(Math.log(2) / 2) / Math.PI;
    const at = (blurPx: number) =>
      reasonOf({ ...quiet.evidence, geometry: { ...quiet.evidence.geometry, blurPx } });
    const periodPx = (16 * 105) / 38;
    expect([at(0.97 * halfPx * periodPx), at(1.03 * halfPx * periodPx)]).toEqual(['proof', 'blurred']);
  });

  it('ripples at twice the frequency that was set are the axis seen doubled', () => {
    const at = (hz: number) =>
      reasonOf({ ...loud.evidence, settings: { ...loud.settings, ladder: { kind: 'fixed', hz } } });
    expect([at(19), at(23)]).toEqual(['light-from-front', 'proof']);
  });

  it('what stands out clearly and is no ringing by its decay is no quiet wall', () => {
    const at = (clearest: number) =>
      reasonOf({ ...quiet.evidence, proof: { ...quiet.evidence.proof!, clearest } });
    expect([at(5.1), at(4.9)]).toEqual(['not-ringing', 'proof']);
  });

  it('a pattern that was stronger at the far end before it was taken out may be ringing of the other corner', () => {
    const pattern = { pitchMm: { value: 2.7, sd: 0.01 }, amplitude: { value: 0.02, sd: 0.001 } };
    const at = (endRatioBefore: number, fixedPitches: readonly (typeof pattern)[]) =>
      reasonOf({ ...quiet.evidence, ripples: { ...quiet.ripples!, endRatioBefore, fixedPitches } });
    expect([at(1.31, [pattern]), at(1.29, [pattern]), at(1.31, [])]).toEqual([
      'not-ringing',
      'proof',
      'proof',
    ]);
  });

  it('a proof that would show strong ripples only proves nothing', () => {
    const times = (noise: number) => {
      const proof = quiet.evidence.proof!;
      const steps = proof.steps.map((step) => step && { ...step, amplitude: undefined, noise });
      return reasonOf({ ...quiet.evidence, proof: { ...proof, steps } });
    };
    // Source: Rice (1945) as in band/proof.ts: 95 of 100 stand out from 5.47 times the noise on.
    expect([times(0.051 / 5.47), times(0.049 / 5.56)]).toEqual(['too-noisy', 'proof']);
  });

  it('too coarse, or no wall to read', () => {
    const { pxPerMm } = quiet.evidence.geometry;
    const at = (alongWall: number) =>
      reasonOf({
        ...quiet.evidence,
        geometry: { ...quiet.evidence.geometry, pxPerMm: { ...pxPerMm, alongWall } },
      });
    expect([at(5), at(6)]).toEqual(['too-coarse', 'proof']);
    const unread = { ...quiet.evidence };
    delete (unread as { proof?: unknown }).proof;
    expect(reasonOf(unread)).toBe('wall-too-short');
  });
});

describe('a face told from the wrong end', () => {
  it('is refused, not called quiet', () => {
    const { face, settings } = drawn({ ...RECIPE_OF_PROOF, ladder: SET_WRONG });
    const [rows, columns] = face.image.shape as [number, number];
    const light = Float32Array.from(face.image.data, (_, i) => {
      const column = i % columns;
      return face.image.data[i - column + (columns - 1 - column)]!;
    });
    const { decision } = measurePlaced({
      face: { ...face, image: ndarray(light, [rows, columns]) },
      settings,
    });
    expect(decision.proposal).toMatchObject({ state: 'refused', reason: 'not-ringing' });
  });
});
