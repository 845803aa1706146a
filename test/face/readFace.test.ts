import ndarray from 'ndarray';
import { describe, expect, test } from 'vitest';
import type { CodeImage } from '../../src/core/image.js';
import { readFace } from '../../src/face/readFace.js';
import { givenFace } from '../../src/face/seeFace.js';
import type { SeenReference } from '../../src/face/seenFace.js';
import { expectClose } from '../helpers/closeTo.js';
import { seeded } from '../synth/random.js';
import { box, infoOf, settingsOf } from './facts.js';

const INFO = infoOf({ widthPx: 1400, heightPx: 1000 });
/** A face of 80 × 60 mm at 14 px per mm. */
const facePx = box(100, 80, 1120, 840);
const face = { widthMm: 80, heightMm: 60, leadingCorner: 'left' };

/** A wall whose layer lines, 2.8 px apart, change its brightness by some codes, with noise. */
function wall(linesPx: number): CodeImage {
  const random = seeded(9);
  const codes = Uint8Array.from({ length: 1400 * 1000 }, (_, i) => {
    const y = Math.floor(i / 1400) + 0.5 - 80;
    return Math.round(140 + 6 * Math.sin((2 * Math.PI * y) / linesPx) + random.even(-2, 2));
  });
  return ndarray(codes, [1000, 1400]);
}

const read = (told: object, codes: CodeImage, references: readonly SeenReference[] = []) => {
  const settings = settingsOf({ facePx, face, ...told });
  return readFace(codes, INFO, settings, { ...givenFace(facePx, INFO), references });
};

// Source: closed form, what was drawn.
describe('readFace', () => {
  test('flattens the face, and counts its layers', () => {
    const found = read({}, wall(2.8));
    if (found.state !== 'read') throw new Error(`it is ${found.state}`);
    expect(found.layerLines).toMatchObject({ used: true });
    expectClose(found.layerLines!.pitchMm.value, 0.2, { rel: 0.001, why: 'a third of a layer of 300' });
    expectClose(found.face.heightMm, 60, { rel: 0.001, why: 'the same' });
    expect(found.face.lens).toBeUndefined();
    expect(found.regions.clippedShare.flat()).toEqual(Array.from({ length: 9 }, () => 0));
  });

  test('layers that contradict the told height are told and not used', () => {
    const found = read({}, wall(2.9));
    if (found.state !== 'read') throw new Error(`it is ${found.state}`);
    expect(found.layerLines).toMatchObject({ used: false });
    expectClose(found.layerLines!.pitchMm.value, 2.9 / 14, { rel: 0.001, why: 'a third of a layer of 290' });
    expect(found.face.heightMm).toBe(60);
  });

  test('without layer lines the face is read all the same', () => {
    const plain = ndarray(new Uint8Array(1400 * 1000).fill(140), [1000, 1400]);
    expect(read({}, plain)).toMatchObject({ state: 'read', layerLines: undefined });
  });

  test('a size that is to be taken from a card that is not found is none', () => {
    const reference = { kind: 'id1-card', behindFaceMm: 0 };
    expect(read({ face: { leadingCorner: 'left' }, reference }, wall(2.8))).toEqual({ state: 'no-size' });
  });

  test('one told side is enough, whether the card is found or not, and wherever it lies', () => {
    const reference = { kind: 'id1-card' };
    for (const [side, heightMm] of [
      [{ widthMm: 80 }, 60],
      [{ heightMm: 60 }, 60],
    ] as const) {
      const found = read({ face: { leadingCorner: 'left', ...side }, reference }, wall(2.8));
      if (found.state !== 'read') throw new Error(`it is ${found.state}`);
      // Clicks of 2 px tell the shape of 840 px to 0.3 %.
      expectClose(found.face.heightMm, heightMm, {
        rel: 0.01,
        why: 'three standard uncertainties of the shape',
      });
      expectClose(found.face.widthMm, 80, { rel: 0.01, why: 'the same' });
    }
  });
});
