import fc from 'fast-check';
import ndarray from 'ndarray';
import { describe, expect, test } from 'vitest';
import type { Face } from '../../src/face/rectifyFace.js';
import { makeProfiles, type Profiles } from '../../src/profiles/makeProfiles.js';
import { expectClose } from '../helpers/closeTo.js';
import { drawn, RECIPE, type Drawn } from '../helpers/drawn.js';
import { seeded } from '../synth/random.js';

const WIDTH_MM = 40;
const HEIGHT_MM = 30;

/**
 * A face of 40 × 30 mm whose light is a function of place: mm from the leading corner, mm above its lower edge.
 * Each px holds the light at its middle. The ladder climbs from 20 to 60 Hz over all layers of 0.25 mm.
 */
function painted(
  light: (xMm: number, heightMm: number) => number,
  told: Readonly<Record<string, unknown>> = {},
  pxPerMm = 16,
): Drawn {
  const recipe = { ...RECIPE, widthMm: WIDTH_MM, heightMm: HEIGHT_MM, pxPerMm, noise: 0, gain: 0 };
  const { face, settings } = drawn(recipe, told);
  const [rows, columns] = face.image.shape as [number, number];
  const data = Float32Array.from({ length: rows * columns }, (_, i) =>
    light(((i % columns) + 0.5) / pxPerMm, (rows - Math.floor(i / columns) - 0.5) / pxPerMm),
  );
  return { face: withLight(face, data), settings };
}

const withLight = (face: Face, data: Float32Array): Face => ({
  ...face,
  image: ndarray(data, face.image.shape),
});
const profilesOf = ({ face, settings }: Drawn): Profiles => makeProfiles(face, settings);
const largest = (values: Iterable<number>) => Math.max(...Array.from(values, Math.abs));

describe('pen line', () => {
  const line = (atMm: number, widthMm: number, factor: number) => (_: number, heightMm: number) =>
    Math.abs(heightMm - atMm) < widthMm / 2 ? 0.4 * factor : 0.4;

  test.each([
    ['dark', 17.3, 0.8, 0.4],
    ['bright', 17.3, 0.8, 1.9],
    ['dark and thin', 9.6, 0.4, 0.3],
    ['dark and broad', 22.05, 1.5, 0.5],
  ])('a %s line at %d mm is found, and spoils no band', (_, atMm, widthMm, factor) => {
    const { penLines, bands } = profilesOf(painted(line(atMm, widthMm, factor)));
    const [penLine] = penLines;
    // Source: where it was drawn.
    expectClose(penLine!.heightMm, atMm, { abs: 0.2, why: 'slices are 0.25 mm high' });
    expectClose(penLine!.widthMm, widthMm, {
      abs: 0.5,
      why: 'whole slices, one at each side may be touched',
    });
    expect(bands.length).toBeGreaterThan(24);
    // The face is even, so that every trace of the line would show: a band is flat, and none is left of the line.
    for (const { values } of bands) expect(largest(values)).toBeLessThan(1e-6);
  });

  test('a line drawn across half of a shaded face still counts, one below a fifth of contrast does not', () => {
    const twoThirds = painted((x, h) => line(15, 0.8, x < 27 ? 0.4 : 1)(x, h));
    expectClose(profilesOf(twoThirds).penLines[0]!.heightMm, 15, {
      abs: 0.2,
      why: 'slices are 0.25 mm high',
    });
    // The limit is 0.2 in log brightness: factors 0.819 and 1.221.
    expect(profilesOf(painted(line(15.125, 1, 0.8))).penLines).toHaveLength(1);
    expect(profilesOf(painted(line(15.125, 1, 0.84))).penLines).toEqual([]);
    expect(profilesOf(painted(line(15.125, 1, 1.2))).penLines).toEqual([]);
    expect(profilesOf(painted(line(15.125, 1, 1.25))).penLines).toHaveLength(1);
  });

  test('its height counts from the bed', () => {
    const face = { widthMm: WIDTH_MM, heightMm: HEIGHT_MM, bottomMm: 7, leadingCorner: 'left' };
    const { face: flat, settings } = painted(line(12, 0.8, 0.4), { face, layers: 160 });
    expectClose(makeProfiles({ ...flat, bottomMm: 7 }, settings).penLines[0]!.heightMm, 19, {
      abs: 0.2,
      why: 'slices are 0.25 mm high',
    });
  });

  test('an even face has none, nor has a dark first layer', () => {
    expect(profilesOf(painted(() => 0.4)).penLines).toEqual([]);
    expect(profilesOf(painted((_, h) => (h < 0.4 ? 0.1 : 0.4))).penLines).toEqual([]);
    expect(profilesOf(painted((_, h) => (h > HEIGHT_MM - 0.4 ? 0.1 : 0.4))).penLines).toEqual([]);
  });
});

