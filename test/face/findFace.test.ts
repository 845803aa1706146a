import { describe, expect, test } from 'vitest';
import type { CornersPx, PointPx, PartialCornersPx } from '../../src/core/image.js';
import { colourUniformity, goingOn, layerTexture } from '../../src/face/faceLook.js';
import { findFace, type FaceSearch, type FoundFace } from '../../src/face/findFace.js';
import { fitFaceEdges } from '../../src/face/faceEdges.js';
import { layersBetween } from '../../src/face/layersBetween.js';
import { otherEdges } from '../../src/face/otherEdges.js';
import { findQuads } from '../../src/face/findQuads.js';
import { linearLut } from '../../src/imaging/tone.js';
import { expectClose } from '../helpers/closeTo.js';
import { box, camera, drawDesk, FACE, LAYERS, NO_CLICKS, type Desk, type Patch } from './drawnDesk.js';

// Source: closed form: corners that were drawn. The camera looks square on, so shapes are plain ratios.

const CARD: Patch = { cornersPx: box(980.2, 300.1, 480, 360), rgb: [60, 90, 170] };
const TOWER: Patch = { cornersPx: box(980.2, 300.1, 480, 360), rgb: [60, 90, 170], layers: LAYERS };

function search(desk: Desk, more: Partial<FaceSearch> = {}): FoundFace {
  const { codes, shrunk } = desk;
  const known = {
    lut: linearLut(8),
    camera,
    heightPerWidth: 0.75,
    knownCorners: NO_CLICKS,
    keepOut: [],
  };
  return findFace({ shrunk, codes, ...known, ...more });
}

function furthest(found: CornersPx, true_: CornersPx): number {
  return Math.max(...found.map(([x, y], i) => Math.hypot(x - true_[i]![0], y - true_[i]![1])));
}

/** Layers lie along two of the edges and change their brightness: a quarter of their period. */
const CORNER_PX = 1.25;

/** A card of another shape than the face's. */
const SLIP: Patch = { ...CARD, cornersPx: box(980.2, 300.1, 480, 303) };
const plain = drawDesk([SLIP, FACE]);

describe('findQuads', () => {
  test('finds what was drawn, to a px of the shrunk copy', () => {
    const quads = findQuads(plain.shrunk, { scale: plain.scale, most: 50 });
    for (const { cornersPx } of [FACE, SLIP]) {
      const nearest = Math.min(...quads.map((quad) => furthest(quad.cornersPx, cornersPx)));
      expect(nearest).toBeLessThan(2);
    }
    expect(quads.every((quad) => quad.support >= quad.leastSupport && !quad.touchesFrame)).toBe(true);
  });

  test('asks whether a shape may be meant, and returns no more than wanted', () => {
    const accepts = (corners: CornersPx) => corners[0][0] > 900;
    const quads = findQuads(plain.shrunk, { scale: plain.scale, most: 1, accepts });
    expect(quads.length).toBe(1);
    expect(furthest(quads[0]!.cornersPx, SLIP.cornersPx)).toBeLessThan(2);
  });
});

describe('how a face looks', () => {
  test('layers are stripes, a smooth card is even, and on its side stripes run the other way', () => {
    const [a, b, c, d] = FACE.cornersPx;
    expect(layerTexture(plain.codes, FACE.cornersPx)!).toBeGreaterThan(2);
    expect(layerTexture(plain.codes, [d, a, b, c])!).toBeLessThan(-2);
    expect(Math.abs(layerTexture(plain.codes, CARD.cornersPx)!)).toBeLessThan(0.4);
  });

  test('one colour is uniform, half of another is not', () => {
    const inShrunk = (corners: CornersPx) =>
      corners.map(([x, y]) => [x / plain.scale, y / plain.scale] as const) as unknown as CornersPx;
    expect(colourUniformity(plain.shrunk, inShrunk(FACE.cornersPx))).toBeGreaterThan(0.99);
    expect(colourUniformity(plain.shrunk, inShrunk(box(600, 250, 600, 450)))).toBeLessThan(0.7);
  });

  test('where the surface goes on beyond a side, the side is no end', () => {
    expect(goingOn(plain.codes, plain.shrunk, FACE.cornersPx)).toEqual([0, 0, 0, 0]);
    const [top, , bottom] = goingOn(plain.codes, plain.shrunk, box(300.4, 250.7, 600, 300));
    expect(top).toBe(0);
    expect(bottom).toBeGreaterThan(0.9);
  });
});

