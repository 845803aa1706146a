import { describe, expect, test } from 'vitest';
import type { CornersPx, PointPx } from '../../src/core/image.js';
import { believeCamera } from '../../src/face/camera.js';
import { findIdCard, mayBeIdCard, type IdCardSearch } from '../../src/face/findIdCard.js';
import { findQuads } from '../../src/face/findQuads.js';
import { applyHomography, homographyFromPoints } from '../../src/imaging/homography.js';
import { expectClose } from '../helpers/closeTo.js';
import { photoTruth } from '../helpers/measured.js';
import { drawnPhoto, wholePhoto, type WholePhoto } from '../helpers/wholePhoto.js';
import { drawFlatScene, seenAt, viewOfPlane, type FlatThing, type Light } from '../synth/flatScene.js';
import { idCard } from '../synth/flatReferences.js';

function searchIn({ info, codes, lut, shrunk }: WholePhoto): IdCardSearch {
  const camera = believeCamera(info);
  const scale = info.widthPx / shrunk.widthPx;
  const quads = findQuads(shrunk, { scale, most: 40, accepts: (corners) => mayBeIdCard(corners, camera) });
  return { codes, lut, shrunk, quads, camera };
}

interface Truth {
  readonly W_mm: number;
  readonly H_mm: number;
  readonly face_corners_px_tl_tr_br_bl: readonly PointPx[];
  readonly reference: {
    readonly virtual_corners_px_tl_tr_br_bl: CornersPx;
    readonly plane_offset_behind_face_mm: number;
  };
  readonly camera: {
    readonly distance_to_aim_point_mm: number;
    readonly pan_deg: number;
    readonly tilt_deg: number;
  };
}

/** Sides of the card in the plane of the face, divided by its own. */
function apparentSizes(cornersPx: readonly PointPx[], mm: readonly PointPx[], truth: Truth): number[] {
  const [width, height] = [truth.W_mm, truth.H_mm];
  const toMm = homographyFromPoints(truth.face_corners_px_tl_tr_br_bl, [
    [0, 0],
    [width, 0],
    [width, height],
    [0, height],
  ]);
  const seen = cornersPx.map((corner) => applyHomography(toMm, ...corner));
  const length = (points: readonly PointPx[], i: number) => {
    const [a, b] = [points[i]!, points[(i + 1) % 4]!];
    return Math.hypot(b[0] - a[0], b[1] - a[1]);
  };
  return [0, 1, 2, 3].map((i) => length(seen, i) / length(mm, i));
}

describe('findIdCard in the ray-traced photographs', () => {
  // Source: the ray tracer's truth files, and ISO/IEC 7810 for 85.60 × 53.98 mm.
  test('white-card: in the plane of the face, its shadow as bright as the card', async () => {
    const truth = photoTruth('white-card') as unknown as Truth;
    const card = findIdCard(searchIn(await wholePhoto('white-card.jpg')))!;
    expect(card).toMatchObject({ kind: 'id1-card', confidence: 1 });
    expect(card.points.map(({ mm }) => mm)).toEqual([
      [0, 0],
      [85.6, 0],
      [85.6, 53.98],
      [0, 53.98],
    ]);
    const truths = truth.reference.virtual_corners_px_tl_tr_br_bl;
    expectClose(
      card.points.flatMap(({ px }) => px),
      truths.flat(),
      { abs: 1.5, why: 'the card is 0.76 mm thick' },
    );
    const mm = card.points.map((point) => point.mm);
    const sizes = apparentSizes(
      card.points.map(({ px }) => px),
      mm,
      truth,
    );
    expectClose(sizes, [1, 1, 1, 1], { abs: 0.003, why: 'DESIGN §10: card in plane 0.3 %' });
  });

  test('orange-card-set-back: standing, as much smaller as 30 mm behind the face make it', async () => {
    const truth = photoTruth('orange-card-set-back') as unknown as Truth;
    const card = findIdCard(searchIn(await wholePhoto('orange-card-set-back.jpg')))!;
    const mm = card.points.map((point) => point.mm);
    expect(mm[1]).toEqual([53.98, 0]);
    const px = card.points.map((point) => point.px);
    const byTruth = apparentSizes(truth.reference.virtual_corners_px_tl_tr_br_bl, mm, truth);
    expectClose(apparentSizes(px, mm, truth), byTruth, {
      abs: 0.004,
      why: 'of the 1 % of DESIGN §10, off plane',
    });
    // Parallel planes differ by the camera's distances from them: Z ÷ (Z + 30), REFERENCES §6 on parallax.
    const { distance_to_aim_point_mm: aim, pan_deg: pan, tilt_deg: tilt } = truth.camera;
    const distance = aim * Math.cos((pan * Math.PI) / 180) * Math.cos((tilt * Math.PI) / 180);
    const behind = truth.reference.plane_offset_behind_face_mm;
    expectClose(
      byTruth,
      byTruth.map(() => distance / (distance + behind)),
      {
        abs: 0.002,
        why: 'the aim point may lie a few mm off the plane',
      },
    );
  });

  test.each(['black-markers', 'blue-markers', 'red-ruler', 'silver-face-only'])(
    '%s shows none: boxes, walls and a paper card with square corners',
    async (name) => {
      expect(findIdCard(searchIn(await wholePhoto(`${name}.jpg`)))).toBeUndefined();
    },
  );
});

const GROUND: Light = [0.35, 0.3, 0.22];
const CARD: Light = [0.06, 0.12, 0.4];
const PAPER: Light = [0.8, 0.8, 0.78];