describe('columns', () => {
  const columnsBetween = ({ positionsMm, usable }: Profiles, fromMm: number, toMm: number) =>
    [...usable].filter((_, i) => positionsMm[i]! >= fromMm && positionsMm[i]! <= toMm);

  test.each([
    ['told', { slots: [{ centreFromLeadingCornerMm: 24, widthMm: 2 }] }, 1],
    ['dark, though not told', {}, 0.3],
    ['told and dark', { slots: [{ centreFromLeadingCornerMm: 24, widthMm: 2 }] }, 0.3],
  ])('a slot %s is masked', (_, told, factor) => {
    const profiles = profilesOf(painted((x) => (Math.abs(x - 24) < 1 ? 0.4 * factor : 0.4), told));
    expect(columnsBetween(profiles, 23, 25)).not.toContain(1);
    expect(columnsBetween(profiles, 0, 22)).not.toContain(0);
    expect(columnsBetween(profiles, 26, WIDTH_MM - 1)).not.toContain(0);
    for (const { values } of profiles.bands) {
      expect(largest(values.filter((__, i) => profiles.usable[i] === 1))).toBeLessThan(1e-6);
    }
    // A slot that is told ends a wall, where the machine is kicked again.
    expect(profiles.walls).toEqual(
      'slots' in told
        ? [
            { startMm: 0, endMm: 23, startsAt: 'leading-corner' },
            { startMm: 25, endMm: WIDTH_MM, startsAt: 'slot' },
          ]
        : [{ startMm: 0, endMm: WIDTH_MM, startsAt: 'leading-corner' }],
    );
  });

  test('slots in any order part the walls', () => {
    const slots = [
      { centreFromLeadingCornerMm: 30, widthMm: 1 },
      { centreFromLeadingCornerMm: 12, widthMm: 2 },
    ];
    expect(profilesOf(painted(() => 0.4, { slots })).walls).toEqual([
      { startMm: 0, endMm: 11, startsAt: 'leading-corner' },
      { startMm: 13, endMm: 29.5, startsAt: 'slot' },
      { startMm: 30.5, endMm: WIDTH_MM, startsAt: 'slot' },
    ]);
  });

  test('the far end is left out, where the corner shines', () => {
    const profiles = profilesOf(painted((x) => (x > WIDTH_MM - 0.7 ? 0.9 : 0.4)));
    expect(columnsBetween(profiles, WIDTH_MM - 0.7, WIDTH_MM)).not.toContain(1);
    expect(columnsBetween(profiles, 0, WIDTH_MM - 1)).not.toContain(0);
  });

  test('bins are 0.125 mm, or a px where that is longer', () => {
    const fine = profilesOf(painted(() => 0.4));
    expect([fine.stepMm, fine.positionsMm.length, fine.positionsMm[0]]).toEqual([0.125, 320, 0.0625]);
    const coarse = profilesOf(painted(() => 0.4, {}, 5));
    expect([coarse.stepMm, coarse.positionsMm.length, coarse.positionsMm[0]]).toEqual([0.2, 200, 0.1]);
  });
});