describe('a face with a rim', () => {
  // Source: closed form: 450 px of layers, 5 px each, are 90; the rim over it is 12 px high.
  const TOLD_LAYERS = 90;
  const RIM: Patch = { cornersPx: box(300.4, 238.7, 600, 20), rgb: [45, 20, 10] };
  const rimmed = drawDesk([RIM, FACE]);
  const withRim = box(300.4, 238.7, 600, 462);

  test('the layers between its edges are counted, and those that are none are not', () => {
    const count = layersBetween(plain.codes, FACE.cornersPx, TOLD_LAYERS)!;
    expectClose(count.value, TOLD_LAYERS, { abs: 2 * count.sd, why: 'two standard uncertainties' });
    const taller = layersBetween(rimmed.codes, withRim, TOLD_LAYERS)!;
    expectClose(taller.value, 462 / 5, { abs: 2 * taller.sd, why: 'two standard uncertainties' });
    expect(layersBetween(plain.codes, SLIP.cornersPx, TOLD_LAYERS)).toBeUndefined();
    expect(layersBetween(plain.codes, FACE.cornersPx, 70)).toBeUndefined();
    // Too fine to be seen: 450 px hold no 300 layers.
    expect(layersBetween(plain.codes, FACE.cornersPx, 300)).toBeUndefined();
  });

  test('both of its upper edges are found, whichever is fitted', () => {
    const lut = linearLut(8);
    for (const near of [FACE.cornersPx, withRim]) {
      const first = fitFaceEdges(rimmed.codes, near, { lut, camera, reachPx: 4 })!;
      const faces = [first, ...otherEdges(rimmed.codes, lut, first)];
      for (const true_ of [FACE.cornersPx, withRim]) {
        const nearest = Math.min(...faces.map(({ cornersPx }) => furthest(cornersPx, true_)));
        expect(nearest).toBeLessThan(CORNER_PX);
      }
    }
    const alone = fitFaceEdges(plain.codes, FACE.cornersPx, { lut, camera, reachPx: 4 })!;
    expect(otherEdges(plain.codes, lut, alone)).toEqual([]);
  });

  test('the count of layers tells which is the face', () => {
    const found = search(rimmed, { layers: TOLD_LAYERS });
    if (found.state !== 'found') throw new Error(found.state);
    expect(furthest(found.cornersPx, FACE.cornersPx)).toBeLessThan(CORNER_PX);
    const taller = search(rimmed, { layers: 462 / 5, heightPerWidth: 462 / 600 });
    if (taller.state === 'found') {
      expect(furthest(taller.cornersPx, withRim)).toBeLessThan(3 * taller.cornerSdPx + CORNER_PX);
    }
  });
});

describe('a face and what is seen of it', () => {
  const confidence = (desk: Desk, more: Partial<FaceSearch> = {}) => {
    const found = search(desk, more);
    return found.state === 'found' ? found.confidence : (found.guesses[0]?.confidence ?? 0);
  };

  test('is less sure where its edges are not seen to their ends, and so are its corners', () => {
    const corner = ([x, y]: PointPx): Patch => ({
      cornersPx: box(x - 40, y - 40, 80, 80),
      rgb: [90, 120, 60],
    });
    const [a, , c] = FACE.cornersPx;
    const hidden = drawDesk([SLIP, FACE, corner(a), corner(c)]);
    expect(confidence(hidden)).toBeLessThan(confidence(plain) - 0.002);
    const [whole, part] = [search(plain), search(hidden)];
    if (whole.state === 'found' && part.state === 'found') {
      expect(part.cornerSdPx).toBeGreaterThan(2 * whole.cornerSdPx);
    }
  });

  test('is surer where its layers are counted and are as many as were told', () => {
    expect(confidence(plain, { layers: 90 })).toBeGreaterThan(confidence(plain));
    // Three layers more than there are.
    expect(confidence(plain, { layers: 93 })).toBeLessThan(confidence(plain, { layers: 90 }));
  });

  test('ends where the count of layers says, though the same surface goes on beyond a line', () => {
    // Source: closed form: 450 px of layers of 5 px are 90; beyond a dark line of 10 px there are 20 more.
    const taller: Patch = { ...FACE, cornersPx: box(300.4, 140.7, 600, 560) };
    const line: Patch = { cornersPx: box(300.4, 240.7, 600, 10), rgb: [60, 30, 12] };
    const desk = drawDesk([taller, line]);
    const counted = confidence(desk, { layers: 90 });
    expect(counted).toBeGreaterThan(confidence(desk));
    expect(confidence(desk, { layers: 87 })).toBeLessThan(counted);
  });

  test('a smooth thing of its shape elsewhere leaves it surer than a second tower does', () => {
    expect(confidence(drawDesk([CARD, FACE]))).toBeGreaterThan(confidence(drawDesk([TOWER, FACE])) + 0.3);
  });
});