/** A view of the card's plane with its middle at a place in a picture of 1400 × 1000 px. */
const view = (at: PointPx, rollDeg: number, distanceMm = 420): number[] =>
  viewOfPlane({
    ...{ focalPx: 2600, centrePx: at, distanceMm, lookedAtMm: [42.8, 27] },
    ...{ panDeg: 8, tiltDeg: -6, rollDeg },
  });

const drawn = (...things: FlatThing[]) => drawnPhoto(drawFlatScene(1400, 1000, GROUND, things), 1400, 1000);

const strip = (x0: number, x1: number, y0: number, y1: number) => (x: number, y: number) =>
  x > x0 && x < x1 && y > y0 && y < y1 ? PAPER : undefined;

describe('findIdCard in drawn pictures', () => {
  test.each([
    ['lying', -4],
    ['turned by 30°', 30],
    ['standing', 86],
  ])('%s: corners as drawn', async (_, rollDeg) => {
    const mmToPx = view([700, 500], rollDeg);
    const card = findIdCard(searchIn(await drawn({ mmToPx, lightAt: idCard(CARD) })))!;
    const truths = (
      [
        [0, 0],
        [85.6, 0],
        [85.6, 53.98],
        [0, 53.98],
      ] as const
    ).map((corner) => seenAt(mmToPx, corner));
    // Which corner is called the top-left one depends on how it lies; each is one of the drawing's.
    for (const { px } of card.points) {
      const nearest = Math.min(...truths.map(([x, y]) => Math.hypot(px[0] - x, px[1] - y)));
      expectClose(nearest, 0, { abs: 0.3, why: 'sub-pixel lines, extrapolated by 5 of 54 mm' });
    }
    expectClose(new Set(card.points.map(({ px }) => Math.round(px[0]))).size, 4, {
      abs: 0,
      why: 'four corners',
    });
  });

  test('one corner hidden: three sides and most of the fourth are enough', async () => {
    const mmToPx = view([700, 500], 5);
    const covered = { mmToPx, lightAt: strip(70, 100, 40, 70) };
    const card = findIdCard(searchIn(await drawn({ mmToPx, lightAt: idCard(CARD) }, covered)))!;
    const truth = seenAt(mmToPx, [85.6, 53.98]);
    expectClose(card.points[2]!.px, truth, { abs: 0.7, why: 'its corner is hidden: by extrapolation' });
    expect(card.confidence).toBeLessThan(0.95);
  });

  test.each([
    ['a piece of paper of the same size, its corners square', { radiusMm: 0 }],
    ['a photo print of 90 × 50 mm with rounded corners', { sizeMm: [90, 50] as const }],
    ['a phone of 150 × 73 mm with corners rounded by 10 mm', { sizeMm: [150, 73] as const, radiusMm: 10 }],
  ])('%s is none', async (_, { radiusMm = 3.18, sizeMm = [85.6, 53.98] as const }: Form) => {
    const thing = { mmToPx: view([650, 450], 4), lightAt: idCard(CARD, radiusMm, sizeMm) };
    expect(findIdCard(searchIn(await drawn(thing)))).toBeUndefined();
  });

  test('two cards are refused', async () => {
    const photo = await drawn(
      { mmToPx: view([360, 450], 4, 480), lightAt: idCard(CARD) },
      { mmToPx: view([1030, 520], -7, 460), lightAt: idCard(PAPER) },
    );
    expect(findIdCard(searchIn(photo))).toBeUndefined();
  });

  test('the plane of the face, where it is known, decides on the shape', async () => {
    const mmToPx = view([700, 500], 5);
    const search = searchIn(await drawn({ mmToPx, lightAt: idCard(CARD) }));
    const square: PointPx[] = [
      [0, 0],
      [60, 0],
      [60, 60],
      [0, 60],
    ];
    const px = square.map((point) => seenAt(mmToPx, point));
    expect(findIdCard({ ...search, pxToFace: homographyFromPoints(px, square) })?.kind).toBe('id1-card');
    // A face whose height is stretched by a tenth: the card would be too long or too short in its plane.
    const stretched = square.map(([x, y]): PointPx => [x, 1.1 * y]);
    expect(findIdCard({ ...search, pxToFace: homographyFromPoints(px, stretched) })).toBeUndefined();
  });
});

interface Form {
  readonly radiusMm?: number;
  readonly sizeMm?: readonly [number, number];
}

test('mayBeIdCard: a card seen square-on, and shapes that are none', () => {
  const camera = believeCamera({
    ...{ format: 'jpeg', widthPx: 4032, heightPx: 3024, orientation: 1, bits: 8 },
    capture: { focalLength35Mm: 26 },
  });
  const box = (width: number, height: number): CornersPx => [
    [1000, 1000],
    [1000 + width, 1000],
    [1000 + width, 1000 + height],
    [1000, 1000 + height],
  ];
  expect(mayBeIdCard(box(856, 539.8), camera)).toBe(true);
  expect(mayBeIdCard(box(539.8, 856), camera)).toBe(true);
  expect(mayBeIdCard(box(856, 856), camera)).toBe(false);
  expect(mayBeIdCard(box(856, 300), camera)).toBe(false);
  expect(
    mayBeIdCard(
      [
        [0, 0],
        [1, 0],
        [2, 0],
        [0, 1],
      ],
      camera,
    ),
  ).toBe(false);
});