describe('heights', () => {
  /** The left half is as bright as it is high; the right half tells the level that is taken off. */
  const PER_MM = 0.02;
  const heightCoded = (x: number, h: number) => 0.3 * (x < WIDTH_MM / 2 ? Math.exp(PER_MM * h) : 1);

  test.each([0, 7])(
    'bands lie where their light comes from, with the face %d mm above the bed',
    (bottomMm) => {
      const face = { widthMm: WIDTH_MM, heightMm: HEIGHT_MM, bottomMm, leadingCorner: 'left' };
      const { face: flat, settings } = painted(heightCoded, { face, layers: 160 });
      const { bands } = makeProfiles({ ...flat, bottomMm }, settings);
      expect(bands.length).toBeGreaterThan(26);
      for (const { heightMm, values } of bands) {
        // Source: closed form, the drawn light is exp(0.02 · height) of the left half to the right.
        const toldMm = (values[40]! - values[280]!) / PER_MM;
        expectClose(heightMm - bottomMm, toldMm, {
          abs: 0.002,
          why: 'a px row in 4 of a slice of float32 light',
        });
      }
      const gaps = bands.slice(1).map((band, i) => band.heightMm - bands[i]!.heightMm);
      expectClose(
        gaps,
        gaps.map(() => 1),
        { abs: 1e-9, why: 'bands of four layers of 0.25 mm' },
      );
      // Left out at top and bottom: 0.6 mm.
      expect(bands[0]!.heightMm).toBeGreaterThan(bottomMm + 0.6);
      expect(bands.at(-1)!.heightMm).toBeLessThan(bottomMm + HEIGHT_MM - 0.6);
    },
  );

  test('where a band is cut by a pen line, its height is that of the rest', () => {
    // From 14.00 to 14.25 mm, one of the four slices of its band, with a margin of two.
    const { bands } = profilesOf(painted((x, h) => heightCoded(x, h) * (h > 13 && h < 13.25 ? 0.3 : 1)));
    for (const { heightMm, values } of bands) {
      expectClose(heightMm, (values[40]! - values[280]!) / PER_MM, { abs: 0.002, why: 'as above' });
    }
  });

  test('unshaped layers have no ladder frequency, shaped ones that of their middle', () => {
    const ladder = { kind: 'linear', fromHz: 30, toHz: 59, firstLayer: 40, lastLayer: 98 };
    const { bands } = profilesOf(painted(() => 0.4, { ladder }));
    // Layers 40 to 98 of 0.25 mm lie from 10 to 24.75 mm: bands of 1 mm count if all of them is shaped.
    const shaped = bands.filter((band) => band.ladderHz !== undefined);
    expect(bands.filter((band) => band.heightMm < 10).length).toBeGreaterThan(5);
    for (const { heightMm, ladderHz } of bands) {
      if (heightMm - 0.5 < 10 - 1e-9) expect(ladderHz, `${heightMm} mm`).toBeUndefined();
    }
    expect(shaped.length).toBeGreaterThan(10);
    for (const { heightMm, ladderHz } of shaped) {
      // Source: closed form of the ladder through layer centres (DESIGN 3), k = h / 0.25 − ½.
      expectClose(ladderHz!, 30 + ((59 - 30) * (heightMm / 0.25 - 0.5 - 40)) / 58, {
        abs: 1e-9,
        why: 'rounding',
      });
    }
  });

  test.each([
    ['same', 5],
    ['alternates', 6],
  ])(
    'of layers printed as %s a band has %d of 0.2 mm: as many of either direction where they differ',
    (direction, layers) => {
      const told = { layerHeightMm: 0.2, layers: 150, ladder: { kind: 'off' }, direction };
      const { bands } = profilesOf(painted(() => 0.4, told));
      const gaps = bands.slice(1).map((band, i) => (band.heightMm - bands[i]!.heightMm) / 0.2);
      expectClose(
        gaps,
        gaps.map(() => layers),
        { abs: 1e-9, why: 'rounding' },
      );
    },
  );

  test('off means off at every height', () => {
    const { bands } = profilesOf(painted(() => 0.4, { ladder: { kind: 'off' } }));
    expect(bands.length).toBeGreaterThan(26);
    expect(bands.map((band) => band.ladderHz).filter((hz) => hz !== undefined)).toEqual([]);
  });
});

describe('a sine', () => {
  const SPACING_MM = 2.5;
  const CONTRAST = 0.2;
  const PHASE = 0.7;

  /** Mean of a sine over a stretch is sinc of it: sin(πw/λ)/(πw/λ). */
  const sinc = (widthMm: number) => {
    const x = (Math.PI * widthMm) / SPACING_MM;
    return Math.sin(x) / x;
  };

  test.each([
    [16, 5e-4, 'whole px in each bin: exact'],
    [13, 1e-3, 'the factor holds on the average over all positions of px and bins'],
    [8.9, 1e-3, 'the factor holds on the average over all positions of px and bins'],
  ])('keeps its amplitude and phase at %d px per mm', (pxPerMm, rel, why) => {
    // A camera's px holds the mean of the light over its width.
    const px = sinc(1 / pxPerMm);
    const wave = (x: number) => 0.4 * (1 + CONTRAST * px * Math.cos((2 * Math.PI * x) / SPACING_MM + PHASE));
    const { bands, positionsMm, stepMm } = profilesOf(painted(wave, {}, pxPerMm));
    // Whole periods: 15 of 2.5 mm.
    const count = Math.round((15 * SPACING_MM) / stepMm);
    expect(count * stepMm).toBeCloseTo(15 * SPACING_MM, 1);
    for (const { values } of bands) {
      let [re, im] = [0, 0];
      for (let i = 0; i < count; i += 1) {
        const angle = (2 * Math.PI * positionsMm[i]!) / SPACING_MM;
        re += (2 / count) * values[i]! * Math.cos(angle);
        im -= (2 / count) * values[i]! * Math.sin(angle);
      }
      // Source: closed forms. The mean over a bin takes sinc off the contrast b; where a bin's edges fall between
      // those of px, the running sum of light is interpolated linearly, which takes sinc² of a px;
      // log(1 + b cos φ) has the first harmonic 2 (1 − √(1 − b²)) / b.
      const b = CONTRAST * sinc(stepMm) * (pxPerMm === 16 ? 1 : sinc(1 / pxPerMm) ** 2);
      expectClose(Math.hypot(re, im), (2 * (1 - Math.sqrt(1 - b * b))) / b, { rel, why });
      expectClose(Math.atan2(im, re), PHASE, { abs: rel, why });
    }
  });
});