describe('findFace', () => {
  test('finds the face to a fraction of a px and says how well', () => {
    const found = search(plain);
    if (found.state !== 'found') throw new Error(found.state);
    expect(furthest(found.cornersPx, FACE.cornersPx)).toBeLessThan(CORNER_PX);
    // Nothing else on the desk has the told shape.
    expect(found.confidence).toBeGreaterThan(0.97);
    expect(found.cornerSdPx).toBeGreaterThan(0.1);
    const outwards = [
      [0, -1],
      [1, 0],
      [0, 1],
      [-1, 0],
    ] as const;
    for (const [i, { normal }] of found.edges.entries()) {
      expectClose(normal, outwards[i]!, { abs: 0.01, why: 'top, right, bottom, left' });
    }
  });

  test('beside a smooth card of exactly the told shape it is less sure, and still the likeliest', () => {
    const beside = search(drawDesk([CARD, FACE]));
    const guess = beside.state === 'found' ? beside : beside.guesses[0]!;
    expect(furthest(guess.cornersPx, FACE.cornersPx)).toBeLessThan(CORNER_PX);
    expect(guess.confidence).toBeGreaterThan(0.9);
  });

  test('a smooth card of the told shape is no face', () => {
    expect(search(drawDesk([CARD])).state).toBe('not-found');
  });

  test('a tower of another shape is no face, and neither is its upper part down to a line', () => {
    const other: Patch = { ...FACE, cornersPx: box(300.4, 250.7, 600, 600) };
    expect(search(drawDesk([other])).state).not.toBe('found');
    const line = { codes: 30, at: 0.75, share: 0.03 };
    expect(search(drawDesk([{ ...other, line }])).state).not.toBe('found');
  });

  test('two towers of one shape are unclear, and two clicks tell which', () => {
    const two = drawDesk([TOWER, FACE]);
    const unclear = search(two);
    expect(unclear.state).toBe('unclear');
    expect(unclear.state === 'unclear' && unclear.guesses.length).toBeGreaterThanOrEqual(2);
    const topLeft: PointPx = [985, 296];
    const both: PartialCornersPx = [topLeft, undefined, [1455, 655], undefined];
    for (const knownCorners of [both, [topLeft, undefined, undefined, undefined]] as const) {
      const found = search(two, { knownCorners });
      expect(found.state).toBe('found');
      if (found.state === 'found') expect(furthest(found.cornersPx, TOWER.cornersPx)).toBeLessThan(CORNER_PX);
    }
  });

  test('what is known to be something else is left out', () => {
    const two = drawDesk([TOWER, FACE]);
    const found = search(two, { keepOut: [FACE.cornersPx] });
    expect(found.state).toBe('found');
    if (found.state === 'found') expect(furthest(found.cornersPx, TOWER.cornersPx)).toBeLessThan(CORNER_PX);
    expect(search(plain, { keepOut: [FACE.cornersPx] }).state).toBe('not-found');
  });

  test('a tower on its side has its corners in the order that fits', () => {
    const [a, b, c, d] = FACE.cornersPx;
    const found = search(plain, { heightPerWidth: 4 / 3 });
    expect(found.state).not.toBe('found'); // its layers run along the longer side
    const lying: Patch = { ...FACE, cornersPx: [d, a, b, c] };
    const side = search(drawDesk([lying]), { heightPerWidth: 4 / 3 });
    expect(side.state).toBe('found');
    if (side.state === 'found') expect(furthest(side.cornersPx, [d, a, b, c])).toBeLessThan(CORNER_PX);
  });

  test('a face that the frame cuts is called so', () => {
    const cut: Patch = { ...FACE, cornersPx: box(-200, 250.7, 600, 450) };
    const found = search(drawDesk([cut]));
    expect(found.state).toBe('cut-off');
  });

  test('an empty desk has none', () => {
    expect(search(drawDesk([]))).toEqual({ state: 'not-found', guesses: [] });
  });

  test('without a told shape a whole face is found, not its part above a line', () => {
    const line = { codes: 30, at: 0.6, share: 0.03 };
    const desk = drawDesk([{ ...FACE, line }]);
    const { codes, shrunk } = desk;
    const found = findFace({
      codes,
      shrunk,
      lut: linearLut(8),
      camera,
      knownCorners: NO_CLICKS,
      keepOut: [],
    });
    if (found.state === 'found') expect(furthest(found.cornersPx, FACE.cornersPx)).toBeLessThan(CORNER_PX);
    else expect(found.state).toBe('unclear');
  });
});
