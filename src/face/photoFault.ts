import type { CodeImage } from '../core/image.js';
import { edgeSpreadPx, USUAL_LONGEST_PX } from '../imaging/edgeSpread.js';

/** What is wrong with a photo as a whole, as the number that decided beside the limit it was held against. */
export interface PhotoFault {
  readonly reason: 'too-dark' | 'glare' | 'blurred';
  readonly quantity: string;
  readonly value: number;
  readonly limit: number;
  /** Whether no face at all can be expected to show; otherwise a large, bright one would. */
  readonly isGrave: boolean;
}

/** Of a photo's pixels all but this share may be dark: a lamp in the picture lights nothing. */
const BRIGHT_SHARE = 0.05;
/**
 * Layer lines and ripples change the light by about 5 % (drawn faces). A code of 8 bits grows with the light to the
 * power of 1/2.2 or so (IEC 61966-2-1), so that 5 % make less than a code, and are gone, below 2.2 ÷ 0.05 = 44.
 */
const LEAST_CODE = 44;
/** A tower may have a fifth of the light of what is brightest around it, and half of its code (same power law). */
const LEAST_CODE_OF_DARK_FACE = 88;
/** JPEG stirs what is burnt out by a few codes. */
export const BURNT_CODE = 252;
/** A bright wall or a lamp behind the tower may be burnt out without harm; a photo with so much of it was exposed too long. */
const MOST_CLIPPED = 0.2;
/**
 * A face is known by its layer lines. Of lines of 0.2 mm where 100 mm fill 3000 px, 6 px apart, this blur leaves
 * exp(−2π² (3/6)²) = 0.7 %. The photographs of testimages, and outside ones, have 0 to 1.2 px; blurred by 5 px, 3.9 px
 * and more.
 */
const MOST_SPREAD_PX = 3;
/** More than the sharp photographs have; a smaller face, of 3 px to a layer, then keeps 1 % of its lines. */
const SPREAD_OF_SHARP_PX = 1.4;
/** Every so many px along each side are counted. */
const STRIDE = 3;

/**
 * Looks for what may be the reason why no face is found in a photo: too little light, too much, or blur.
 * @param codes - The whole photo, grey codes of 8 bits; not modified.
 * @param lut - Linear light of each code.
 * @returns The first of them that is bad enough to hide any face, or else the first that may hide some; undefined where
 * none is.
 */
export function photoFault(codes: CodeImage, lut: Float32Array): PhotoFault | undefined {
  const counts = codeCounts(codes);
  const bright = brightCode(counts);
  const dark = (limit: number): PhotoFault => ({
    reason: 'too-dark',
    quantity: 'brightness that 95 % of the photo do not exceed, of 255',
    value: bright,
    limit,
    isGrave: limit === LEAST_CODE,
  });
  if (bright < LEAST_CODE) return dark(LEAST_CODE);
  const clipped = counts.slice(BURNT_CODE).reduce((sum, count) => sum + count, 0) / sumOf(counts);
  if (clipped > MOST_CLIPPED) {
    return {
      reason: 'glare',
      quantity: 'share of the photo that is burnt out',
      value: clipped,
      limit: MOST_CLIPPED,
      // What is not burnt out may be the face.
      isGrave: false,
    };
  }
  const spreadPx = edgeSpreadPx(codes, lut) ?? 0;
  const longest = Math.max(codes.shape[0] ?? 0, codes.shape[1] ?? 0);
  const blurred = (mostPx: number): PhotoFault | undefined => {
    const limit = mostPx * Math.max(1, longest / USUAL_LONGEST_PX);
    if (spreadPx <= limit) return undefined;
    const quantity = "blur of the photo's sharpest edges, px";
    return { reason: 'blurred', quantity, value: spreadPx, limit, isGrave: mostPx === MOST_SPREAD_PX };
  };
  return (
    blurred(MOST_SPREAD_PX) ??
    (bright < LEAST_CODE_OF_DARK_FACE ? dark(LEAST_CODE_OF_DARK_FACE) : undefined) ??
    blurred(SPREAD_OF_SHARP_PX)
  );
}

/** How many of the px looked at have each code. */
function codeCounts({ data, shape, stride, offset }: CodeImage): Float64Array {
  const counts = new Float64Array(256);
  const [rows = 0, columns = 0] = shape;
  const [down = 0, right = 0] = stride;
  for (let row = 0; row < rows; row += STRIDE) {
    for (let column = 0; column < columns; column += STRIDE) {
      const code = data[offset + row * down + column * right] ?? 0;
      counts[code] = (counts[code] ?? 0) + 1;
    }
  }
  return counts;
}

/** The code that only the brightest few pixels exceed. */
function brightCode(counts: Float64Array): number {
  const most = BRIGHT_SHARE * sumOf(counts);
  let above = 0;
  for (let code = counts.length - 1; code > 0; code -= 1) {
    above += counts[code] ?? 0;
    if (above > most) return code;
  }
  return 0;
}

function sumOf(counts: Float64Array): number {
  return counts.reduce((sum, count) => sum + count, 0);
}
