import ndarray from 'ndarray';
import sharp from 'sharp';
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

  test('a dark photo is to blame before a shape that was told, not before a click', () => {
    for (const share of [1 / 5, 1 / 3]) {
      const dark = changed(plain, (code) => share * code);
      expect(why(dark, { heightPerWidth: 0.88 }).cause).toMatchObject({ what: 'photo', reason: 'too-dark' });
    }
    const knownCorners = [[980.2, 300.1], undefined, undefined, undefined] as const;
    const dim = changed(plain, (code) => code / 2);
    expect(why(dim, { heightPerWidth: 0.75, knownCorners }).cause).toMatchObject({ what: 'click' });
  });

  test('blur hides a face: heavy blur in any case, a little where nothing that was told is to blame', async () => {
    for (const px of [2.5, 9, 15]) {
      const soft = await blurred(drawDesk([CARD]), px);
      expect(why(soft, { heightPerWidth: 0.75 }).cause).toMatchObject({ what: 'photo', reason: 'blurred' });
    }
    const knownCorners = [[980.2, 300.1], undefined, undefined, undefined] as const;
    const soft = await blurred(plain, 1.7);
    expect(why(soft, { heightPerWidth: 0.75, knownCorners }).cause).toMatchObject({ what: 'click' });
  });

  describe('a face that the frame cuts', () => {
    const CUT: Patch = { ...FACE, cornersPx: box(-120, 250.7, 600, 450) };
    const cut = drawDesk([CUT]);
    const told = { heightPerWidth: 0.75 };

    test('is called so', () => {
      expect(why(cut, told)).toMatchObject({ how: 'cut-off', cause: undefined });
    });

    test('but not in the dark, nor in heavy blur', async () => {
      const dark = changed(cut, (code) => code / 3);
      expect(why(dark, told).cause).toMatchObject({ what: 'photo', reason: 'too-dark' });
      const soft = await blurred(cut, 9);
      expect(why(soft, told).cause).toMatchObject({ what: 'photo', reason: 'blurred' });
    });

    test('nor where it is burnt out itself; a bright ground does no harm', () => {
      const white: Patch = { cornersPx: box(500, 0, 1100, 1200), rgb: [255, 255, 255] };
      expect(why(drawDesk([white, CUT]), told)).toMatchObject({ how: 'cut-off', cause: undefined });
      // Luma 250, and layers of 8 codes: half of it is burnt out.
      const pale: Patch = { ...CUT, rgb: [255, 250, 245] };
      const burnt = why(drawDesk([white, pale]), told);
      expect(burnt.cause).toMatchObject({ what: 'photo', reason: 'glare' });
    });
  });
});

/** Every code of a desk changed. */
function changed(desk: Desk, change: (code: number) => number): Desk {
  const codes = ndarray(Uint8Array.from(desk.codes.data, change), [...desk.codes.shape]);
  return { ...desk, codes, shrunk: { ...desk.shrunk, data: desk.shrunk.data.map(change) } };
}

/** Blurred by libvips, the shrunk copy by as much of its own px. */
async function blurred(desk: Desk, sigmaPx: number): Promise<Desk> {
  const soft = async (data: Uint8Array, width: number, height: number, channels: 1 | 3, px: number) => {
    const image = sharp(data, { raw: { width, height, channels } }).blur(px);
    return new Uint8Array(
      await image
        .toColourspace(channels === 1 ? 'b-w' : 'srgb')
        .raw()
        .toBuffer(),
    );
  };
  const [rows = 0, columns = 0] = desk.codes.shape;
  const { data, widthPx, heightPx } = desk.shrunk;
  return {
    ...desk,
    codes: ndarray(await soft(desk.codes.data as Uint8Array, columns, rows, 1, sigmaPx), [rows, columns]),
    shrunk: {
      ...desk.shrunk,
      data: await soft(data, widthPx, heightPx, 3, sigmaPx / desk.scale),
    },
  };
}

test('clicksOffPx: a distance for each click, none where there is none', () => {
  // Source: 3-4-5.
  const clicks: PartialCornersPx = [[3, 4], undefined, undefined, [0, 8]];
  expect(clicksOffPx(clicks, box(0, 0, 9, 8))).toEqual([5, undefined, undefined, 0]);
});
