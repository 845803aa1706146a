import { describe, expect, it } from 'vitest';
import { expectClose } from '../helpers/closeTo.js';
import { readCsv } from '../helpers/readReference.js';
import { drawFace } from './drawFace.js';
import { shiftAt } from './flaws.js';
import { shadeOf, type Lighting } from './light.js';
import { lightOfCodes } from './picture.js';
import { FACE_KINDS, populationCase } from './population.js';
import { fastNormals } from './random.js';
import { ladderHz, type FaceRecipe } from './recipe.js';
import { truthOf } from './truth.js';

const FAR = 1e6;
const matt = (azimuthDeg: number, ambient = 0): Lighting => ({
  lamp: { azimuthDeg, elevationDeg: 0, distanceWidths: FAR },
  camera: { azimuthDeg: 0, elevationDeg: 0, distanceWidths: FAR },
  surface: { silk: 0, silkAlong: 0.3, silkAcross: 0.8 },
  ambient,
});

describe('light', () => {
  // Source: closed form, Lambert: cos(angle between normal and lamp) against that of the flat face.
  it.each([-60, -22, 0, 40])('a matt wall under a far lamp at %i°', (azimuthDeg) => {
    const shade = shadeOf(matt(azimuthDeg, 0.2), 80, 50);
    for (const slope of [-0.3, -0.01, 0, 0.2]) {
      const azimuth = (azimuthDeg * Math.PI) / 180;
      const tilt = -Math.atan(slope);
      const wanted = 0.2 + (0.8 * Math.cos(tilt - azimuth)) / Math.cos(azimuth);
      expectClose(shade(slope, 10, 20), wanted, { abs: 1e-5, why: 'the lamp is a million widths away' });
    }
  });

  // Source: closed form, light of a point falls off with the square of its distance, and with the angle.
  it('a lamp near by', () => {
    const lamp = { azimuthDeg: 0, elevationDeg: 0, distanceWidths: 1.5 };
    const shade = shadeOf({ ...matt(0), lamp }, 80, 50);
    const away = Math.hypot(30, 120);
    expectClose(shade(0, 70, 25), (120 / away) ** 3, { rel: 1e-12, why: 'the same formula in doubles' });
  });

  // Source: symmetry. Under lamp and camera straight in front, brightness is even in the slope: only its square shows.
  it('from straight in front both directions of slope look the same', () => {
    const lighting = { ...matt(0), surface: { silk: 2, silkAlong: 0.2, silkAcross: 0.8 } };
    const shade = shadeOf(lighting, 80, 50);
    expectClose(shade(0.1, 10, 20), shade(-0.1, 10, 20), { rel: 1e-4, why: 'a million widths away' });
    expect(shade(0.1, 10, 20)).toBeLessThan(0.95);
  });
});

describe('picture', () => {
  // Source: test/reference/srgb.csv, IEC 61966-2-1.
  it('codes mean the linear light of the standard', () => {
    const rows = readCsv('srgb.csv', ['code', 'linear']);
    const light = lightOfCodes(Uint8Array.from(rows, (row) => row.code));
    expectClose(
      light,
      rows.map((row) => row.linear),
      { abs: 1e-6, why: 'float32, and the digits of the table' },
    );
  });

  // Source: the normal distribution: variance 1, fourth moment 3, a twentieth beyond 1.96.
  it('fast noise is normal', () => {
    const normal = fastNormals(5);
    const count = 400_000;
    const values = Float64Array.from({ length: count }, normal);
    const moment = (k: number) => values.reduce((sum, value) => sum + value ** k, 0) / count;
    expectClose(moment(1), 0, { abs: 0.007, why: '4 standard errors of 400,000 draws' });
    expectClose(moment(2), 1, { abs: 0.009, why: '4 standard errors, √(2/n) each' });
    expectClose(moment(4), 3, {
      abs: 0.08,
      why: '4 standard errors, √(96/n) each, and a table that ends at 4.0',
    });
    const beyond = values.filter((value) => Math.abs(value) > 1.96).length / count;
    expectClose(beyond, 0.05, { abs: 0.002, why: '4 standard errors' });
  });
});