describe('properties', () => {
  const RIPPLED = { ...RECIPE, widthMm: WIDTH_MM, heightMm: 12, noise: 0.05 };
  const { face, settings } = drawn(RIPPLED);
  const before = makeProfiles(face, settings);
  const [rows, columns] = face.image.shape as [number, number];
  const values = (profiles: Profiles) => profiles.bands.flatMap((band) => [...band.values]);

  test('scaling the light changes nothing', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.02, max: 1.5, noNaN: true }), (factor) => {
        const after = makeProfiles(
          withLight(
            face,
            face.image.data.map((light) => factor * light),
          ),
          settings,
        );
        expect(after.usable).toEqual(before.usable);
        expectClose(values(after), values(before), { abs: 1e-5, why: 'float32 has seven digits' });
      }),
      { numRuns: 20 },
    );
  });

  test('slow shading adds its own logarithm and nothing else', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -0.25, max: 0.25, noNaN: true }),
        fc.double({ min: 0, max: 2 * Math.PI, noNaN: true }),
        (depth, phase) => {
          const shade = (x: number) => 1 + depth * Math.sin((2 * x) / WIDTH_MM + phase);
          const shaded = face.image.data.map(
            (light, i) => light * shade(((i % columns) + 0.5) / RIPPLED.pxPerMm),
          );
          const after = makeProfiles(withLight(face, shaded), settings);
          expect(after.usable).toEqual(before.usable);
          const used = [...before.usable].filter(Boolean).length;
          const added = Array.from(before.positionsMm, (x) => Math.log(shade(x)));
          const mean = added.reduce((sum, value, i) => sum + value * before.usable[i]!, 0) / used;
          after.bands.forEach((band, i) => {
            // The mean over a bin of a product is not quite the product of means; and a value at the very edge of
            // being a spike may be one on either side of it.
            const off = band.values.filter(
              (value, bin) => Math.abs(value - before.bands[i]!.values[bin]! - added[bin]! + mean) > 2e-4,
            );
            expect(off.length).toBeLessThan(0.01 * band.values.length);
          });
        },
      ),
      { numRuns: 20 },
    );
  });

  test('a mirrored image has mirrored profiles', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1000 }), (seed) => {
        const random = seeded(seed);
        const light = face.image.data.map((value) => value * Math.max(0.5, 1 + 0.1 * random.normal()));
        const mirrored = light.map((_, i) => {
          const row = Math.floor(i / columns);
          return light[row * columns + (columns - 1 - (i - row * columns))]!;
        });
        const one = makeProfiles(withLight(face, light), settings);
        const other = makeProfiles(withLight(face, mirrored), settings);
        one.bands.forEach((band, i) => {
          const turned = [...other.bands[i]!.values].reverse();
          // Each is less its mean over its usable columns, which leave out the far end: the other end here.
          const offset = turned[100]! - band.values[100]!;
          expectClose(
            turned.map((value) => value - offset),
            band.values,
            { abs: 1e-5, why: 'float32 has seven digits' },
          );
        });
      }),
      { numRuns: 10 },
    );
  });

  test('black has no logarithm, but a value', () => {
    const light = face.image.data.map((value, i) => (i % columns < 200 ? 0 : value));
    for (const band of makeProfiles(withLight(face, light), settings).bands) {
      expect(band.values.every(Number.isFinite)).toBe(true);
    }
    expect(rows * columns).toBe(light.length);
  });
});
