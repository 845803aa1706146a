import { expect, test } from 'vitest';
import type { CornersPx, PointPx } from '../../src/core/image.js';
import { cornersOf, cornerSdPx, fitSides, fitSidesInColour } from '../../src/face/fitSides.js';
import { expectClose } from '../helpers/closeTo.js';
import { readJson } from '../helpers/readReference.js';
import { drawnPhoto, wholePhoto } from '../helpers/wholePhoto.js';
import { drawFlatScene, type Light } from '../synth/flatScene.js';

/** The photo is enlarged: its squares have fewer px than a line needs. */
const ENLARGED = 3;

test('black squares of a real board: corners as published', async () => {
  // Source: OpenCV's picture choriginal.jpg, inner corners measured for this project apart from this code; one
  // homography fits them to 0.27 px: test/reference/charuco_tilted.json.
  const { corners_px: corners } = readJson('charuco_tilted.json') as {
    readonly corners_px: readonly PointPx[];
  };
  const { codes, lut } = await wholePhoto('outside/charuco-tilted.jpg', (picture) =>
    picture.resize(640 * ENLARGED, 480 * ENLARGED, { kernel: 'cubic' }),
  );
  const strays: number[] = [];
  for (let y = 0; y < 5; y += 1) {
    for (let x = 0; x < 3; x += 1) {
      if ((x + y) % 2 === 1) continue; // a white one, with a marker in it
      // OpenCV counts from the middle of the first px, and so did who measured.
      const truth = [4 * y + x, 4 * y + x + 1, 4 * y + x + 5, 4 * y + x + 4].map((k): PointPx => {
        const [u, v] = corners[k]!;
        return [u + 0.5, v + 0.5];
      });
      // As a finder has it: some px off.
      const rough = truth.map(([u, v], i) => [
        ENLARGED * u + 3 * Math.sin(7 * i + x),
        ENLARGED * v + 3 * Math.cos(5 * i + y),
      ]) as unknown as CornersPx;
      const [top, right, bottom, left] = fitSides(codes, lut, rough, [0.08, 0.08], 8);
      const found = cornersOf([top!, right!, bottom!, left!]);
      found.forEach(([u, v], i) => strays.push(u / ENLARGED - truth[i]![0], v / ENLARGED - truth[i]![1]));
    }
  }
  expect(strays).toHaveLength(8 * 8);
  const rms = Math.sqrt(strays.reduce((sum, stray) => sum + stray * stray, 0) / strays.length);
  expectClose(rms, 0, {
    abs: 0.4,
    why: '0.27 px of the published corners, and 0.2 px by which they and these differ as a whole',
  });
});

test('a card as bright as its ground is found by its hue', async () => {
  // Source: Rec. 709 luminance 0.2126, 0.7152, 0.0722 (IEC 61966-2-1): both have 0.2.
  const [ground, card]: readonly [Light, Light] = [
    [0.3, 0.19, 0.0048],
    [0.05, 0.2, 0.64],
  ];
  const truth: CornersPx = [
    [200.25, 150.5],
    [500.25, 150.5],
    [500.25, 350.5],
    [200.25, 350.5],
  ];
  const isOn = (x: number, y: number): Light | undefined =>
    x > 200.25 && x < 500.25 && y > 150.5 && y < 350.5 ? card : undefined;
  const rgb = drawFlatScene(700, 500, ground, [{ mmToPx: [1, 0, 0, 0, 1, 0, 0, 0, 1], lightAt: isOn }]);
  const { shrunk } = await drawnPhoto(rgb, 700, 500);
  const rough = truth.map(([x, y], i) => [x + Math.sin(i), y - Math.cos(i)]) as unknown as CornersPx;
  const [top, right, bottom, left] = fitSidesInColour(shrunk, rough, [0.1, 0.1], 3);
  const sides = [top!, right!, bottom!, left!] as const;
  expectClose(cornersOf(sides).flat(), truth.flat(), {
    abs: 0.08,
    why: 'a quarter px of the drawing’s samples',
  });
  expect(cornerSdPx(sides)).toBeLessThan(0.1);
});
