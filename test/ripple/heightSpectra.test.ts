import { describe, expect, it } from 'vitest';
import { checkPrintRecord } from '../../src/print/record.js';
import { settlePrint } from '../../src/print/settle.js';
import type { Profiles } from '../../src/profiles/makeProfiles.js';
import { heightSpectrum, type HeightSpectrum } from '../../src/ripple/heightSpectra.js';
import { measureRipples } from '../../src/ripple/measureRipples.js';
import { seeded } from '../synth/random.js';

const STEP_MM = 0.125;
const BANDS = 60;
const WIDTH_MM = 84;
const NOISE = 0.01;

function settingsFor(speedMmPerS: number) {
  return settlePrint(
    checkPrintRecord({
      schema: 'stillband/print-record@1',
      axis: 'Y',
      speedMmPerS,
      accelerationMmPerS2: 100000,
      cornerSpeedMmPerS: 6,
      layerHeightMm: 0.2,
      face: { widthMm: WIDTH_MM, heightMm: BANDS, leadingCorner: 'left' },
      ladder: { kind: 'off' },
    }),
  ).settings;
}

/** Profiles of white noise of standard deviation `NOISE` along a wall, plus the given wave. */
function profilesOf(seed: number, waveAt: (xMm: number) => number = () => 0, widthMm = WIDTH_MM): Profiles {
  const random = seeded(seed);
  const positionsMm = Float64Array.from({ length: widthMm / STEP_MM }, (_, i) => (i + 0.5) * STEP_MM);
  return {
    walls: [{ startMm: 0, endMm: widthMm, startsAt: 'leading-corner' }],
    stepMm: STEP_MM,
    positionsMm,
    usable: new Uint8Array(positionsMm.length).fill(1),
    bands: Array.from({ length: BANDS }, (_, band) => ({
      heightMm: band + 0.5,
      ladderHz: undefined,
      values: positionsMm.map((x) => waveAt(x) + NOISE * random.normal()),
    })),
    penLines: [],
  };
}

function spectra(profiles: Profiles, speedMmPerS = 110): readonly HeightSpectrum[] {
  const { fit } = measureRipples(profiles, settingsFor(speedMmPerS))!;
  return profiles.bands.map((_, band) => heightSpectrum(fit, band)!);
}

describe('significance of a height', () => {
  it('takes white noise for a line in 1 % of profiles', () => {
    // Source: the claim itself; the noise goes the whole way from profiles to spectrum.
    const faces = 60;
    const found = Array.from({ length: faces }, (_, face) => spectra(profilesOf(9000 + face))).flat();
    const share = found.filter(({ significant }) => significant).length / found.length;
    // Three standard deviations of a share of 1 % in 3600 draws, √(0.01 · 0.99/3600) = 0.17 %.
    expect(found.length).toBe(faces * BANDS);
    expect(Math.abs(share - 0.01)).toBeLessThan(0.005);
  });

  it('sees a ripple that is clearly there at every height, and strong damping does not hide it', () => {
    // Source: closed form. From 2 mm behind the corner on, a damped sine of amplitude A and decay α a mm has a
    // line of A e^{−2α}/(2αd) on bins of d mm; white noise s of N bins under half-Hann has the median amplitude
    // 1.177 s √(0.375 N/2). With A = 12 s that is 46 times the noise for ζ = 0.03, and 10 times for ζ = 0.1.
    for (const dampingRatio of [0.03, 0.1]) {
      const perMm = (2 * Math.PI * 40) / 110;
      const alpha = dampingRatio * perMm;
      const wave = (x: number) => 12 * NOISE * Math.exp(-alpha * x) * Math.cos(perMm * x);
      const found = spectra(profilesOf(77, wave));
      expect(found.filter(({ significant }) => significant).length).toBe(found.length);
    }
  });

  it('claims nothing where the wall is too short to tell noise from the line', () => {
    // 11 mm in 28 ms: none of the four bins of 36 Hz lies four away from the peak.
    const short = profilesOf(5, (x) => Math.cos(x), 14);
    for (const { noiseFloor, significant, peakHz } of spectra(short, 400)) {
      expect([noiseFloor, significant]).toEqual([0, false]);
      expect(peakHz.sd).toBeGreaterThan(20);
    }
  });
});
