import type { CodeImage } from '../core/image.js';
import { CODE_CENTRE_MM, CODE_FIELD_MM } from '../core/markerCard.js';
import { applyHomography, homographyFromPoints } from '../imaging/homography.js';
import { readQrCode } from '../imaging/qrCode.js';
import { rectify } from '../imaging/warp.js';
import { parseCardText, type CardCode } from '../print/cardCode.js';
import type { FoundReference } from './reference.js';

/** Small cells are 0.45 mm wide: the flattened code shows each by so many px at least, whatever the photo's resolution. */
const PX_PER_MM = 14;
/** Light on paper without a code differs by less than this share of the brightest, lines to write on and shadows included. */
const LEAST_CONTRAST = 0.3;
/**
 * Blur mixes light, so that the middle between ink and paper is at half the light. Where the paper is burnt out it is
 * higher, and white cells look larger; where the light is not as the curve of the codes has it, it may be lower.
 */
const POWERS = [1, 2, 0.5] as const;
/** And so much of a code is dark, at least and at most: about half of its cells, and its border is white. */
const DARK_SHARE = [0.08, 0.7] as const;

/**
 * Reads the code between the squares of a marker card.
 * @param codes - Grey codes of the whole photo; not modified.
 * @param lut - Linear light of each code.
 * @param card - Where the card is, its points as drawn (before any check length is reckoned in).
 * @returns What the code says, or why it is of no use; undefined where none is seen: there is none, or it is too small,
 * blurred or covered.
 */
export function readCardCode(
  codes: CodeImage,
  lut: Float32Array,
  { points }: Pick<FoundReference, 'points'>,
): CardCode | undefined {
  const sidePx = PX_PER_MM * CODE_FIELD_MM;
  const [left, top] = [CODE_CENTRE_MM[0] - CODE_FIELD_MM / 2, CODE_CENTRE_MM[1] - CODE_FIELD_MM / 2];
  // Four corners of the field in the photo: from there the flattened picture is taken.
  const mmToPx = homographyFromPoints(
    points.map(({ mm }) => mm),
    points.map(({ px }) => px),
  );
  const flat = [
    [0, 0],
    [sidePx, 0],
    [sidePx, sidePx],
    [0, sidePx],
  ] as const;
  const flatToPx = homographyFromPoints(
    flat,
    flat.map(([x, y]) => applyHomography(mmToPx, left + x / PX_PER_MM, top + y / PX_PER_MM)),
  );
  const light = rectify(codes, lut, flatToPx, sidePx, sidePx).data;
  const shares = stretched(light);
  if (shares === undefined) return undefined;
  for (const power of POWERS) {
    const grey = Uint8Array.from(shares, (share) => Math.round(255 * share ** power));
    const text = readQrCode(grey, sidePx, sidePx);
    if (text !== undefined) return parseCardText(text);
  }
  return undefined;
}

/** Light as a share between the darkest and the brightest of the field; undefined where there is hardly anything in it. */
function stretched(light: Float32Array): Float32Array | undefined {
  const sorted = Float32Array.from(light).sort();
  const at = (share: number): number => sorted[Math.floor(share * (sorted.length - 1))] ?? 0;
  const [dark, bright] = [at(0.02), at(0.98)];
  if (!(bright - dark > LEAST_CONTRAST * bright)) return undefined;
  const middle = (dark + bright) / 2;
  const darkShare = light.reduce((count, value) => count + Number(value < middle), 0) / light.length;
  if (darkShare < DARK_SHARE[0] || darkShare > DARK_SHARE[1]) return undefined;
  return light.map((value) => Math.min(1, Math.max(0, (value - dark) / (bright - dark))));
}
