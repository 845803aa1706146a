import ndarray from 'ndarray';
import { describe, expect, test } from 'vitest';
import { countLayers } from '../../src/face/countLayers.js';
import type { LayerLines } from '../../src/face/findLayers.js';
import type { Face } from '../../src/face/rectifyFace.js';
import { applyHomography } from '../../src/imaging/homography.js';
import { expectClose } from '../helpers/closeTo.js';
import { box, infoOf, locateGiven, settingsOf } from './facts.js';

/** A face of 80 × 60 mm at 20 px per mm. */
const FACE: Face = {
  ...locateGiven(
    infoOf(),
    settingsOf({
      face: { widthMm: 80, heightMm: 60, leadingCorner: 'left' },
      facePx: box(400, 300, 1600, 1200),
    }),
  ),
  image: ndarray(new Float32Array(1), [1, 1]),
  imagePxPerMm: { alongWall: 20, alongHeight: 20 },
  clippedShare: 0,
};
const lines = (pitchMm: number) =>
  ({ pitchMm: { value: pitchMm, sd: 2e-5 }, pxPerLayer: 20 * pitchMm, contrast: 0.04 }) as LayerLines;
const TOLD = { layerHeightMm: 0.2 };

describe('heights counted in layers', () => {
  test('an outline that is 0.3 mm too high: both ends give, and a mm of height is so much less of the photo', () => {
    // Source: closed form, 299 layers of 0.2 mm between edges that are 60 mm apart by the face's size.
    const { face, layerLines } = countLayers(FACE, lines(60 / 299), TOLD);
    expect(layerLines.used).toBe(true);
    expectClose(face.heightMm, 59.8, { rel: 1e-12, why: 'rounding' });
    expectClose(face.bottomMm, 0.1, { abs: 1e-12, why: 'half of what is missing' });
    const pxPerMm = (1200 * 5) / 299;
    expectClose([face.pxPerMm.alongHeight, face.imagePxPerMm.alongHeight], [pxPerMm, pxPerMm], {
      rel: 1e-12,
      why: 'rounding',
    });
    // The same places of the photo, by the new mm.
    expectClose(applyHomography(face.mmToPx, 80, 59.8), [2000, 1500], { abs: 1e-6, why: 'rounding' });
    expectClose(applyHomography(face.mmToPx, 0, 29.9), [400, 900], { abs: 1e-6, why: 'rounding' });
  });

  test('the middle is surer than either edge, unless both are further off than they should be', () => {
    const near = countLayers(FACE, lines(0.2), TOLD).face;
    expectClose(near.bottomSdMm, FACE.bottomSdMm / Math.SQRT2, { rel: 1e-9, why: 'the mean of two' });
    const far = countLayers(FACE, lines(0.2 / 1.012), TOLD).face;
    expect(far.bottomSdMm).toBeGreaterThan(FACE.bottomSdMm);
    expect(near.heightRelativeSd).toBeLessThan(0.001);
  });

  // Source: DESIGN 3, beyond 1.5 % two sizes contradict each other.
  test.each([
    [0.2 / 1.0149, true],
    [0.2 / 1.0151, false],
    [0.25, false],
  ])('a pitch of %d mm for 0.2 told is used: %s', (pitchMm, used) => {
    const { face, layerLines } = countLayers(FACE, lines(pitchMm), TOLD);
    expect(layerLines.used).toBe(used);
    if (!used) expect(face.heightMm).toBe(60);
    expectClose(face.scales.find(({ kind }) => kind === 'layers')!.perCommanded.value, 0.2 / pitchMm, {
      rel: 1e-12,
      why: 'rounding',
    });
  });
});
