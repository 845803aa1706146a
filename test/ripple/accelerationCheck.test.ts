import { describe, expect, it } from 'vitest';
import { measureDrawn, RECIPE } from '../helpers/drawn.js';

// Truth: test/synth draws the nozzle's motion behind the corner by its own integration, not by src/physics.
const TRUE_MM_PER_S2 = 2500;
const gainOf = (told: number, noise = 0.05) => {
  const { ripples } = measureDrawn(
    { ...RECIPE, accelerationMmPerS2: TRUE_MM_PER_S2, noise },
    { accelerationMmPerS2: told },
  );
  return ripples!.acceleration;
};

describe('the told acceleration against others', () => {
  it('the true one is not bettered', () => {
    expect(gainOf(TRUE_MM_PER_S2).gain).toBeLessThan(0.02);
  });
  it.each([0.1, 0.2, 0.3])('%f of it is bettered by a higher one', (share) => {
    const { gain, accelerationMmPerS2 } = gainOf(share * TRUE_MM_PER_S2);
    expect(gain).toBeGreaterThan(0.05);
    expect(accelerationMmPerS2).toBe(4 * share * TRUE_MM_PER_S2);
  });
  it('a face of noise prefers none', () => {
    const { ripples } = measureDrawn({ ...RECIPE, gain: 0, noise: 0.05 });
    expect(ripples!.acceleration.gain).toBeGreaterThanOrEqual(0);
    expect(Number.isFinite(ripples!.acceleration.gain)).toBe(true);
  });
  it('a ramp as long as the wall leaves nothing to compare: no gain, no failure', () => {
    // 105² ÷ (2 · 150) = 37 mm of ramp at each end of 80 mm; a quarter of it leaves no wall at all.
    const { gain } = gainOf(150);
    expect(Number.isFinite(gain)).toBe(true);
  });
});
