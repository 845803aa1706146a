import { describe, expect, it } from 'vitest';
import { doublingOf } from '../../src/ripple/doubling.js';
import type { BandAmplitude } from '../../src/ripple/jointFit.js';
import { expectClose } from '../helpers/closeTo.js';
import { measureDrawn, RECIPE } from '../helpers/drawn.js';
import type { Lighting } from '../synth/light.js';
import { seeded } from '../synth/random.js';

/** Bands whose brightness is α s + β s², s = Re(A e^{λt}): A shrinks, turns over and grows again over the height. */
function bands(alpha: number, beta: number, noise: number, seed: number): readonly BandAmplitude[] {
  const random = seeded(seed);
  const part = (value: number) => value + noise * random.normal();
  return Array.from({ length: 48 }, (_, i) => {
    const size = 0.1 * (i / 20 - 1);
    const [re, im] = [size * Math.cos(0.3 + 0.02 * i), size * Math.sin(0.3 + 0.02 * i)];
    // s² = |A|² e^{−2σt}/2 + Re(A² e^{2λt})/2.
    const square = { re: part((beta / 2) * (re ** 2 - im ** 2)), im: part(beta * re * im) };
    return {
      amplitude: { re: part(alpha * re), im: part(alpha * im) },
      sd: noise,
      doubled: { amplitude: square, sd: noise },
    };
  });
}
const EQUAL = new Float64Array(48).fill(1);

describe('doublingOf', () => {
  it.each([
    [1, 3],
    [-1, 8],
    [0.2, -3],
  ])('is β ÷ 2α times the rms slope, for brightness %d s + %d s²', (alpha, beta) => {
    const squares = Array.from({ length: 48 }, (_, i) => (0.1 * (i / 20 - 1)) ** 2);
    const fourth = squares.reduce((sum, value) => sum + value ** 2, 0);
    const second = squares.reduce((sum, value) => sum + value, 0);
    const { value, sd } = doublingOf(bands(alpha, beta, 0, 1), EQUAL)!;
    // Source: closed form, cos² = (1 + cos 2)/2.
    expectClose(value, (Math.abs(beta) / 2 / Math.abs(alpha)) * Math.sqrt(fourth / second), {
      rel: 1e-9,
      why: 'rounding',
    });
    expect(sd).toBeLessThan(1e-9);
  });

  it('noise does not make it, and its uncertainty is that of the scatter', () => {
    const found = Array.from({ length: 200 }, (_, seed) => doublingOf(bands(1, 0, 0.02, seed + 1), EQUAL)!);
    const ratios = found.map(({ value, sd }) => value / sd);
    const rms = Math.sqrt(ratios.reduce((sum, value) => sum + value * value, 0) / ratios.length);
    // 200 draws tell a standard deviation to 5 %; a jackknife over ten blocks tells each sd to about 25 %, which
    // makes the rms larger than 1 by about as much (Student's t with 9 degrees of freedom: √(9/7) = 1.13).
    expect(rms).toBeGreaterThan(0.8);
    expect(rms).toBeLessThan(1.4);
  });

  it('says nothing where nothing stands out at f, or no squares were fitted', () => {
    expect(
      doublingOf(
        bands(0, 8, 0.02, 4).map((band) => ({ ...band, sd: 0.05 })),
        EQUAL,
      ),
    ).toBeUndefined();
    expect(
      doublingOf(
        bands(1, 3, 0, 1).map(({ amplitude, sd }) => ({ amplitude, sd })),
        EQUAL,
      ),
    ).toBeUndefined();
    expect(doublingOf([], EQUAL)).toBeUndefined();
  });
});

describe('on a matt wall', () => {
  // Source: Lambert's cosine law. ln I = ln(cos φ − s sin φ) − ½ ln(1 + s²) for a lamp at azimuth φ, so that with
  // a = tan φ the slope's coefficient is a and that of its square ½(1 + a²): A₂ ÷ A₁² = (1 + a²) ÷ 4a².
  it.each([12, 22])('lit from %i° it is what the cosine law says', (azimuthDeg) => {
    const lighting: Lighting = {
      lamp: { azimuthDeg, elevationDeg: 0, distanceWidths: 60 },
      camera: { azimuthDeg: 0, elevationDeg: 0, distanceWidths: 60 },
      surface: { silk: 0, silkAlong: 0.3, silkAcross: 0.8 },
      ambient: 0,
    };
    const ripples = measureDrawn({ ...RECIPE, noise: 0.003, lighting }).ripples!;
    let [second, fourth] = [0, 0];
    ripples.amplitudes.forEach((band, i) => {
      if (band === undefined) return;
      const square = band.amplitude.re ** 2 + band.amplitude.im ** 2;
      second += ripples.fit.weights[i]! * square;
      fourth += ripples.fit.weights[i]! * square ** 2;
    });
    const a = Math.tan((azimuthDeg * Math.PI) / 180);
    expectClose(ripples.doubling!.value, ((1 + a * a) / (4 * a * a)) * Math.sqrt(fourth / second), {
      rel: 0.1,
      why: 'bins of 0.125 mm take 1.5 % off the doubled ripples of 1.4 mm; the cube of the slope is left out, and in the amplitudes, not in the ratio, drawn in as an outlier',
    });
  });
});
