import sharp, { type Sharp } from 'sharp';
import { describe, expect, test } from 'vitest';
import { detectMarkers } from '../../src/imaging/markers.js';
import { expectClose } from '../helpers/closeTo.js';
import { fastNormals } from '../synth/random.js';
import { drawFlatScene, seenAt, viewOfPlane } from '../synth/flatScene.js';
import { MARKER_CODES, markerCard } from '../synth/flatReferences.js';

const VIEW = viewOfPlane({
  ...{ focalPx: 700, centrePx: [240, 180], distanceMm: 190, lookedAtMm: [35, 18] },
  ...{ panDeg: 12, tiltDeg: -8, rollDeg: 5 },
});

async function grey(rgb: Uint8Array, change = (picture: Sharp) => picture): Promise<Uint8Array> {
  const picture = sharp(rgb, { raw: { width: 480, height: 360, channels: 3 } });
  return new Uint8Array(await change(picture).toColourspace('b-w').raw().toBuffer());
}

const card = (codes?: readonly (number | undefined)[]): Uint8Array =>
  drawFlatScene(480, 360, [0.2, 0.25, 0.3], [{ mmToPx: VIEW, lightAt: markerCard(codes) }]);

describe('detectMarkers', () => {
  test('finds the four squares of a drawn card, and which corner is which', async () => {
    // Source: OpenCV's dictionary DICT_4X4_50 (codes from memory), drawn apart from this code.
    const found = [...detectMarkers(await grey(card()), 480, 360)].sort((a, b) => a.id - b.id);
    expect(found.map(({ id }) => id)).toEqual([0, 1, 2, 3]);
    const centres = [
      [0, 0],
      [70, 0],
      [70, 35],
      [0, 35],
    ] as const;
    for (const { id, cornersPx } of found) {
      const [x, y] = centres[id]!;
      const truth = [
        seenAt(VIEW, [x - 9, y - 9]),
        seenAt(VIEW, [x + 9, y - 9]),
        seenAt(VIEW, [x + 9, y + 9]),
        seenAt(VIEW, [x - 9, y + 9]),
      ];
      expectClose(cornersPx.flat(), truth.flat(), { abs: 2, why: 'corners of the outline, whole px' });
    }
  });

  test('a card that stands on its head has its corners where they went', async () => {
    const upright = [...detectMarkers(await grey(card()), 480, 360)];
    const turned = [...detectMarkers(await grey(card(), (picture) => picture.rotate(180)), 480, 360)];
    expect(turned.map(({ id }) => id).sort()).toEqual([0, 1, 2, 3]);
    for (const { id, cornersPx } of turned) {
      const before = upright.find((marker) => marker.id === id)!.cornersPx;
      const expected = before.flatMap(([x, y]) => [480 - x, 360 - y]);
      expectClose(cornersPx.flat(), expected, { abs: 1.5, why: 'whole px of either outline' });
    }
  });

  test('a mirrored card is none', async () => {
    const mirrored = await grey(card(), (picture) => picture.flop());
    expect(detectMarkers(mirrored, 480, 360)).toEqual([]);
  });

  test('a square with one wrong cell is none', async () => {
    const wrong = MARKER_CODES.map((code) => code ^ 0x0040);
    expect(detectMarkers(await grey(card(wrong)), 480, 360)).toEqual([]);
  });

  test.each([
    ['a single px', 1, 1, 0],
    ['a row', 300, 1, 120],
    ['black', 200, 150, 0],
    ['white', 200, 150, 255],
  ])('%s holds none', (_, widthPx, heightPx, code) => {
    expect(detectMarkers(new Uint8Array(widthPx * heightPx).fill(code), widthPx, heightPx)).toEqual([]);
  });

  test('noise holds none', () => {
    const normal = fastNormals(4);
    const noise = Uint8Array.from({ length: 400 * 300 }, () =>
      Math.max(0, Math.min(255, 128 + 60 * normal())),
    );
    expect(detectMarkers(noise, 400, 300)).toEqual([]);
  });

  test('refuses sides that do not fit the data', () => {
    expect(() => detectMarkers(new Uint8Array(10), 3, 4)).toThrow(/3 × 4 grey codes but received 10/);
  });
});
