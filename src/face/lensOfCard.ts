import type { Estimate } from '../core/estimate.js';
import { applyHomography, homographyFromPoints } from '../imaging/homography.js';
import { undistortPoint } from '../imaging/lens.js';
import type { CameraBelief } from './camera.js';
import type { FoundReference } from './reference.js';

/** Three squares of a card; fewer points leave too little beside the homography's eight numbers. */
const LEAST_POINTS = 12;
/** Step of k1 for slopes, and how near the answer must settle. */
const STEP = 1e-3;
const SETTLED = 1e-6;
const MAX_ROUNDS = 20;
/** No photo of a phone is bent by more, and far beyond it the lens would fold the picture over. */
const MOST_K1 = 0.3;

/**
 * Radial distortion by a flat card: k1 for which its points lie nearest to a plane's picture.
 * @param card - A card with at least twelve points, not on one line.
 * @param camera - What may be believed of the camera; k1 is in units of its middle focal length.
 * @returns k1 of r_d = r (1 + k1 r²) with its standard uncertainty by what the points scatter, or are known to scatter
 * if that is more; undefined for a ruler, with fewer points, or where the search does not settle.
 * @see Gauss–Newton on the residuals of the homography (Hartley & Zisserman, 2nd ed. 2003, algorithm 4.2; from memory),
 * whose own eight numbers are fitted anew at each k1; uncertainty by GUM (JCGM 100:2008) H.3.
 */
export function lensOfCard(
  { kind, points, pointSdPx }: Pick<FoundReference, 'kind' | 'points' | 'pointSdPx'>,
  { focals, centrePx }: CameraBelief,
): Estimate | undefined {
  const focalPx = focals[0]?.focalPx;
  // A ruler's points lie on one line, of which perspective alone can make any.
  if (kind === 'ruler' || points.length < LEAST_POINTS || focalPx === undefined) return undefined;
  const residuals = (k1: number): number[] => {
    const flat = points.map(({ px }) => undistortPoint({ k1, centrePx, focalPx }, px));
    const h = homographyFromPoints(
      points.map(({ mm }) => mm),
      flat,
    );
    return points.flatMap(({ mm }, i) => {
      const [x, y] = applyHomography(h, mm[0], mm[1]);
      return [(flat[i]?.[0] ?? x) - x, (flat[i]?.[1] ?? y) - y];
    });
  };
  let k1 = 0;
  for (let round = 0; round < MAX_ROUNDS; round += 1) {
    const here = residuals(k1);
    const [up, down] = [residuals(k1 + STEP), residuals(k1 - STEP)];
    const slopes = up.map((value, i) => (value - (down[i] ?? 0)) / (2 * STEP));
    const information = slopes.reduce((sum, slope) => sum + slope * slope, 0);
    if (!(information > 0)) return undefined;
    const change = slopes.reduce((sum, slope, i) => sum + slope * (here[i] ?? 0), 0) / information;
    k1 -= change;
    if (!(Math.abs(k1) < MOST_K1)) return undefined;
    if (Math.abs(change) > SETTLED) continue;
    const freedom = 2 * points.length - 9;
    const scatter = Math.sqrt(here.reduce((sum, one) => sum + one * one, 0) / freedom);
    return { value: k1, sd: Math.max(scatter, pointSdPx) / Math.sqrt(information) };
  }
  return undefined;
}
