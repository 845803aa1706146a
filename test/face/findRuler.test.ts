import ndarray from 'ndarray';
import { describe, expect, test } from 'vitest';
import type { CodeImage, PointPx } from '../../src/core/image.js';
import { findRuler } from '../../src/face/findRuler.js';
import type { FoundReference } from '../../src/face/reference.js';
import { applyHomography, homographyFromPoints } from '../../src/imaging/homography.js';
import { linearLut } from '../../src/imaging/tone.js';
import { expectClose } from '../helpers/closeTo.js';
import { photoTruth } from '../helpers/measured.js';
import { readJson } from '../helpers/readReference.js';
import { drawnPhoto, wholePhoto } from '../helpers/wholePhoto.js';
import { fastNormals } from '../synth/random.js';
import { drawFlatScene, seenAt, viewOfPlane } from '../synth/flatScene.js';
import { HALF_MILLIMETRES, MILLIMETRES, ruler, SIXTEENTHS, type Division } from '../synth/flatReferences.js';

/** Px per mm between the outer points. */
function pitchOf({ points }: FoundReference): number {
  const [first, last] = [points[0]!, points.at(-1)!];
  return Math.hypot(last.px[0] - first.px[0], last.px[1] - first.px[1]) / (last.mm[0] - first.mm[0]);
}

// Source: real photographs of rulers divided in 0.5 mm (Natural History Museum, London), pitch measured by sine fit
// apart from this code: test/reference/ruler_photos.json.
const { images } = readJson('ruler_photos.json') as {
  readonly images: Record<string, { readonly px_per_1mm: number }>;
};

describe('findRuler in the real photographs', () => {
  test.each(Object.entries(images))(
    '%s: millimetres, and their pitch',
    async (file, { px_per_1mm: pxPerMm }) => {
      const { codes, lut } = await wholePhoto(`outside/${file}`);
      const found = findRuler(codes, lut)!;
      expect(found.kind).toBe('ruler');
      expectClose(pitchOf(found), pxPerMm, { rel: 0.002, why: 'the issue: pitch within 0.2 %' });
      expect(found.confidence).toBeGreaterThan(0.85);
    },
  );

  test.each([17, 90, 143, 180, 301])('turned by %i° the ruler has the same pitch', async (degrees) => {
    const { codes, lut } = await wholePhoto('outside/ruler-half-mm-960x640.jpg', (picture) =>
      picture.rotate(degrees, { background: '#555' }),
    );
    const found = findRuler(codes, lut)!;
    expectClose(pitchOf(found), 17.556, { rel: 0.003, why: '0.2 % of the issue, and sharp’s interpolation' });
  });
});

describe('findRuler in the ray-traced photographs', () => {
  test('red-ruler: centimetres in the plane of the face, on the marks of the truth', async () => {
    // Source: the ray tracer's truth file: marks 10 and 60, and the face's corners, in whose plane the ruler lies.
    const truth = photoTruth('red-ruler') as ReturnType<typeof photoTruth> & {
      readonly reference: { readonly points: readonly { readonly mark_mm: number; readonly px: PointPx }[] };
    };
    const { codes, lut } = await wholePhoto('red-ruler.jpg');
    const { points, sizeRelativeSd } = findRuler(codes, lut)!;
    const [width, height] = [truth.W_mm, truth.H_mm];
    const toMm = homographyFromPoints(truth.face_corners_px_tl_tr_br_bl, [
      [0, 0],
      [width, 0],
      [width, height],
      [0, height],
    ]);
    const inPlane = points.map(({ px }) => applyHomography(toMm, ...px));
    const steps = inPlane.slice(1).map(([x, y], i) => Math.hypot(x - inPlane[i]![0], y - inPlane[i]![1]));
    const expected = points.slice(1).map(({ mm }, i) => mm[0] - points[i]!.mm[0]);
    expect(expected.reduce((sum, mm) => sum + mm, 0)).toBeGreaterThan(100);
    expectClose(steps, expected, { rel: 0.003, why: 'DESIGN §10: ruler in plane 0.3 %' });
    // The same: a scale surer than its own ruler is none.
    expect(sizeRelativeSd).toBeLessThan(0.003);
    // Each marked point lies on the line of its mark: across the ruler from one of ours, along the face's plane.
    const [along, across] = [0, 1].map((turned) => {
      const [a, b] = [inPlane[0]!, inPlane.at(-1)!];
      const d = [b[0] - a[0], b[1] - a[1]].map((v) => v / Math.hypot(b[0] - a[0], b[1] - a[1]));
      return turned === 0 ? d : [-d[1]!, d[0]!];
    });
    for (const { px } of truth.reference.points) {
      const at = applyHomography(toMm, ...px);
      const offsets = inPlane.map(([x, y]) => [
        (at[0] - x) * along![0]! + (at[1] - y) * along![1]!,
        (at[0] - x) * across![0]! + (at[1] - y) * across![1]!,
      ]);
      const nearest = offsets.reduce((best, one) => (Math.abs(one[0]!) < Math.abs(best[0]!) ? one : best));
      expectClose(nearest[0]!, 0, { abs: 0.05, why: 'a tenth of a mark’s width in mm, and the homography' });
      expect(Math.abs(nearest[1]!)).toBeLessThan(4);
    }
  });

  test.each(['white-card', 'black-markers', 'blue-markers', 'orange-card-set-back', 'silver-face-only'])(
    '%s shows none, layers or no layers',
    async (name) => {
      const { codes, lut } = await wholePhoto(`${name}.jpg`);
      expect(findRuler(codes, lut)).toBeUndefined();
    },
  );
});

