import { describe, expect, test } from 'vitest';
import { faceConflict, looksTurned, suspectOf } from '../../src/face/conflict.js';
import type { Scale, UsedReference } from '../../src/face/scales.js';
import { expectClose } from '../helpers/closeTo.js';

/** What a face tells about itself, all of it in order but what a test says. */
const face = (
  scales: readonly Scale[] = [],
  aspect = { value: 1, sd: 0.001 },
  skewRad = { value: 0, sd: 0.001 },
) => ({ scales, aspect, skewRad, widthMm: 80, heightMm: 60 });

describe('two scales', () => {
  const commanded: Scale = { kind: 'face', class: 'commanded', perCommanded: { value: 1, sd: 0.004 } };
  const ruler = (value: number, sd = 0.001): Scale => ({
    kind: 'two-points',
    class: 'physical',
    perCommanded: { value, sd },
  });
  const scanned = (value: number, sd = 0.001): Scale => ({ ...ruler(value, sd), kind: 'dpi' });

  // Source: DESIGN 3, only a ratio beyond 1.5 % is a conflict.
  test.each([
    [1.0149, false],
    [1.0151, true],
    [0.9851, false],
    [0.9849, true],
    [1, false],
  ])('commanded ÷ physical %d: conflict %s', (ratio, conflict) => {
    const found = faceConflict(face([commanded, ruler(1 / ratio)]));
    expect(found !== undefined).toBe(conflict);
    if (conflict) expectClose(found!.value, Math.abs(ratio - 1), { abs: 1e-12, why: 'rounding' });
    if (conflict) expect(found!.quantity).toMatch(/the face's size and two points/);
  });

  test('nor is one within three times the joint uncertainty', () => {
    const pair = (sd: number) => [ruler(0.99, sd), scanned(1.01, sd)];
    // 2 % apart; three times the joint uncertainty are 2.1 % and 1.7 %.
    expect(faceConflict(face([commanded, ...pair(0.005)]))).toBeUndefined();
    expect(faceConflict(face([commanded, ...pair(0.004)]))).toBeDefined();
    // 1.4 % apart is none, however sure both are.
    expect(faceConflict(face([commanded, ruler(0.993, 1e-4), scanned(1.007, 1e-4)]))).toBeUndefined();
  });

  test('one scale alone has none', () => {
    expect(faceConflict(face([commanded]))).toBeUndefined();
    expect(faceConflict(face([]))).toBeUndefined();
  });
});

describe('the shape', () => {
  // Source: DESIGN 3, beyond 1.5 % and beyond three standard uncertainties.
  test.each([
    [1.0149, 0.001, false],
    [1.0151, 0.001, true],
    [0.9849, 0.001, true],
    [1.029, 0.01, false],
    [1.032, 0.01, true],
  ])('height ÷ width %d of the told one, known to %d: conflict %s', (value, sd, conflict) => {
    const found = faceConflict(face([], { value, sd }));
    expect(found !== undefined).toBe(conflict);
    if (found === undefined) return;
    expect(found.quantity).toMatch(/height of the face by its corners/);
    expectClose(found.value, 60 * value, { abs: 1e-9, why: 'rounding' });
    expect(Math.abs(found.value - 60)).toBeGreaterThan(Math.abs(found.limit - 60));
  });

  test.each([
    [0.0149, 0.001, false],
    [-0.0151, 0.001, true],
    [0.029, 0.01, false],
    [0.031, 0.01, true],
  ])('edges %d radians off a right angle, known to %d: conflict %s', (value, sd, conflict) => {
    const found = faceConflict(face([], undefined, { value, sd }));
    expect(found !== undefined).toBe(conflict);
    // Source: closed form, 180° are π radians.
    if (found !== undefined)
      expectClose(found.value, (Math.abs(value) * 180) / Math.PI, { rel: 1e-12, why: 'rounding' });
  });

  test('a face whose size is not told in full has no shape to contradict', () => {
    const { scales, skewRad, widthMm, heightMm } = face();
    expect(faceConflict({ scales, skewRad, heightMm })).toBeUndefined();
    expect(looksTurned({ widthMm, heightMm })).toBe(false);
  });

  test('looks turned only where exchanged sides fit', () => {
    // 80 × 60 mm seen as 60 × 80 mm: (80/60)² = 16/9 of the told height ÷ width.
    expect(looksTurned(face([], { value: 16 / 9, sd: 0.01 }))).toBe(true);
    expect(looksTurned(face([], { value: 1.7, sd: 0.01 }))).toBe(false);
    expect(looksTurned(face())).toBe(false);
    // A square is the same either way.
    expect(looksTurned({ ...face([], { value: 1.01, sd: 0.001 }), heightMm: 80 })).toBe(false);
  });
});

describe('the suspect', () => {
  const layers = (value: number): Scale => ({
    kind: 'layers',
    class: 'commanded',
    perCommanded: { value, sd: 0.003 },
  });
  const card = (value: number): Scale => ({
    kind: 'id1-card',
    class: 'physical',
    perCommanded: { value, sd: 0.003 },
  });
  const found: UsedReference = {
    kind: 'id1-card',
    points: [],
    pointSdPx: 0.1,
    sizeRelativeSd: 0.001,
    outlinePx: [],
    confidence: 1,
    behindFaceMm: 0,
    use: 'scale',
    seemsBehindMm: { value: 30, sd: 2 },
  };
  const told = { layerHeightMm: 0.2 };
  const of = (scales: readonly Scale[], aspect?: number, references: readonly UsedReference[] = []) =>
    suspectOf({ ...face(scales, { value: aspect ?? 1, sd: 0.002 }), references }, told);
  /** The face is 80 × 60 mm as told; its corners, layers and card are those of the truth. */
  const truly = (widthMm: number, heightMm: number, layerMm: number) =>
    ({
      // Closed form: n layers of layerMm make the height, and are read as so many of the told ones.
      scales: [layers(((heightMm / layerMm) * 0.2) / 60)],
      aspect: heightMm / widthMm / (60 / 80),
    }) as const;

  test.each<[string, number, number, number, { what: string; mm: { value: number } } | undefined]>([
    ['nothing', 80, 60, 0.2, undefined],
    ['the layer height', 80, 60, 0.25, { what: 'layer-height', mm: { value: 0.25 } }],
    ['the width', 84, 60, 0.2, { what: 'width', mm: { value: 84 } }],
    ['the height', 80, 64, 0.2, { what: 'height', mm: { value: 64 } }],
    ['height and layers at once', 80, 64, 0.25, undefined],
  ])('%s', (_, widthMm, heightMm, layerMm, expected) => {
    const { scales, aspect } = truly(widthMm, heightMm, layerMm);
    const suspect = of(scales, aspect);
    if (expected === undefined) expect(suspect).toBeUndefined();
    else {
      const { what, mm } = expected;
      expect(suspect).toMatchObject({ what });
      if (suspect === undefined || !('mm' in suspect)) throw new Error('it tells no length');
      expectClose(suspect.mm.value, mm.value, { rel: 1e-9, why: 'rounding' });
    }
  });

  test('a cover makes layers and corners differ by one factor: it may be that, where they do', () => {
    const covered = (layersRatio: number, shape: { value: number; sd: number }) => {
      const suspect = suspectOf({ ...face([layers(layersRatio)], shape), references: [] }, told);
      return suspect !== undefined && 'orCovered' in suspect && suspect.orCovered;
    };
    // 1.2 mm more than the told 60 mm are taken for the face: 2 % more layers, and 2 % higher by the corners.
    expect(covered(1.02, { value: 1.02, sd: 0.002 })).toBe(true);
    // Corners that tell the shape poorly contradict neither.
    expect(covered(1.02, { value: 1, sd: 0.02 })).toBe(true);
    // Those that tell it well do: the height is right, and the layers are thinner.
    expect(covered(1.02, { value: 1, sd: 0.001 })).toBe(false);
  });

  test('a card alone against face and layers lies elsewhere; with the layers, against the face, the size is wrong', () => {
    expect(of([layers(1), card(1.09)], 1, [found])).toEqual({
      what: 'reference',
      kind: 'id1-card',
      behindMm: found.seemsBehindMm,
    });
    expect(of([card(1.09)], 1, [found])).toBeUndefined();
    expect(of([layers(1.09), card(1.09)], 1, [found])).toEqual({ what: 'size' });
  });
});
