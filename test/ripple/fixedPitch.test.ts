import { describe, expect, it } from 'vitest';
import { expectClose } from '../helpers/closeTo.js';
import { measureDrawn, RECIPE } from '../helpers/drawn.js';

// Truth: the recipe (test/synth draws ripples and pattern by its own code). 105 mm/s ÷ 38 Hz is a spacing of 2.76 mm.
const DAMPED_HZ = RECIPE.naturalHz * Math.sqrt(1 - RECIPE.dampingRatio ** 2);

describe('a pattern of fixed pitch beside the ripples', () => {
  it.each([2.69, 2.74, 2.83])(
    'of %f mm, nearly their spacing, leaves frequency and damping alone',
    (pitchMm) => {
      const { ripples } = measureDrawn({ ...RECIPE, noise: 0.05, pitch: { pitchMm, amplitude: 0.03 } });
      expectClose(ripples!.frequencyHz.value, DAMPED_HZ, {
        abs: 0.35,
        why: 'DESIGN §10: spacing at SNR 12–25',
      });
      expectClose(ripples!.dampingRatio.value, RECIPE.dampingRatio, {
        rel: 0.25,
        why: 'twice 10 %, DESIGN §10',
      });
      expect(ripples!.undamped).toBe(false);
    },
  );
  it('is told with its pitch', () => {
    const { ripples } = measureDrawn({ ...RECIPE, noise: 0.05, pitch: { pitchMm: 2.69, amplitude: 0.03 } });
    expect(ripples!.fixedPitches.map(({ pitchMm }) => pitchMm.value)).toContainEqual(
      expect.closeTo(2.69, 1) as number,
    );
  });
});
