import sharp from 'sharp';
import { checkPhoto } from '../../src/checkPhoto.js';
import type { RefusalReason } from '../../src/core/outcome.js';
import { measurePhoto } from '../../src/measurePhoto.js';
import { checkPrintRecord } from '../../src/print/record.js';
import { drawScene } from '../../test/synth/scene/drawScene.js';
import type { SceneKind } from '../../test/synth/scene/kinds.js';

/** What is done to a drawn photograph before it is checked. */
export const FAULTS = ['none', 'blurred', 'small', 'dark', 'burnt-out'] as const;
export type Fault = (typeof FAULTS)[number];

/** A drawn photograph to be checked and measured. */
export interface CheckJob {
  readonly kind: SceneKind;
  readonly seed: number;
  readonly fault: Fault;
}

/** What the check and the measurement said. Plain data. */
export interface CheckOutcome extends CheckJob {
  readonly check: string;
  readonly reading: string;
  /** The check does not say that it will do where the measurement is refused for the photo, nor that it will not do elsewhere. */
  readonly agree: boolean;
  /** Time of the check ÷ time of sharp's grey decode of the same photo. */
  readonly timeToDecode: number;
}

/** Reasons that lie in the photo, and not in the ripples on it. */
const OF_PHOTO: ReadonlySet<RefusalReason> = new Set([
  'face-not-found',
  'face-unclear',
  'face-cut-off',
  'scale-missing',
  'scales-disagree',
  'too-dark',
  'glare',
  'too-coarse',
  'blurred',
]);

/**
 * Draws a scene, checks its photo and measures it.
 * @param job - Which scene, and what is done to its photo.
 */
export async function checkScene(job: CheckJob): Promise<CheckOutcome> {
  const { jpeg, record } = await drawScene(job.seed, job.kind);
  const bytes = await spoilt(jpeg, job);
  const print = checkPrintRecord(record);
  const { verdict } = await checkPhoto(bytes, print);
  const { proposal } = await measurePhoto(bytes, print);
  const refused = proposal.state === 'refused' ? proposal.reason : undefined;
  const forPhoto = refused !== undefined && OF_PHOTO.has(refused);
  const before = performance.now();
  await checkPhoto(bytes, print);
  const checked = performance.now();
  await sharp(bytes).greyscale().raw().toBuffer();
  const decoded = performance.now();
  return {
    ...job,
    check: verdict.state === 'will-do' ? verdict.state : `${verdict.state}: ${verdict.reason}`,
    reading: refused ?? proposal.state,
    agree: verdict.state !== (forPhoto ? 'will-do' : 'will-not-do'),
    timeToDecode: (checked - before) / (decoded - checked),
  };
}

/** How much of a fault depends on the seed, so that some photos are spoilt and some are not. */
async function spoilt(jpeg: Uint8Array, { fault, seed }: CheckJob): Promise<Uint8Array> {
  const much = ((seed * 7) % 10) / 10;
  const picture = sharp(jpeg).keepExif();
  switch (fault) {
    case 'none':
      return jpeg;
    case 'blurred':
      return picture
        .blur(1 + 14 * much)
        .jpeg({ quality: 90 })
        .toBuffer();
    case 'small': {
      const side = Math.round(400 + 2400 * much);
      return picture.resize(side, side, { fit: 'inside' }).jpeg({ quality: 90 }).toBuffer();
    }
    case 'dark':
      return picture
        .linear(0.1 + 0.5 * much, 0)
        .jpeg({ quality: 90 })
        .toBuffer();
    case 'burnt-out':
      return picture
        .linear(1.2 + 2 * much, 0)
        .jpeg({ quality: 90 })
        .toBuffer();
  }
}
