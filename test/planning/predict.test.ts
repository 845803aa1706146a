import { describe, expect, it } from 'vitest';
import { predictUncertainty } from '../../src/planning/predict.js';
import type { PrintSettings } from '../../src/print/settle.js';
import { expectClose } from '../helpers/closeTo.js';
import { drawn, measureDrawn, RECIPE } from '../helpers/drawn.js';

const AXIS = { naturalHz: RECIPE.naturalHz, dampingRatio: RECIPE.dampingRatio };
const LIT = {
  ...RECIPE,
  noise: 0.02,
  lighting: {
    lamp: { azimuthDeg: 67, elevationDeg: 5, distanceWidths: 5 },
    camera: { azimuthDeg: 0, elevationDeg: 0, distanceWidths: 2 },
    surface: { silk: 0, silkAlong: 0.3, silkAcross: 0.8 },
    ambient: 0.15,
  },
  texture: { widthSlope: 0.007, widthMm: 0.7, layerJitter: 0.02, grain: 0.005, grooves: 0.1 },
} as const;

describe('predictUncertainty', () => {
  const { settings } = drawn({ ...RECIPE, pxPerMm: 2 });
  const of = (change: Partial<PrintSettings> = {}, axis = AXIS) =>
    predictUncertainty({ ...settings, ...change }, axis, 16);

  it('is about what the reading of a face says that is lit as advised', () => {
    // Source: an independent drawing (test/synth), measured; docs/plan.json has 320 of them.
    const { decision } = measureDrawn(LIT);
    if (decision.proposal.state !== 'proposed') throw new Error('Expected a proposal.');
    const { fromNull, fromSpacing } = decision.proposal;
    const found = of()!;
    for (const [predicted, stated] of [
      [found.fromNull, fromNull],
      [found.fromSpacing, fromSpacing],
    ] as const) {
      expect(predicted.sd / stated.sd).toBeGreaterThan(0.6);
      expect(predicted.sd / stated.sd).toBeLessThan(1.7);
    }
    const causes = new Set(found.budget.map(({ cause }) => cause));
    for (const { cause } of decision.budget) expect(causes).toContain(cause);
  });

  it('its speed line is that of the closed form', () => {
    const found = of({ alongWall: 'off' })!;
    const speed = found.budget.find(({ cause }) => cause === 'speed')!;
    expect(speed.nullHz).toBe(0);
    expectClose(speed.spacingHz, 0.02 * found.fromSpacing.value, { rel: 1e-12, why: '2 % of v ÷ λ' });
  });

  it('a ramp of a whole swing shows next to nothing', () => {
    const { cornerSpeedMmPerS: vc } = settings;
    const at = (swings: number) =>
      of({ accelerationMmPerS2: ((105 - vc) * AXIS.naturalHz) / swings })?.signalToNoise ?? 0;
    expect(at(1)).toBeLessThan(0.35 * at(0.5));
    expect(at(1)).toBeLessThan(0.8 * at(1.5));
  });

  it('there is none where the ladder does not reach', () => {
    expect(of({}, { naturalHz: 90, dampingRatio: 0.05 })).toBeUndefined();
    expect(of({ ladder: { kind: 'off' } })).toBeUndefined();
  });
});
