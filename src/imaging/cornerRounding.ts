import type { Mm, Px } from '../core/units.js';
import { applyHomography } from './homography.js';

/** What a corner of a flat object looks like: round with the radius asked about, square, or neither to be seen. */
export type CornerForm = 'round' | 'square' | 'unclear';

/** Directions in which the outline is looked for from the arc's centre: to the corner, and to both sides of it. */
const RAYS_DEG = [25, 35, 45, 55, 65] as const;
/** The outline is looked for from this share of the radius to that one; a square corner lies at √2. */
const RANGE = [0.6, 1.75] as const;
/** Apart by a twentieth of the radius: an eighth of what tells round from square. */
const SAMPLES = 23;
/**
 * The median ray must hit the outline within this share of the radius, as a square corner is 0.41 further out at 45°
 * and 0.15 at 30°: where the corner is known, and where it is a guess.
 */
const WITHIN = { known: 0.11, guessed: 0.2 } as const;
/** Least change of linear light, as a share of the brightest along the ray, that counts as the outline. */
const LEAST_CHANGE = 0.06;

/**
 * Looks whether a corner is round, with a given radius, or square.
 * @param read - Linear light at photo px, of each colour.
 * @param mmToPx - Homography from the object's mm to photo px, 3 × 3 row-major.
 * @param cornerMm - Where its straight sides would meet, mm.
 * @param inwards - Which way the object lies from there along x and along y.
 * @param radiusMm - Radius to ask about, mm.
 * @param corner - Whether the homography is known to a small share of the radius, or guessed.
 * @returns The form.
 */
export function cornerForm(
  read: readonly ((x: Px, y: Px) => number)[],
  mmToPx: Float64Array,
  cornerMm: readonly [Mm, Mm],
  inwards: readonly [1 | -1, 1 | -1],
  radiusMm: Mm,
  corner: 'known' | 'guessed',
): CornerForm {
  const hits = RAYS_DEG.map((degrees) => {
    const angle = (degrees * Math.PI) / 180;
    const pointAt = (share: number): [Px, Px] =>
      applyHomography(
        mmToPx,
        cornerMm[0] + inwards[0] * radiusMm * (1 - share * Math.cos(angle)),
        cornerMm[1] + inwards[1] * radiusMm * (1 - share * Math.sin(angle)),
      );
    return { share: steepest(read, pointAt), square: 1 / Math.max(Math.cos(angle), Math.sin(angle)) };
  });
  const seen = hits.flatMap(({ share, square }) => (share === undefined ? [] : [{ share, square }]));
  if (seen.length < RAYS_DEG.length - 1) return 'unclear';
  if (middleOf(seen.map(({ share }) => Math.abs(share - 1))) < WITHIN[corner]) return 'round';
  if (middleOf(seen.map(({ share, square }) => Math.abs(share - square))) < WITHIN[corner]) return 'square';
  return 'unclear';
}

/** Where light changes most along a ray, as a share of the radius; undefined where it hardly changes. */
function steepest(
  read: readonly ((x: Px, y: Px) => number)[],
  pointAt: (share: number) => [Px, Px],
): number | undefined {
  const [from, to] = RANGE;
  const step = (to - from) / SAMPLES;
  const change = new Float64Array(SAMPLES + 1);
  let level = 0;
  for (const colour of read) {
    let [before, here] = [0, 0];
    for (let i = 0; i <= SAMPLES; i += 1) {
      const light = colour(...pointAt(from + i * step));
      level = Math.max(level, light);
      if (i >= 2) change[i - 1] = change[i - 1]! + Math.abs(light - before);
      [before, here] = [here, light];
    }
  }
  let top = 1;
  for (let i = 2; i < SAMPLES; i += 1) if (change[i]! > change[top]!) top = i;
  return change[top]! > LEAST_CHANGE * level ? from + top * step : undefined;
}

function middleOf(values: readonly number[]): number {
  const sorted = [...values].sort((one, other) => one - other);
  return sorted[Math.floor(sorted.length / 2)]!;
}
