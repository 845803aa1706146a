import type { Estimate } from '../core/estimate.js';
import type { CornersPx, PointPx } from '../core/image.js';
import type { Mm, Px } from '../core/units.js';
import type { StraightEdge } from './estimateLens.js';
import type { PhotoFault } from './photoFault.js';
import type { CardCode } from '../print/cardCode.js';
import type { FoundReference } from './reference.js';

/** A reference that the print record names and that was found. */
export interface SeenReference extends FoundReference {
  /** How far it lies behind the face as told; undefined: not told. */
  readonly behindFaceMm: Mm | undefined;
}

/** A corner that was told elsewhere than the edges found put it. */
export interface MovedCorner {
  readonly corner: (typeof CORNER_NAMES)[number];
  /** How far. */
  readonly offPx: Px;
}

/** In the order in which corners are told. */
export const CORNER_NAMES = ['top-left', 'top-right', 'bottom-right', 'bottom-left'] as const;

/** Where the face and its references are in the photo. */
export interface SeenFace {
  /** All four corners were told, or at least one of them was found in the photo. */
  readonly how: 'given' | 'found';
  readonly cornersPx: CornersPx;
  /** Standard uncertainty of each corner's coordinates, px. */
  readonly cornerSdPx: Px;
  /** How sure it is that this is the face, 0 to 1; absent where all corners were told. */
  readonly confidence?: number;
  /** Corners that were told, but that the edges found contradict; none where all four were told, which are believed. */
  readonly movedCorners: readonly MovedCorner[];
  /** Spread of the top, right, bottom and left edge (Gaussian standard deviation); undefined where there is none to fit. */
  readonly edges: readonly ({ readonly blurPx: Px } | undefined)[];
  readonly references: readonly SeenReference[];
  /** Kinds of reference that the record names and that were not found. */
  readonly missing: readonly FoundReference['kind'][];
  /** What the code of the marker card says; absent where no card is told or found, or no code is read on it. */
  readonly cardCode?: CardCode;
  /** What cards say of the lens: k1 in units of the camera's middle focal length. */
  readonly lensClues: readonly Estimate[];
  /** Edges of the face, for what they say of the lens; none where they were told. */
  readonly straightEdges: readonly StraightEdge[];
}

/** What is to blame that no face is found for certain, as the number that decided beside its limit. */
export interface UnseenCause {
  /** The photo as a whole, the shape that was told, or a corner that was clicked. */
  readonly what: 'photo' | 'shape' | 'click';
  readonly reason: PhotoFault['reason'] | 'face-unclear';
  readonly quantity: string;
  readonly value: number;
  readonly limit: number;
  /** The likeliest faces without what is to blame, best first; absent for the photo. */
  readonly guesses?: UnseenFace['guesses'];
}

/** Why no face is read. */
export interface UnseenFace {
  readonly how: 'not-found' | 'unclear' | 'cut-off';
  /** The likeliest quadrilaterals, best first. */
  readonly guesses: readonly { readonly cornersPx: CornersPx; readonly confidence: number }[];
  /** What is to blame; undefined where nothing singles it out. */
  readonly cause: UnseenCause | undefined;
  readonly references: readonly SeenReference[];
  readonly missing: readonly FoundReference['kind'][];
  /** What the code of the marker card says; absent where no card is told or found, or no code is read on it. */
  readonly cardCode?: CardCode;
}

/**
 * Corners of an upright box.
 * @param width - Its width.
 * @param height - Its height.
 * @returns Clockwise from the top left, which is (0, 0).
 */
export function boxCorners(width: number, height: number): readonly PointPx[] {
  return [
    [0, 0],
    [width, 0],
    [width, height],
    [0, height],
  ];
}
