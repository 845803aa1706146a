import { describe, expect, test } from 'vitest';
import type { PointPx } from '../../src/core/image.js';
import { believeCamera } from '../../src/face/camera.js';
import { lensOfCard } from '../../src/face/lensOfCard.js';
import type { FoundReference } from '../../src/face/reference.js';
import { expectClose } from '../helpers/closeTo.js';
import { seeded } from '../synth/random.js';
import { infoOf } from './facts.js';

const CAMERA = believeCamera(infoOf({ widthPx: 4032, heightPx: 3024, capture: { focalLength35Mm: 26 } }));
const FOCAL_PX = CAMERA.focals[0]!.focalPx;

/** Corners of so many 18 mm squares of the marker card: 70 × 35 mm between their middles. */
function squares(count: number): readonly (readonly [number, number])[] {
  const middles = [
    [0, 0],
    [70, 0],
    [70, 35],
    [0, 35],
  ] as const;
  return middles.slice(0, count).flatMap(([x, y]) =>
    [
      [-9, -9],
      [9, -9],
      [9, 9],
      [-9, 9],
    ].map(([dx, dy]) => [x + dx!, y + dy!] as const),
  );
}

/** The card 180 mm away, turned a little, to the left of the picture's middle. */
function seen([x, y]: readonly [number, number], k1: number): PointPx {
  const [sine, cosine] = [Math.sin(0.2), Math.cos(0.2)];
  const [X, Y, Z] = [cosine * x - 90, y + 5, 180 + sine * x];
  const [u, v] = [X / Z, Y / Z];
  const stretch = 1 + k1 * (u * u + v * v);
  return [CAMERA.centrePx[0] + FOCAL_PX * stretch * u, CAMERA.centrePx[1] + FOCAL_PX * stretch * v];
}

function card(
  k1: number,
  count: number,
  jitter: () => number = () => 0,
): Pick<FoundReference, 'kind' | 'points' | 'pointSdPx'> {
  const points = squares(count).map((mm) => {
    const [x, y] = seen(mm, k1);
    return { mm, px: [x + jitter(), y + jitter()] as const };
  });
  return { kind: 'marker-card', points, pointSdPx: 0.05 };
}

describe('a lens by a marker card', () => {
  // Source: closed form, a pinhole camera with r_d = r (1 + k1 r²).
  test.each([-0.06, -0.02, 0, 0.03])('k1 %d is found again', (k1) => {
    for (const count of [3, 4]) {
      expectClose(lensOfCard(card(k1, count), CAMERA)!.value, k1, { abs: 1e-6, why: 'rounding' });
    }
  });

  test('its uncertainty is the scatter over the points', () => {
    const random = seeded(5);
    const DRAWS = 300;
    const found = Array.from({ length: DRAWS }, () =>
      lensOfCard(
        card(-0.04, 4, () => 0.2 * random.normal()),
        CAMERA,
      )!,
    );
    const errors = found.map(({ value }) => value + 0.04);
    const rms = (values: readonly number[]) =>
      Math.sqrt(values.reduce((sum, one) => sum + one * one, 0) / DRAWS);
    expectClose(rms(found.map(({ sd }) => sd)), rms(errors), {
      rel: 0.2,
      why: '3 standard errors of 300 draws are 12 %; own scatter tells the claim',
    });
  });

  test('two squares, a ruler, and points that lie on no plane tell none', () => {
    expect(lensOfCard(card(-0.04, 2), CAMERA)).toBeUndefined();
    expect(lensOfCard({ ...card(-0.04, 4), kind: 'ruler' }, CAMERA)).toBeUndefined();
    const random = seeded(6);
    for (let draw = 0; draw < 100; draw += 1) {
      const wild = lensOfCard(
        card(0, 3, () => 60 * random.normal()),
        CAMERA,
      );
      expect(Math.abs(wild?.value ?? 0)).toBeLessThan(0.3);
    }
  });
});