const VIEW = viewOfPlane({
  ...{ focalPx: 2400, centrePx: [700, 300], distanceMm: 230, lookedAtMm: [50, 8] },
  ...{ panDeg: 14, tiltDeg: -9, rollDeg: -6 },
});

async function drawn(division: Division) {
  const rgb = drawFlatScene(1400, 600, [0.25, 0.22, 0.2], [{ mmToPx: VIEW, lightAt: ruler(division) }]);
  return drawnPhoto(rgb, 1400, 600);
}

describe('findRuler in drawn pictures', () => {
  test.each([
    ['millimetres', MILLIMETRES],
    ['half millimetres', HALF_MILLIMETRES],
    ['millimetres in white on black', { ...MILLIMETRES, bright: true }],
    ['three centimetres of millimetres', { ...MILLIMETRES, lengthOfScaleMm: 30 }],
  ])('%s: points where the drawing has them', async (_, division) => {
    const { codes, lut } = await drawn(division);
    const { points } = findRuler(codes, lut)!;
    // Source: the drawing's homography. Where its numbers count from is open, so is their direction.
    const toMm = homographyFromPoints(
      [seenAt(VIEW, [0, 0]), seenAt(VIEW, [100, 0]), seenAt(VIEW, [100, 25]), seenAt(VIEW, [0, 25])],
      [
        [0, 0],
        [100, 0],
        [100, 25],
        [0, 25],
      ],
    );
    const found = points.map(({ px }) => applyHomography(toMm, ...px));
    const forwards = found.at(-1)![0] > found[0]![0] ? 1 : -1;
    const start = found[0]![0] - forwards * points[0]!.mm[0];
    expectClose(
      found.map(([x]) => x),
      points.map(({ mm }) => start + forwards * mm[0]),
      { abs: 0.03, why: '0.3 px at 10 px per mm' },
    );
    // Parallel to the scale: all as far from the edge.
    expectClose(
      found.map(([, y]) => y - found[0]![1]),
      found.map(() => 0),
      { abs: 0.25, why: 'a step of the tracing' },
    );
    const span = Math.abs(found.at(-1)![0] - found[0]![0]);
    expect(span).toBeGreaterThan(0.8 * division.lengthOfScaleMm);
    expectClose(modulo(start, 10), 0, { abs: 0.1, why: 'the zero is a centimetre mark' });
  });

  test.each([
    ['sixteenths of an inch', SIXTEENTHS],
    ['marks that are all alike', { ...MILLIMETRES, lengthMm: () => 4 }],
    [
      'every fifth mark long, and all of those alike',
      { ...MILLIMETRES, lengthMm: (k: number) => (k % 5 === 0 ? 7 : 4) },
    ],
    [
      'every second mark long and nothing else',
      { ...MILLIMETRES, lengthMm: (k: number) => (k % 2 === 0 ? 7 : 4) },
    ],
    ['a scale of which 12 mm are seen', { ...MILLIMETRES, lengthOfScaleMm: 12 }],
  ])('%s: no guess', async (_, division) => {
    const { codes, lut } = await drawn(division);
    expect(findRuler(codes, lut)).toBeUndefined();
  });

  test.each([1, 20, 600])('a blank picture of %i px shows none', (side) => {
    const blank: CodeImage = ndarray(new Uint8Array(side * side).fill(90), [side, side]);
    expect(findRuler(blank, linearLut(8))).toBeUndefined();
  });

  test('noise shows none', () => {
    const normal = fastNormals(3);
    const noise = Uint8Array.from({ length: 900 * 700 }, () =>
      Math.max(0, Math.min(255, 128 + 60 * normal())),
    );
    expect(findRuler(ndarray(noise, [700, 900]), linearLut(8))).toBeUndefined();
  });
});

/** Distance from the nearest multiple, with its sign. */
function modulo(value: number, period: number): number {
  return value - period * Math.round(value / period);
}
