import type { PointPx } from '../core/image.js';
import type { Mm, Px } from '../core/units.js';

/** An object of known size that was found in a photo. */
export interface FoundReference {
  readonly kind: 'id1-card' | 'ruler' | 'marker-card';
  /**
   * Where known points of it are in the photo, px, and on itself, mm: x to the right and y down as it is held upright,
   * from a point of its own. Of a card at least four, not on one line; of a ruler at least two far apart, on one line.
   */
  readonly points: readonly { readonly px: PointPx; readonly mm: readonly [Mm, Mm] }[];
  /** Standard uncertainty of each coordinate of a point, px; what the lens bends is not in it. */
  readonly pointSdPx: Px;
  /** Relative standard uncertainty of the object's own size. */
  readonly sizeRelativeSd: number;
  /** Its outline, or that of the part which was read, px: to draw it, and to keep out of it. */
  readonly outlinePx: readonly PointPx[];
  /** How sure it is that the object is what it is taken for, 0 to 1. */
  readonly confidence: number;
  /** It reads only in a mirror, and so does the photo. */
  readonly mirrored?: true;
}