describe('what a print does to a wall', () => {
  const still: FaceRecipe = {
    ...{ widthMm: 40, heightMm: 4, layerHeightMm: 0.2, pxPerMm: 40 },
    ...{ speedMmPerS: 100, accelerationMmPerS2: 5000, cornerSpeedMmPerS: 6 },
    ...{ naturalHz: 35, dampingRatio: 0.06, wallShaped: false, gain: 1, noise: 0, seed: 1 },
  };
  const rowAt = (face: ReturnType<typeof drawFace>, layer: number) => {
    // The middle one of the eight of a layer.
    const row = face.rows - 4 - 8 * layer;
    return face.light.slice(row * face.columns, (row + 1) * face.columns);
  };

  // Source: symmetry. A wall that is printed from the other corner, under the lamp on the other side, is the mirror image.
  it('odd layers from the other corner are mirrored, even ones are not', () => {
    const both = drawFace({ ...still, lighting: matt(20), alternates: true });
    const odd = drawFace({ ...still, lighting: matt(-20) });
    const even = drawFace({ ...still, lighting: matt(20) });
    const why = 'single precision';
    expectClose(rowAt(both, 9).toReversed(), rowAt(odd, 9), { abs: 1e-6, why });
    expectClose(rowAt(both, 8), rowAt(even, 8), { abs: 1e-6, why });
  });

  it('layers above a shift lie beside those below by as much, and the clicked corners lie on both', () => {
    const shift = { heightMm: 2, byMm: 0.5 };
    expect(shiftAt({ shift }, 0, 4)).toBe(0);
    expect(shiftAt({ shift }, 4, 4)).toBe(0);
    expect(shiftAt({ shift }, 2.001, 4) - shiftAt({ shift }, 1.999, 4)).toBeCloseTo(0.5, 3);
  });

  // Source: linear interpolation by hand, and rounding to whole numbers.
  it('a ladder of points is straight between them, and one of whole hertz has no others', () => {
    const table = [
      { share: 0, hz: 20 },
      { share: 0.5, hz: 30 },
      { share: 1, hz: 60 },
    ];
    const ladder = { fromHz: 20, toHz: 60, dampingRatio: 0.1 };
    const hzOf = (layer: number) => ladderHz({ ...ladder, table }, layer, 100);
    const found = [0, 24.5, 49.5, 74.5, 99].map(hzOf);
    expectClose(found, [20.1, 25, 30, 45, 59.7], { abs: 1e-9, why: 'rounding' });
    for (let layer = 0; layer < 100; layer += 1) {
      const rounded = ladderHz({ ...ladder, roundedHz: 1 }, layer, 100);
      expect(Number.isInteger(rounded)).toBe(true);
      expect(Math.abs(rounded - ladderHz(ladder, layer, 100))).toBeLessThanOrEqual(0.5);
    }
  });
});

describe('population', () => {
  it.each(FACE_KINDS)('%s: the same seed draws the same, and its null lies where its name says', (kind) => {
    for (let seed = 1; seed <= 40; seed += 1) {
      const one = populationCase(kind, seed);
      expect(populationCase(kind, seed)).toEqual(one);
      const { fromHz, toHz } = one.recipe.ladder!;
      const { nullHz } = truthOf(one.recipe);
      if (kind === 'below') expect(fromHz).toBeGreaterThan(1.1 * nullHz);
      else if (kind === 'above' || kind === 'second-null') expect(toHz).toBeLessThan(0.9 * nullHz);
      else if (kind === 'one-sided') expect(Math.min(nullHz - fromHz, toHz - nullHz)).toBeLessThan(0.81);
      else if (kind === 'flat') expect(toHz).toBe(fromHz);
      // EI has two nulls, one on each side of the axis's own frequency: either may be the deeper one.
      else if (kind !== 'ei') expect(fromHz < nullHz - 1 && nullHz + 1 < toHz).toBe(true);
    }
  });

  it('a face is drawn the same twice, and twice the noise halves its ratio where noise is all there is', () => {
    const { recipe } = populationCase('main', 3);
    const small = { ...recipe, widthMm: 40, heightMm: 12, pxPerMm: 10 };
    expect(drawFace(small)).toEqual(drawFace(small));
    const smooth = { ...small, texture: { ...small.texture!, widthSlope: 0, grain: 0 } };
    const [one, two] = [0.05, 0.1].map((noise) => drawFace({ ...smooth, noise }).signal.signalToNoise);
    expectClose(one! / two!, 2, { rel: 1e-9, why: 'the ratio is amplitude ÷ noise' });
  });
});
