import { describe, expect, test } from 'vitest';
import type { PointPx } from '../../src/core/image.js';
import { applyHomography, homographyFromPoints, invertHomography } from '../../src/imaging/homography.js';
import { parallelPlane, planeDistance, poseOfPlane } from '../../src/imaging/pose.js';
import { expectClose } from '../helpers/closeTo.js';
import { photoTruth, PHOTO_NAMES } from '../helpers/measured.js';
import { readJson } from '../helpers/readReference.js';

type Matrix = readonly (readonly [number, number, number])[];

/** An exact pinhole view of an ID-1 card: `test/reference/homography_pose.json`. */
const VIEW = readJson('homography_pose.json') as {
  readonly K: Matrix;
  readonly R: Matrix;
  readonly t: readonly [number, number, number];
  readonly H: Matrix;
  readonly card_mm: readonly PointPx[];
  readonly card_px: readonly PointPx[];
  readonly probe_mm: readonly (readonly [number, number])[];
  readonly off_plane: readonly {
    readonly d_mm: number;
    readonly Zc_plane: number;
    readonly Zc_point: number;
    readonly px: PointPx;
  }[];
};
const FOCAL_PX = VIEW.K[0]![0];
const CENTRE_PX = [VIEW.K[0]![2], VIEW.K[1]![2]] as const;
const degrees = (radians: number) => (radians * 180) / Math.PI;

describe('poseOfPlane', () => {
  const fromCorners = homographyFromPoints(VIEW.card_mm, VIEW.card_px);

  test.each(VIEW.probe_mm)('distance and angle to (%d, %d) mm of an exact view', (x, y) => {
    // Source: X_cam = R X_plane + t of test/reference/homography_pose.json; the normal is R's third column.
    const point = VIEW.R.map((row, i) => row[0] * x + row[1] * y + VIEW.t[i]!);
    const distanceMm = Math.hypot(...point);
    const along = VIEW.R.reduce((sum, row, i) => sum + row[2] * point[i]!, 0);
    const obliquityRad = Math.acos(along / distanceMm);
    for (const h of [Float64Array.from(VIEW.H.flat()), fromCorners]) {
      const pose = poseOfPlane(h, FOCAL_PX, CENTRE_PX, [x, y]);
      expectClose(pose.distanceMm, distanceMm, { rel: 1e-9, why: 'exact view, rounding only' });
      expectClose(pose.obliquityRad, obliquityRad, { abs: 1e-7, why: 'arccosine of a rounded cosine' });
    }
  });

  test('neither depends on the scale of the homography, nor on which way the plane runs', () => {
    const at = [30, 20] as const;
    const pose = poseOfPlane(fromCorners, FOCAL_PX, CENTRE_PX, at);
    const scaled = poseOfPlane(
      fromCorners.map((value) => -3 * value),
      FOCAL_PX,
      CENTRE_PX,
      at,
    );
    expectClose(scaled.distanceMm, pose.distanceMm, { rel: 1e-12, why: 'rounding' });
    expectClose(scaled.obliquityRad, pose.obliquityRad, { abs: 1e-9, why: 'rounding' });
    // The plane seen with x from the other end.
    const mirrored = homographyFromPoints(
      VIEW.card_mm.map(([x, y]): PointPx => [85.6 - x, y]),
      VIEW.card_px,
    );
    const other = poseOfPlane(mirrored, FOCAL_PX, CENTRE_PX, [85.6 - 30, 20]);
    expectClose(other.distanceMm, pose.distanceMm, { rel: 1e-9, why: 'rounding' });
    expectClose(other.obliquityRad, pose.obliquityRad, { abs: 1e-7, why: 'rounding' });
  });

  test('square-on is 0°, at focal length ÷ px per mm', () => {
    // Source: closed form, pinhole camera.
    const h = Float64Array.of(20, 0, 500, 0, 20, 400, 0, 0, 1);
    const pose = poseOfPlane(h, 3000, [1000, 800], [25, 20]);
    expectClose(pose.distanceMm, 150, { rel: 1e-12, why: 'rounding' });
    expectClose(pose.obliquityRad, 0, { abs: 1e-7, why: 'arccosine near 1' });
  });

  // Source: the ray tracer's camera. `distance_to_aim_point_mm` runs from the camera to where its axis meets the
  // face's plane (beside the face in some), pan and tilt turn it away from square-on there.
  test.each(PHOTO_NAMES)('%s: the simulated camera', (name) => {
    const { W_mm, H_mm, camera, face_corners_px_tl_tr_br_bl: corners } = photoTruth(name);
    const h = homographyFromPoints(
      [
        [0, 0],
        [W_mm, 0],
        [W_mm, H_mm],
        [0, H_mm],
      ],
      corners,
    );
    const aim = applyHomography(invertHomography(h), ...camera.principal_point_px);
    const pose = poseOfPlane(h, camera.focal_px, camera.principal_point_px, aim);
    const radians = (angle: number) => (angle * Math.PI) / 180;
    const turned = Math.acos(Math.cos(radians(camera.pan_deg)) * Math.cos(radians(camera.tilt_deg)));
    // black-markers is bent by its lens (k1 −0.04), which four corners cannot tell from a turn.
    const bent = name === 'black-markers';
    expectClose(pose.distanceMm, camera.distance_to_aim_point_mm, {
      rel: bent ? 0.005 : 5e-4,
      why: 'corners are written with three decimals, the lens is not modelled',
    });
    expectClose(degrees(pose.obliquityRad), degrees(turned), {
      abs: bent ? 1.5 : 0.05,
      why: 'corners are written with three decimals, the lens is not modelled',
    });
    expect(pose.distanceMm).toBeGreaterThan(0);
  });
});

