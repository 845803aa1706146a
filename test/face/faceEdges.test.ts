import ndarray from 'ndarray';
import { describe, expect, test } from 'vitest';
import type { CodeImage } from '../../src/core/image.js';
import { believeCamera } from '../../src/face/camera.js';
import { endsSeen, faceOf, fitFaceEdges, type FaceEdges } from '../../src/face/faceEdges.js';
import { footOf, isSoft } from '../../src/face/softEdge.js';
import { linearLut } from '../../src/imaging/tone.js';
import { expectClose } from '../helpers/closeTo.js';
import { seeded } from '../synth/random.js';
import { box } from './drawnDesk.js';
import { infoOf } from './facts.js';

// Source: closed form: corners that were drawn. The camera looks square on.

const [WIDTH, HEIGHT] = [900, 700];
const LUT = linearLut(8);
const camera = believeCamera(infoOf({ widthPx: WIDTH, heightPx: HEIGHT, capture: { focalLength35Mm: 50 } }));
const TRUE = box(150.3, 120.6, 600, 420);
const SIGMA_PX = 1;

/** Rises from 0 to 1 about 0, as wide as a normal distribution of that sigma. */
const rise = (px: number, sigmaPx: number) => 1 / (1 + Math.exp((-1.702 * px) / sigmaPx));

/**
 * A face with layers of 5 px before a bright wall, on a ground.
 * @param ground - Code of the ground by how far below the face it lies, px.
 */
function drawn(ground: (belowPx: number) => number): CodeImage {
  const [[left, top], , [right, bottom]] = TRUE;
  const random = seeded(11);
  const data = new Uint8Array(WIDTH * HEIGHT);
  for (let row = 0; row < HEIGHT; row += 1) {
    for (let column = 0; column < WIDTH; column += 1) {
      const [x, y] = [column + 0.5, row + 0.5];
      const around = y < bottom ? 190 : ground(y - bottom);
      const face = 100 + 4 * Math.sin((2 * Math.PI * (bottom - y)) / 5);
      const cover =
        rise(x - left, SIGMA_PX) *
        rise(right - x, SIGMA_PX) *
        rise(y - top, SIGMA_PX) *
        rise(bottom - y, SIGMA_PX);
      // The lower edge's spread lets the ground shine through, not the wall.
      const under = y > bottom - 6 && x > left && x < right ? ground(Math.max(0, y - bottom)) : around;
      data[row * WIDTH + column] = Math.round(under + cover * (face - under) + random.even(-1.5, 1.5));
    }
  }
  return ndarray(data, [HEIGHT, WIDTH]);
}

function fitted(codes: CodeImage): FaceEdges {
  const edges = fitFaceEdges(codes, TRUE, { lut: LUT, camera, reachPx: 24 });
  if (edges === undefined) throw new Error('Expected edges.');
  return edges;
}

const worst = ({ cornersPx }: FaceEdges) =>
  Math.max(...cornersPx.map(([x, y], i) => Math.hypot(x - TRUE[i]![0], y - TRUE[i]![1])));

/** A shadow that is as dark as the face where it begins, and steepest 15 px below it. */
const shadow = (belowPx: number) => 100 + (200 - 100) * rise(belowPx - 15, 7);

describe('the edges of a face', () => {
  const sharp = fitted(drawn(() => 200));

  test('meet where they were drawn, and say how well', () => {
    expect(worst(sharp)).toBeLessThan(1);
    expect(sharp.cornerSdPx).toBeGreaterThan(0.3);
    expect(sharp.cornerSdPx).toBeLessThan(1.5);
  });

  test('the flank of a shadow below it is not its lower edge: the foot of the tower is', () => {
    const face = fitted(drawn(shadow));
    expect(worst(face)).toBeLessThan(3);
    // Less sure than a sharp edge, and no less sure than it is off.
    expect(face.cornerSdPx).toBeGreaterThan(sharp.cornerSdPx + 0.3);
    expect(worst(face)).toBeLessThan(3 * face.cornerSdPx);
  });

  test('an edge that is not as sharp as the others makes the corners less sure', () => {
    const [top, right, bottom, left] = sharp.edges;
    expect(faceOf(sharp.edges).cornerSdPx).toBe(sharp.cornerSdPx);
    const soft = faceOf([top, right, { ...bottom, blurPx: 3 * bottom.blurPx }, left]);
    const sharper = faceOf([{ ...top, blurPx: 0.4 * top.blurPx }, right, bottom, left]);
    expect(soft.cornersPx).toEqual(sharp.cornersPx);
    expect(soft.cornerSdPx).toBeGreaterThan(sharp.cornerSdPx + 1);
    expect(sharper.cornerSdPx).toBeGreaterThan(sharp.cornerSdPx);
    // A little is the lens's or the light's.
    const nearly = faceOf([top, right, { ...bottom, blurPx: 1.1 * bottom.blurPx }, left]);
    expect(nearly.cornerSdPx).toBeCloseTo(sharp.cornerSdPx, 6);
  });
});

describe('endsSeen', () => {
  test('edges are seen up to where they meet', () => {
    const ends = endsSeen(fitted(drawn(() => 200))).flat();
    expect(ends.length).toBe(8);
    // A tenth of the middle's places lie near an end: one or two more or less.
    for (const seen of ends) expect(Math.abs(seen - 1)).toBeLessThan(0.4);
  });

  test('but not where something hides the corner, nor where points leave the line', () => {
    const codes = drawn(() => 200);
    const [, , [right, bottom]] = TRUE;
    for (let row = 0; row < HEIGHT; row += 1) {
      for (let column = 0; column < WIDTH; column += 1) {
        if (Math.hypot(column - right, row - bottom) < 50) codes.set(row, column, 150);
      }
    }
    const face = fitted(codes);
    const [top, down, level, up] = endsSeen(face);
    expect(Math.max(down![1], level![0])).toBeLessThan(0.2);
    expect(Math.min(...top!, down![0], level![1], ...up!)).toBeGreaterThan(0.6);
    const [t, r, m, l] = face.edges;
    const shorter = { ...t, points: t.points.filter(([x]) => x < right - 40) };
    expect(endsSeen({ ...face, edges: [shorter, r, m, l] })[0]![1]).toBe(0);
  });
});

describe('the foot of a soft edge', () => {
  test('a sharp edge has none, and is not soft', () => {
    const codes = drawn(() => 200);
    const { edges } = fitted(codes);
    const [top, , bottom] = edges;
    expect(isSoft(bottom, top.blurPx)).toBe(false);
    expect(footOf(codes, LUT, bottom, top.blurPx)).toBeUndefined();
  });

  test('lies where the even face ends', () => {
    const codes = drawn(shadow);
    const [[left], [right], [, bottom]] = TRUE;
    const points = Array.from(
      { length: 100 },
      (_, i) => [right - ((i + 0.5) / 100) * (right - left), bottom + 15] as const,
    );
    const soft = {
      normal: [0, 1],
      offsetPx: bottom + 15,
      points,
      residualPx: 0.3,
      sdPx: 0.1,
      blurPx: 6,
      support: 1,
      bendsPx: [],
    } as const;
    const foot = footOf(codes, LUT, soft, SIGMA_PX)!;
    expectClose(foot.offsetPx, bottom, { abs: 3, why: 'the ramp begins within about its sigma of the foot' });
    expectClose(foot.normal, [0, 1], { abs: 0.01, why: 'pieces of an eighth of 600 px, each to about a px' });
    expect(foot.blurPx).toBe(SIGMA_PX);
    expect(foot.sdPx).toBeGreaterThanOrEqual(1);
  });
});
