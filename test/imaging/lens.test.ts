import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { PointPx } from '../../src/core/image.js';
import { distortPoint, undistortPoint, untoldK1Sd, type Lens } from '../../src/imaging/lens.js';
import { expectClose } from '../helpers/closeTo.js';
import { photoTruth } from '../helpers/measured.js';

const lens = (k1: number): Lens => ({ k1, centrePx: [2016, 1512], focalPx: 3000 });

describe('a lens of one coefficient', () => {
  test('moves a point along its radius by k1 r³', () => {
    // Source: Brown 1966 (from memory), r_d = r (1 + k1 r²). At r = 0.5 (0.3, 0.4) and k1 −0.04: r_d = 0.5 · 0.99.
    expectClose(distortPoint(lens(-0.04), [2016 + 900, 1512 + 1200]), [2016 + 891, 1512 + 1188], {
      rel: 1e-14,
      why: 'rounding',
    });
    expect(distortPoint(lens(-0.04), [2016, 1512])).toEqual([2016, 1512]);
    expect(undistortPoint(lens(-0.04), [2016, 1512])).toEqual([2016, 1512]);
    expect(undistortPoint(lens(0), [17.25, 2000.5])).toEqual([17.25, 2000.5]);
  });

  test('is undone to rounding, anywhere on this side of the fold', () => {
    const k1 = fc.double({ min: -0.5, max: 2, noNaN: true });
    const share = fc.double({ min: 0, max: 0.99, noNaN: true });
    const angle = fc.double({ min: 0, max: 2 * Math.PI, noNaN: true });
    fc.assert(
      fc.property(k1, share, angle, (k, s, phi) => {
        // Without a fold, up to three focal lengths: the corner of a 7-mm lens on 35-mm film.
        const r = 3000 * s * (k < 0 ? Math.min(3, 1 / Math.sqrt(-3 * k)) : 3);
        const point: PointPx = [2016 + r * Math.cos(phi), 1512 + r * Math.sin(phi)];
        expectClose(undistortPoint(lens(k), distortPoint(lens(k), point)), point, {
          abs: 1e-8,
          why: 'px; 1e-12 of the radius, fifty times as much next to the fold',
        });
      }),
    );
  });

  test('refuses what lies beyond the fold', () => {
    // Closed form: r + k1 r³ has its top at r = 1/√(−3 k1), where it is two thirds of that.
    const fold = 3000 / Math.sqrt(0.6);
    expect(() => distortPoint(lens(-0.2), [2016 + 1.001 * fold, 1512])).toThrow(/this side of the fold/);
    expect(distortPoint(lens(-0.2), [2016 + 0.999 * fold, 1512])[0]).toBeGreaterThan(2016 + 0.666 * fold);
    expect(() => undistortPoint(lens(-0.2), [2016 + 0.667 * fold, 1512])).toThrow(/this side of the fold/);
    expect(undistortPoint(lens(-0.2), [2016 + 0.666 * fold, 1512])[0]).toBeLessThan(2016 + fold);
    expect(() => undistortPoint(lens(NaN), [3000, 1512])).toThrow(RangeError);
  });

  test('may move the corner of a photo by one percent before anything is seen', () => {
    // A 26-mm lens by film's diagonal of 43.27 mm: the corner lies at 21.63/26 = 0.832 focal lengths.
    const { upright_size_px: sides, camera } = photoTruth('black-markers');
    const sd = untoldK1Sd([sides[0] / 2, sides[1] / 2], camera.focal_px);
    expectClose(sd, 0.01 / 0.832 ** 2, { rel: 0.001, why: 'focal length with two decimals' });
  });
});
