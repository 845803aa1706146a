import type { Estimate } from '../core/estimate.js';
import { distanceOf } from '../core/vector.js';
import type { CornersPx } from '../core/image.js';
import type { Px } from '../core/units.js';
import { tolerance } from './conflict.js';
import { findFace, findWholeFace, type FaceSearch } from './findFace.js';
import type { UnseenCause } from './seenFace.js';
import { shapeOfCorners } from './shape.js';
import { sightOf } from './sight.js';

/** Without a shape, the one must be likelier than not, and one that is less likely than the other number is no rival. */
const LEAST_CONFIDENCE = { ofOne: 0.5, ofRival: 0.1 } as const;
/** Corners that are found again lie this near, share of the photo's longer side. */
const SAME = 0.005;
/** Standard uncertainty of the corners of a guess, not all of which are fitted, px of a photo of 12 megapixels. */
const CORNER_SD_PX = 2;

/**
 * Where a face of the told shape is not found, looks whether one of another shape is: exactly one that is found for
 * certain once its own shape is told, and that contradicts the told one.
 * @param search - The search that has found none.
 * @returns That face's height ÷ width; undefined where no shape was told, or none or several would be clear.
 */
export function otherShape(search: FaceSearch): UnseenCause | undefined {
  const { heightPerWidth: told, shrunk, codes, lut, camera, knownCorners, keepOut } = search;
  const sight = search.sight ?? sightOf(search);
  // A height that is told wrong counts the layers wrong, too.
  const untold: FaceSearch = { shrunk, codes, lut, camera, knownCorners, keepOut, sight };
  if (told === undefined) return undefined;
  const freely = findFace(untold);
  const guesses = freely.state === 'found' ? [freely] : freely.guesses;
  const samePx = SAME * Math.max(codes.shape[0] ?? 0, codes.shape[1] ?? 0);
  if (!((guesses[0]?.confidence ?? 0) > LEAST_CONFIDENCE.ofOne)) return undefined;
  const clear: Estimate[] = [];
  for (const { cornersPx, confidence } of guesses) {
    if (confidence < LEAST_CONFIDENCE.ofRival) continue;
    const { heightPerWidth } = shapeOfCorners(cornersPx, CORNER_SD_PX, camera);
    const again = findWholeFace({ ...untold, heightPerWidth: heightPerWidth.value });
    if (again.state === 'found' && isSame(again.cornersPx, cornersPx, samePx)) clear.push(heightPerWidth);
    if (clear.length > 1) return undefined;
  }
  const [only] = clear;
  if (only === undefined) return undefined;
  const off = only.value / told - 1;
  const most = tolerance(only.sd / only.value);
  if (Math.abs(off) <= most) return undefined;
  return {
    what: 'shape',
    reason: 'face-unclear',
    quantity: 'height ÷ width of the clearest face',
    value: only.value,
    limit: told * (1 + Math.sign(off) * most),
    guesses: guesses.map(({ cornersPx, confidence }) => ({ cornersPx, confidence })),
  };
}

function isSame(a: CornersPx, b: CornersPx, withinPx: Px): boolean {
  return a.every((corner, i) => distanceOf(corner, b[i] ?? corner) < withinPx);
}
