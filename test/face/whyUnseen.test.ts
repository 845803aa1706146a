import { describe, expect, test } from 'vitest';
import type { PartialCornersPx } from '../../src/core/image.js';
import { findFace, type FaceSearch } from '../../src/face/findFace.js';
import { sightOf } from '../../src/face/sight.js';
import { clicksOffPx, whyUnseen } from '../../src/face/whyUnseen.js';
import { linearLut } from '../../src/imaging/tone.js';
import { expectClose } from '../helpers/closeTo.js';
import { box, camera, drawDesk, FACE, LAYERS, NO_CLICKS, type Desk, type Patch } from './drawnDesk.js';

// Source: closed form: corners that were drawn, seen square on, so that shapes are plain ratios.
const TOWER: Patch = { cornersPx: box(980.2, 300.1, 480, 260), rgb: [60, 90, 170], layers: LAYERS };
const CARD: Patch = { cornersPx: box(980.2, 300.1, 480, 303), rgb: [60, 90, 170] };
const plain = drawDesk([CARD, FACE]);

/** Searches, and asks why where nothing is found. */
function why({ codes, shrunk }: Desk, told: Pick<FaceSearch, 'heightPerWidth'> & Partial<FaceSearch>) {
  const search = { codes, shrunk, lut: linearLut(8), camera, knownCorners: NO_CLICKS, keepOut: [], ...told };
  const face = findFace(search);
  if (face.state === 'found') throw new Error('it was found');
  return whyUnseen(face, search);
}

describe('whyUnseen', () => {
  test('a face of another shape than was told: names the one that it has', () => {
    const { cause, guesses } = why(drawDesk([FACE]), { heightPerWidth: 0.88 });
    expect(cause).toMatchObject({ what: 'shape', reason: 'face-unclear' });
    expectClose(cause!.value, 0.75, {
      rel: 0.006,
      why: 'a corner off by 1.25 px, a quarter of a layer, of 450',
    });
    // From below, 1.5 % off the told one at least.
    expect(cause!.limit).toBeLessThanOrEqual(0.985 * 0.88);
    expect(cause!.limit).toBeGreaterThan(0.95 * 0.88);
    expectClose(guesses[0]!.cornersPx.flat(), FACE.cornersPx.flat(), {
      abs: 2,
      why: 'a px of the shrunk copy',
    });
  });

  test('what a photo shows is looked at once for all searches, and does not change the answer', () => {
    const desk = drawDesk([FACE, CARD]);
    const sight = sightOf({ ...desk, lut: linearLut(8), camera });
    const told = { heightPerWidth: 0.88 };
    const { cause, guesses, how } = why(desk, { ...told, sight });
    expect({ cause, guesses, how }).toEqual(why(desk, told));
    const seen = () => [sight.shapes.whole(), sight.lookAt(FACE.cornersPx), sight.fitAt(FACE.cornersPx)];
    const [shapes, look, fit] = seen();
    const again = seen();
    expect(again[0]).toBe(shapes);
    expect(again[1]).toBe(look);
    expect(again[2]).toBe(fit);
    expect(fit).toBeDefined();
  });

  test('where no shape was told, none is blamed', () => {
    expect(why(drawDesk([CARD]), {}).cause).toBeUndefined();
  });

  test('two towers, neither of the told shape: neither is named', () => {
    expect(why(drawDesk([TOWER, FACE]), { heightPerWidth: 1.1 }).cause).toBeUndefined();
  });

  test('a sharp photo without a tower stays without a cause', () => {
    const { how, cause } = why(drawDesk([CARD]), { heightPerWidth: 0.75 });
    expect([how, cause]).toEqual(['not-found', undefined]);
  });

  test('a click on another thing: how far it lies from the face that is found without it', () => {
    const click = [980.2, 300.1] as const;
    const { cause, guesses } = why(plain, {
      heightPerWidth: 0.75,
      knownCorners: [click, undefined, undefined, undefined],
    });
    expect(cause).toMatchObject({ what: 'click', reason: 'face-unclear', limit: 0.03 * 1600 });
    const off = Math.hypot(980.2 - 300.4, 300.1 - 250.7);
    expectClose(cause!.value, off, { abs: 2, why: 'a corner off by 1.25 px, a quarter of a layer' });
    expect(guesses.length).toBe(1);
  });

  test('the right corner called by the name of another counts as a click elsewhere', () => {
    const click = FACE.cornersPx[0];
    const told = { heightPerWidth: 0.75, knownCorners: [undefined, click, undefined, undefined] } as const;
    expect(why(plain, told).cause).toMatchObject({ what: 'click' });
  });

  test('a dark photo is to blame before all that was told', () => {
    const dark = Uint8Array.from(plain.codes.data, (code) => code / 5);
    const codes = { ...plain.codes, data: dark } as typeof plain.codes;
    const shrunk = { ...plain.shrunk, data: plain.shrunk.data.map((code) => code / 5) };
    const desk = { ...plain, codes, shrunk };
    expect(why(desk, { heightPerWidth: 0.88 }).cause).toMatchObject({ what: 'photo', reason: 'too-dark' });
  });
});

test('clicksOffPx: a distance for each click, none where there is none', () => {
  // Source: 3-4-5.
  const clicks: PartialCornersPx = [[3, 4], undefined, undefined, [0, 8]];
  expect(clicksOffPx(clicks, box(0, 0, 9, 8))).toEqual([5, undefined, undefined, 0]);
});
