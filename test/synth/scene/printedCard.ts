import { noiseAt, noiseTile } from './noiseTile.js';
import { boxSolid, piece } from './objects.js';
import { project, type Camera, type Pixel } from './camera.js';
import type { Scene } from './compose.js';
import type { PlacedReference } from './placing.js';
import type { ReferenceObject } from './references.js';
import { hiddenShare, isInPicture, pointsOnReference } from './sight.js';
import type { Material } from './surface.js';
import { solidOfTower } from './tower.js';
import { inFrame, minus, plus, times, type Frame, type Vector } from './vector.js';

/** A card as it came out of a printer, in pixels. */
export interface CardPrint {
  /** Grey codes, row 0 at the top: 0 is ink, 255 paper. */
  readonly grey: Uint8Array;
  readonly widthPx: number;
  readonly heightPx: number;
  /** Of the paper: what a ruler shows, whatever the printer was told. */
  readonly mmPerPx: number;
  /** Where the corners of its four squares are: mm from its own left and top edge, and where a reading puts them. */
  readonly squares: readonly {
    readonly at: readonly [number, number];
    readonly mm: readonly [number, number];
  }[];
}

/** How a card is held. */
export interface CardHold {
  /** Turn in its own plane, radians. */
  readonly leanRad: number;
  /** -1: left of the tower, 1: right of it. */
  readonly side: -1 | 1;
  /** How many px it is to be wide in the photo: its resolution is chosen so. @default the photo's own */
  readonly widthPx?: number;
}

const PAPER = 0.82;
const INK = 0.035;
const GRAIN = 0.01;
const THICKNESS_MM = 0.76;
const GAP_MM = 6;
/** Somebody who wants a card beside the tower in the picture steps back. */
const STEP_BACK = 1.5;

/**
 * A scene with a printed card held flush beside its tower, in place of its reference.
 * @param scene - The scene; not modified.
 * @param print - The card.
 * @param hold - How it is held.
 * @returns The scene, or undefined where the card or the face would not be in full view.
 */
export function withPrintedCard(scene: Scene, print: CardPrint, hold: CardHold): Scene | undefined {
  const [tower] = scene.towers;
  if (tower === undefined) return undefined;
  const object = printedCard(print);
  const frame = frameBeside(tower.frame, tower.plan.recipe.widthMm, object, hold);
  const reference: PlacedReference = { object, frame, behindMm: 0 };
  const far = stepBack(scene);
  const edge = object.outline.map((point) => inFrame(frame, [point[0], point[1], 0]));
  const camera = hold.widthPx === undefined ? far : shrunk(far, edge, hold.widthPx);
  const solids = scene.towers.map(solidOfTower).concat(scene.things.flatMap((thing) => thing.solids));
  const { widthMm: w, heightMm: h } = tower.plan.recipe;
  const corners = [[0, 0, 0] as const, [w, 0, 0] as const, [w, h, 0] as const, [0, h, 0] as const];
  const seen = [...edge, ...corners.map((corner) => inFrame(tower.frame, corner))];
  if (!seen.every((point) => isInPicture(camera, point, 0.01))) return undefined;
  if (hiddenShare(solids, camera, pointsOnReference(reference)) > 0) return undefined;
  const view = { ...scene.view, camera, distanceMm: STEP_BACK * scene.view.distanceMm };
  return { ...scene, view, reference, coveredShare: 0, brightest: Math.max(scene.brightest, 0.8 * PAPER) };
}

function frameBeside(
  tower: Frame,
  faceMm: number,
  { widthMm: w, heightMm: h }: ReferenceObject,
  { leanRad, side }: CardHold,
): Frame {
  const [sine, cosine] = [Math.sin(leanRad), Math.cos(leanRad)];
  const x: Vector = [cosine, sine, 0];
  const y: Vector = [-sine, cosine, 0];
  const halfWide = (Math.abs(cosine) * w + Math.abs(sine) * h) / 2;
  const halfHigh = (Math.abs(cosine) * h + Math.abs(sine) * w) / 2;
  const across = side < 0 ? -GAP_MM - halfWide : faceMm + GAP_MM + halfWide;
  const middle = inFrame(tower, [across, halfHigh, 0]);
  return {
    originMm: minus(middle, plus(times(x, w / 2), times(y, h / 2))),
    x,
    y,
    z: [0, 0, 1],
  };
}

function stepBack({ view: { camera }, middleMm }: Scene): Camera {
  return {
    ...camera,
    positionMm: plus(middleMm, times(minus(camera.positionMm, middleMm), STEP_BACK)),
  };
}

/** The same camera with so many px that the card's upper edge is as wide as wanted; sides of pictures are even. */
function shrunk(camera: Camera, edge: readonly Vector[], widthPx: number): Camera {
  const [left, right] = edge.map((point) => project(camera, point));
  if (left === undefined || right === undefined) return camera;
  const factor = Math.min(1, widthPx / Math.hypot(left[0] - right[0], left[1] - right[1]));
  const even = (side: number) => 2 * Math.round((side * factor) / 2);
  const sidesPx: Pixel = [even(camera.sidesPx[0]), even(camera.sidesPx[1])];
  return { ...camera, sidesPx, focalPx: camera.focalPx * factor };
}

function printedCard(print: CardPrint): ReferenceObject {
  const [w, h] = [print.widthPx * print.mmPerPx, print.heightPx * print.mmPerPx];
  const material = cardMaterial(print);
  return {
    kind: 'marker-card',
    widthMm: w,
    heightMm: h,
    points: print.squares.map(({ at, mm }) => ({ at: [at[0], h - at[1]], mm })),
    outline: [
      [0, h],
      [w, h],
      [w, 0],
      [0, 0],
    ],
    brightest: PAPER,
    build: (frame) => ({
      surfaces: [piece(frame, [0, 0, 0], 'x', 'y', [w, h], material)],
      solids: [boxSolid(frame, [w, h, THICKNESS_MM])],
    }),
  };
}

/** Reflectance between ink and paper, bilinear between the print's pixels. */
function cardMaterial({ grey, widthPx, heightPx, mmPerPx }: CardPrint): Material {
  const tile = noiseTile(71, 0.3, 4, 1);
  return {
    rays: 4,
    colour: (u, v, _region, footprintMm, out) => {
      const x = Math.max(0, Math.min(widthPx - 1.001, u / mmPerPx - 0.5));
      const y = Math.max(0, Math.min(heightPx - 1.001, heightPx - v / mmPerPx - 0.5));
      const [column, row] = [Math.floor(x), Math.floor(y)];
      const [a, b] = [x - column, y - row];
      const i = row * widthPx + column;
      const code =
        (1 - b) * ((1 - a) * grey[i]! + a * grey[i + 1]!) +
        b * ((1 - a) * grey[i + widthPx]! + a * grey[i + widthPx + 1]!);
      const reflectance = INK + (code / 255) * (PAPER - INK);
      out.fill(reflectance * (1 + GRAIN * noiseAt(tile, u, v, footprintMm)));
    },
  };
}
