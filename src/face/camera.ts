import type { Px } from '../core/units.js';
import type { PhotoInfo } from '../photo/decode.js';

/** What may be believed of the camera that took a photo. Square pixels are taken for granted. */
export interface CameraBelief {
  /** Focal length, px, by the tag; absent when the photo does not say it. */
  readonly taggedFocalPx?: Px;
  /** Focal lengths that stand for all possible ones, with weights that add up to 1; the middle one first. */
  readonly focals: readonly { readonly focalPx: Px; readonly weight: number }[];
  /** Principal point: the photo's middle. */
  readonly centrePx: readonly [Px, Px];
  /** Standard uncertainty of each of its coordinates, px. */
  readonly centreSdPx: readonly [Px, Px];
}

/** Two focal-length conventions are 4 % apart and the tag is a rounded integer: REFERENCES on Exif 0xA405. */
export const FOCAL_RELATIVE_SD = 0.04;
const FILM_DIAGONAL_MM = 43.2666;

/** Focal lengths of phones and ordinary lenses without the tag, mm on 35-mm film (common practice, no source). */
const UNTOLD_FOCAL_MM = { low: 20, high: 100 } as const;

/** Crops beyond this leave little of a camera's pixels (common practice, no source): full side ÷ side that is left. */
const STRONGEST_CROP = 2.5;
/** A zoom below this changes less than the focal length is uncertain by. */
const LEAST_ZOOM = 1.02;
/** Where a window of 1/1 to 1/2.5 of the full side may lie in it, as a standard deviation in window sides: up to
 * (k − 1)/2 to each side, at k = 1.6. */
const CROP_CENTRE_SD = 0.2;
/** A lens's axis hits its sensor within a percent or so of the diagonal off the middle (common practice, no source). */
const WHOLE_CENTRE_SD = 0.01;

/** Long ÷ short side of camera pictures: 4:3, 3:2, 16:9 (common practice, no source). */
const CAMERA_RATIOS = [4 / 3, 3 / 2, 16 / 9] as const;
const RATIO_TOLERANCE = 0.005;
/** JPEG codes blocks of this many px (ISO/IEC 10918-1), and cameras write whole ones (common practice, no source). */
const BLOCK_PX = 8;

/**
 * What a photo's header lets believe of its camera. A cropped photo keeps its tag while its sides shrink, so that
 * the tag tells too short a focal length, and its middle is not where the lens looked. A digital zoom crops about the
 * middle, and makers count it in the tag or not (common practice, no source).
 * @param info - The photo's header.
 * @returns Focal lengths and principal point. A tagged focal length is normal with 4 %; without a tag, or where the
 * photo may be cropped or is zoomed into, its logarithm is even between the shortest and the longest possible one. Three lengths at
 * 0 and ± √3 standard deviations with weights 4/6 and 1/6 stand for it: Gauss–Hermite for the one, Simpson's rule
 * for the other.
 * @see CIPA DCG-001, as quoted in the project's references: f_px = f35 · diagonal px / 43.2666 mm.
 */
export function believeCamera(info: PhotoInfo): CameraBelief {
  const { widthPx, heightPx, capture } = info;
  const diagonalPx = Math.hypot(widthPx, heightPx);
  const pxPerFilmMm = diagonalPx / FILM_DIAGONAL_MM;
  const cropped = mayBeCropped(widthPx, heightPx);
  const tag = capture.focalLength35Mm;
  const shortest = tag ?? UNTOLD_FOCAL_MM.low;
  const zoom = capture.digitalZoom ?? 1;
  const zoomed = zoom > LEAST_ZOOM;
  const longest = (tag ?? UNTOLD_FOCAL_MM.high) * (zoomed ? zoom : 1) * (cropped ? STRONGEST_CROP : 1);
  const spread = Math.sqrt(
    (Math.log(longest / shortest) / 2) ** 2 + 3 * (tag === undefined ? 0 : FOCAL_RELATIVE_SD) ** 2,
  );
  const middlePx = Math.sqrt(shortest * longest) * pxPerFilmMm;
  const centreSd = cropped
    ? ([CROP_CENTRE_SD * widthPx, CROP_CENTRE_SD * heightPx] as const)
    : ([WHOLE_CENTRE_SD * diagonalPx, WHOLE_CENTRE_SD * diagonalPx] as const);
  return {
    // The tag of a cropped photo tells too short a focal length, and with it too near a camera.
    ...(tag === undefined || cropped || zoomed ? {} : { taggedFocalPx: tag * pxPerFilmMm }),
    focals: [
      { focalPx: middlePx, weight: 4 / 6 },
      { focalPx: middlePx * Math.exp(-spread), weight: 1 / 6 },
      { focalPx: middlePx * Math.exp(spread), weight: 1 / 6 },
    ],
    centrePx: [widthPx / 2, heightPx / 2],
    centreSdPx: centreSd,
  };
}

/** Whether the sides are not those that a camera writes. */
function mayBeCropped(widthPx: Px, heightPx: Px): boolean {
  const ratio = Math.max(widthPx, heightPx) / Math.min(widthPx, heightPx);
  const usual = CAMERA_RATIOS.some((one) => Math.abs(ratio / one - 1) < RATIO_TOLERANCE);
  return !usual || widthPx % BLOCK_PX !== 0 || heightPx % BLOCK_PX !== 0;
}
