import { describe, expect, test } from 'vitest';
import type { CornersPx, PointPx } from '../../src/core/image.js';
import { apparentSize, type PlacedReference } from '../../src/face/apparentSize.js';
import { believeCamera } from '../../src/face/camera.js';
import { distortPoint, undistortPoint, type Lens } from '../../src/imaging/lens.js';
import { expectClose } from '../helpers/closeTo.js';
import { photoTruth, type PhotoName } from '../helpers/measured.js';
import { seeded } from '../synth/random.js';
import { box, infoOf } from './facts.js';

/** A reference as the ray tracer placed it: its points in the photo and on itself. */
function simulated(name: PhotoName): PlacedReference {
  const { reference } = photoTruth(name);
  if (reference === null) throw new Error(`${name} has no reference`);
  const { points, virtual_corners_px_tl_tr_br_bl: corners, centres_px_tl_tr_br_bl: centres } = reference;
  const { size_mm: size = [0, 0], centre_rectangle_mm: rectangle = [0, 0] } = reference;
  const upright = reference.long_side === 'vertical';
  const mm = centres === undefined ? (upright ? [size[1], size[0]] : size) : rectangle;
  const px = centres ?? corners;
  const pairs =
    px === undefined
      ? points!.map(({ mark_mm, px: at }) => ({ px: at, mm: [0, -mark_mm] as const }))
      : box(0, 0, mm[0]!, mm[1]!).map((at, i) => ({ px: px[i]!, mm: at }));
  return {
    points: pairs,
    pointSdPx: 0.1,
    sizeRelativeSd: 0,
    behindFaceMm: reference.plane_offset_behind_face_mm,
  };
}

const faceOf = (name: PhotoName) => {
  const { W_mm, H_mm, face_corners_px_tl_tr_br_bl: corners } = photoTruth(name);
  return {
    cornersPx: corners as unknown as CornersPx,
    cornerSdPx: 0.5,
    widthMm: W_mm,
    heightMm: H_mm,
  };
};

const cameraOf = (name: PhotoName) => {
  const { upright_size_px, camera } = photoTruth(name);
  const [widthPx, heightPx] = upright_size_px;
  const info = infoOf({ widthPx, heightPx, capture: { focalLength35Mm: camera.f35_mm } });
  return { ...believeCamera(info), info };
};

describe('references of the ray-traced photographs', () => {
  // Source: the ray tracer's truth. Its prints do not shrink, so that every reference tells the commanded size.
  test.each(['white-card', 'blue-markers', 'red-ruler', 'orange-card-set-back'] as const)('%s', (name) => {
    const size = apparentSize(simulated(name), faceOf(name), cameraOf(name), 0)!;
    expectClose(size.value, 1, { abs: 0.0006, why: 'positions with three decimals, far from the face' });
    expect(Math.abs(size.value - 1)).toBeLessThan(2 * size.sd);
    expect(size.sd).toBeLessThan(0.008);
  });

  test('orange-card-set-back: taken as flush it looks as much smaller as the ray tracer says', () => {
    const name = 'orange-card-set-back';
    const flush = apparentSize({ ...simulated(name), behindFaceMm: 0 }, faceOf(name), cameraOf(name), 0)!;
    // The truth gives one ratio for a plane that is seen askew.
    expectClose(1 / flush.value, photoTruth(name).reference!.apparent_scale_ratio_ref_over_face!, {
      rel: 0.06,
      why: 'perspective: the card stands beside the face',
    });
    expect(flush.value).toBeGreaterThan(1.04);
  });

  test('black-markers: with its lens taken out; with it, the ratio is off', () => {
    const name = 'black-markers';
    const { camera } = photoTruth(name);
    const lens: Lens = { k1: camera.k1, focalPx: camera.focal_px, centrePx: camera.principal_point_px };
    const flat = ([x, y]: PointPx): PointPx => undistortPoint(lens, [x, y]);
    const face = faceOf(name);
    const reference = simulated(name);
    const size = apparentSize(
      { ...reference, points: reference.points.map(({ px, mm }) => ({ px: flat(px), mm })) },
      { ...face, cornersPx: face.cornersPx.map(flat) as unknown as CornersPx },
      cameraOf(name),
      0,
    )!;
    expectClose(size.value, 1, { abs: 0.0006, why: 'as above' });
    const bent = apparentSize(reference, face, cameraOf(name), 0)!;
    expect(Math.abs(bent.value - 1)).toBeGreaterThan(0.002);
    expectClose(distortPoint(lens, flat([100, 100])), [100, 100], { abs: 1e-9, why: 'rounding' });
  });
});

test('its uncertainty is the scatter over corners, points and focal lengths', () => {
  const name = 'orange-card-set-back';
  const [face, camera] = [faceOf(name), cameraOf(name)];
  const reference = { ...simulated(name), pointSdPx: 0.8 };
  const claimed = apparentSize(reference, face, camera, 0)!;
  const random = seeded(3);
  const jitter = ([x, y]: PointPx, sdPx: number): PointPx => [
    x + sdPx * random.normal(),
    y + sdPx * random.normal(),
  ];
  const DRAWS = 600;
  const values = Array.from({ length: DRAWS }, () => {
    const focalPx = camera.focals[0]!.focalPx * (1 + 0.04 * random.normal());
    return apparentSize(
      { ...reference, points: reference.points.map(({ px, mm }) => ({ px: jitter(px, 0.8), mm })) },
      { ...face, cornersPx: face.cornersPx.map((at) => jitter(at, 0.5)) as unknown as CornersPx },
      { ...camera, focals: [{ focalPx, weight: 1 }] },
      0,
    )!.value;
  });
  const mean = values.reduce((sum, value) => sum + value, 0) / DRAWS;
  const sd = Math.sqrt(values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / DRAWS);
  expectClose(claimed.sd, sd, {
    rel: 0.15,
    why: '3 standard errors of 600 draws are 9 %; the rest is linearisation',
  });
});

test('a plane at the camera tells nothing', () => {
  const name = 'white-card';
  expect(
    apparentSize({ ...simulated(name), behindFaceMm: -900 }, faceOf(name), cameraOf(name), 0),
  ).toBeUndefined();
});
