import { describe, expect, it } from 'vitest';
import { expectClose } from '../helpers/closeTo.js';
import { measureDrawn, RECIPE } from '../helpers/drawn.js';
import type { Lighting } from '../synth/light.js';

/**
 * A matt wall under a lamp one width away, whose foot lies so far behind the leading corner.
 *
 * Source: Lambert's cosine law. Light on a slope s is (L − s l) ÷ r³ up to a factor, with the lamp L in front of the wall
 * and l beside the place: it follows the slope by −l ÷ L, which turns over at the lamp's foot.
 */
function footAt(mm: number, silk = 0): Lighting {
  const azimuthDeg = (Math.asin((mm - RECIPE.widthMm / 2) / RECIPE.widthMm) * 180) / Math.PI;
  return {
    lamp: { azimuthDeg, elevationDeg: 0, distanceWidths: 1 },
    camera: { azimuthDeg: 0, elevationDeg: 0, distanceWidths: 60 },
    surface: { silk, silkAlong: 0.3, silkAcross: 0.8 },
    ambient: 0,
  };
}
const turnOf = (lighting: Lighting, noise = 0.003) =>
  measureDrawn({ ...RECIPE, noise, lighting }).ripples!.phaseTurn;
/** Decay length of the recipe's ripples: v ÷ 2πfζ. */
const DECAY_MM = RECIPE.speedMmPerS / (2 * Math.PI * RECIPE.naturalHz * RECIPE.dampingRatio);

describe('where ripples turn over along the wall', () => {
  it.each([0.5, 0.8, 1.3, 1.6, 1.9])(
    'is the foot of a lamp near by, %f decay lengths from where the wall is read',
    (decays) => {
      const turn = turnOf(footAt(2 + decays * DECAY_MM))!;
      expectClose(turn.atMm, 2 + decays * DECAY_MM, {
        abs: 0.5,
        why: 'a twelfth of a ripple and more: the light falls off with the distance as well',
      });
      expectClose(turn.decays, decays, { abs: 0.15, why: 'decay lengths are known as the damping ratio is' });
      expect(turn.chiSquare).toBeGreaterThan(50);
    },
  );

  it('turns for gloss as well, where the camera sees the lamp reflected', () => {
    // The half vector of a lamp 80 mm and a camera 4800 mm away is square on the wall almost under the lamp.
    const turn = turnOf(footAt(2 + 1.3 * DECAY_MM, 1))!;
    expectClose(turn.atMm, 2 + 1.3 * DECAY_MM, { abs: 1, why: 'the camera is not infinitely far' });
    expect(turn.chiSquare).toBeGreaterThan(50);
  });

  it.each([
    ['far away at the side', undefined],
    ['beside the wall, so that ripples grow along it', footAt(-25)],
    ['in front of the far end, so that they fade', footAt(78)],
  ])('is nowhere under a lamp %s', (_, lighting) => {
    for (const noise of [0.003, 0.1]) {
      const { ripples } = measureDrawn({ ...RECIPE, noise, ...(lighting === undefined ? {} : { lighting }) });
      expect(ripples!.phaseTurn?.chiSquare ?? 0).toBeLessThan(25);
    }
  });

  it('is nowhere on a face of noise', () => {
    for (const seed of [1, 2, 3]) {
      const { ripples } = measureDrawn({ ...RECIPE, gain: 0, noise: 0.05, seed });
      expect(ripples!.phaseTurn?.chiSquare ?? 0).toBeLessThan(25);
    }
  });
});
