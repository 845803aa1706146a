import sharp from 'sharp';
import { drawScene, type DrawnScene, type SceneTruth } from '../../test/synth/scene/drawScene.js';
import type { SceneKind } from '../../test/synth/scene/kinds.js';
import { lookFor } from './lookFor.js';

/** A drawn photograph to be searched. */
export interface SceneJob {
  readonly kind: SceneKind;
  readonly seed: number;
}

/** What became of it. Plain data. */
export interface SceneOutcome extends SceneJob {
  /**
   * `right`: the told face with all corners in their places; `inexact`: the told face, but a corner is off by more than it
   * may; `wrong`: anything else that was called found.
   */
  readonly verdict: 'right' | 'inexact' | 'refused' | 'wrong';
  /** What the finder called it. */
  readonly state: string;
  /** Of what it called found, or of its best guess. */
  readonly confidence?: number;
  /** Rms and largest distance of the four corners from the truth, px at 12 megapixels. */
  readonly corners?: { readonly rmsPx: number; readonly worstPx: number };
  /** The finder's own standard uncertainty of a corner's coordinate, px at 12 megapixels. */
  readonly cornerSdPx?: number;
  /** References that the record names and that were not found. */
  readonly missing: number;
  /** Time of the search ÷ time of sharp's grey decode of the same photo. */
  readonly timeToDecode: number;
}

/** Diagonal of 4032 × 3024 px, to which distances are referred. */
const DIAGONAL_PX = 5040;
/**
 * Corners further off than this are wrong, px at that diagonal: the outline of a print differs from its nominal box by up
 * to a few tenths of a millimetre, at 10 to 17 px each.
 */
export const TOLERANCE_PX = 6;

/** So often each scene is timed. */
const ROUNDS = 5;

/** Corners within this share of the face's diagonal belong to that face and no other. */
const SAME_FACE = 0.04;

type Point = readonly [number, number];

/**
 * Draws a scene and searches it.
 * @param job - Which scene.
 */
export async function searchScene(job: SceneJob): Promise<SceneOutcome> {
  const { jpeg, record, truth } = await drawScene(job.seed, job.kind);
  const { search } = await lookFor(jpeg, record);
  const timeToDecode = await timeOf(jpeg, record);
  const common = {
    kind: job.kind,
    seed: job.seed,
    state: search.how,
    missing: search.missing.length,
    timeToDecode,
  };
  if (!('cornersPx' in search)) {
    const [best] = search.guesses;
    return {
      ...common,
      verdict: 'refused',
      ...(best === undefined ? {} : { confidence: best.confidence, ...withCorners(best.cornersPx, truth) }),
    };
  }
  const { confidence = 1 } = search;
  const off = withCorners(search.cornersPx, truth);
  const cornerSdPx = (search.cornerSdPx * DIAGONAL_PX) / Math.hypot(...truth.sidesPx);
  return { ...common, verdict: verdictOf(off.corners?.worstPx, truth), confidence, cornerSdPx, ...off };
}

function verdictOf(worstPx: number | undefined, truth: SceneTruth): SceneOutcome['verdict'] {
  if (worstPx === undefined || truth.cornersPx === undefined) return 'wrong';
  if (worstPx <= TOLERANCE_PX) return 'right';
  const [[left, top], , [right, bottom]] = truth.cornersPx;
  const diagonalPx = (Math.hypot(right - left, bottom - top) * DIAGONAL_PX) / Math.hypot(...truth.sidesPx);
  return worstPx <= SAME_FACE * diagonalPx ? 'inexact' : 'wrong';
}

/** In turns, and the middle of some: what else the machine does hits both alike. The search before has loaded all. */
async function timeOf(jpeg: Buffer, record: DrawnScene['record']): Promise<number> {
  const decodes: number[] = [];
  const searches: number[] = [];
  for (let round = 0; round < ROUNDS; round += 1) {
    decodes.push(await decodeMs(jpeg));
    searches.push((await lookFor(jpeg, record)).ms);
  }
  return middleOf(searches) / middleOf(decodes);
}

function middleOf(values: number[]): number {
  return values.sort((a, b) => a - b)[values.length >> 1]!;
}

async function decodeMs(jpeg: Buffer): Promise<number> {
  const start = performance.now();
  await sharp(jpeg).greyscale().raw().toBuffer();
  return performance.now() - start;
}

function withCorners(found: readonly Point[], truth: SceneTruth): Pick<SceneOutcome, 'corners'> {
  if (truth.cornersPx === undefined) return {};
  const scale = DIAGONAL_PX / Math.hypot(...truth.sidesPx);
  const squares = inPicture(truth, truth.cornersPx).map(
    ([x, y], i) => scale ** 2 * ((found[i]![0] - x) ** 2 + (found[i]![1] - y) ** 2),
  );
  const rmsPx = Math.sqrt(squares.reduce((sum, square) => sum + square, 0) / squares.length);
  return { corners: { rmsPx, worstPx: Math.sqrt(Math.max(...squares)) } };
}

/** Corners in the order in which a picture shows them: nobody can see that it was mirrored or turned. */
function inPicture(
  { kind }: SceneTruth,
  [tl, tr, br, bl]: readonly [Point, Point, Point, Point],
): readonly Point[] {
  if (kind === 'mirrored') return [tr, tl, bl, br];
  if (kind === 'upside-down') return [br, bl, tl, tr];
  return [tl, tr, br, bl];
}