describe('parallelPlane', () => {
  const card = homographyFromPoints(VIEW.card_mm, VIEW.card_px);

  test.each(VIEW.off_plane)('a point $d_mm mm in front of the card', ({ d_mm, Zc_plane, Zc_point, px }) => {
    // Source: test/reference/homography_pose.json, exact view: where the middle of the card comes out d nearer.
    const nearer = parallelPlane(card, -d_mm, FOCAL_PX, CENTRE_PX)!;
    expectClose(applyHomography(nearer, 42.8, 26.99), px, { abs: 1e-6, why: 'rounding' });
    const flipped = parallelPlane(
      card.map((value) => -2 * value),
      -d_mm,
      FOCAL_PX,
      CENTRE_PX,
    )!;
    expectClose(applyHomography(flipped, 42.8, 26.99), px, { abs: 1e-6, why: 'rounding' });
    expect(Zc_point).toBeLessThan(Zc_plane);
  });

  test('axes that run the other way lie behind all the same', () => {
    const mirrored = homographyFromPoints(
      VIEW.card_mm.map(([x, y]): PointPx => [85.6 - x, y]),
      VIEW.card_px,
    );
    const [one, other] = [card, mirrored].map((h) => parallelPlane(h, 20, FOCAL_PX, CENTRE_PX)!);
    expectClose(applyHomography(other!, 85.6 - 10, 5), applyHomography(one!, 10, 5), {
      abs: 1e-6,
      why: 'rounding',
    });
  });

  test('none at the camera or behind it', () => {
    const distanceMm = planeDistance(card, FOCAL_PX, CENTRE_PX);
    // Source: |n · t| of the same view.
    const along = VIEW.R.reduce((sum, row, i) => sum + row[2] * VIEW.t[i]!, 0);
    expectClose(distanceMm, Math.abs(along), { rel: 1e-9, why: 'rounding' });
    expect(parallelPlane(card, -1.001 * distanceMm, FOCAL_PX, CENTRE_PX)).toBeUndefined();
    expect(parallelPlane(card, -0.999 * distanceMm, FOCAL_PX, CENTRE_PX)).toBeDefined();
  });
});
