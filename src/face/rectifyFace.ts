import { combineSd, type Estimate } from '../core/estimate.js';
import type { CodeImage, CornersPx, GreyImage, PointPx } from '../core/image.js';
import { distanceOf } from '../core/vector.js';
import type { Mm, Px } from '../core/units.js';
import {
  applyHomography,
  homographyFromPoints,
  invertHomography,
  localScale,
} from '../imaging/homography.js';
import { LENS_AT_CORNER, undistortPoint, type Lens } from '../imaging/lens.js';
import { poseOfPlane, type PlanePose } from '../imaging/pose.js';
import { linearLut } from '../imaging/tone.js';
import { rectify } from '../imaging/warp.js';
import type { PhotoInfo } from '../photo/decode.js';
import type { PrintSettings } from '../print/settle.js';
import { believeCamera, FOCAL_RELATIVE_SD } from './camera.js';
import { faceSize, type FaceSize, type NoSize } from './faceSize.js';
import {
  COMMANDED_SIZE_RELATIVE_SD,
  seenScales,
  toldScales,
  type Scale,
  type UsedReference,
} from './scales.js';
import { boxCorners, type SeenFace } from './seenFace.js';
import { eachCorner, shapeOfCorners, type CornerShape } from './shape.js';

/** A lens that straight lines show, with the standard uncertainty of its k1. */
export type SeenLens = Lens & { readonly k1Sd: number };

/** Where the face is in the photo and how large it is, before its pixels are decoded. */
export interface FaceGeometry {
  readonly cornersPx: CornersPx;
  /** Standard uncertainty of each corner's coordinates, px. */
  readonly cornerSdPx: Px;
  /** Radial distortion, where straight edges show it; it is taken out before the homography. */
  readonly lens?: SeenLens;
  /** Commanded size of the face, mm. */
  readonly widthMm: Mm;
  readonly heightMm: Mm;
  /** Height of the face's lower edge above the bed, mm. */
  readonly bottomMm: Mm;
  /** Homography from face mm (x from the leading corner, y down from the top edge) to upright px free of the lens's distortion. */
  readonly mmToPx: Float64Array;
  /** Resolution in the middle of the face, px for each commanded mm. */
  readonly pxPerMm: { readonly alongWall: number; readonly alongHeight: number };
  /** The leading corner is on the right in the photo, so the rectified face is mirrored. */
  readonly mirrored: boolean;
  readonly scales: readonly Scale[];
  /** References that were found, and what each is good for. */
  readonly references: readonly UsedReference[];
  /** Relative standard uncertainty of commanded lengths along the wall near the leading corner, where the ripples are. */
  readonly lengthRelativeSd: number;
  /** Relative standard uncertainty of commanded heights above the lower edge. */
  readonly heightRelativeSd: number;
  /** The part of both that a reference gives which the size is taken from: it moves lengths and heights alike. */
  readonly sharedRelativeSd: number;
  /** Height ÷ width that the corners show, for each told one; absent when the size is not told in full. */
  readonly aspect?: Estimate;
  /** By how much the corners' angle at the top left is more than a right one, radians. */
  readonly skewRad: Estimate;
  /** Standard uncertainty of the height of the lower edge, mm. */
  readonly bottomSdMm: Mm;
  /** Gaussian width of the photo's blur at the face, px; absent when its edges do not tell. */
  readonly blurPx?: Px;
  /** Absent when the photo does not say its focal length. */
  readonly pose?: PlanePose & { readonly distanceSdMm: Mm };
}

/** The face, flattened: leading corner at the left, top edge at the top. */
export interface Face extends FaceGeometry {
  /** Linear light, shape (rows, columns); the edges of the image are the edges of the face. */
  readonly image: GreyImage;
  /** Px of `image` for each commanded mm. */
  readonly imagePxPerMm: { readonly alongWall: number; readonly alongHeight: number };
  /** Share of the face's pixels at the brightest code, where ripples are cut off. */
  readonly clippedShare: number;
}

/**
 * The printed outline lies within 0.3 mm of the commanded box (first layer, rounded edges): half of that
 * as a standard uncertainty of where an edge is.
 */
export const EDGE_SD_MM: Mm = 0.15;

/** Brightness from which a pixel counts as clipped, linear light. */
export const CLIPPED_LIGHT = 0.995;

/** A face whose geometry is known. */
export interface LocatedFace {
  readonly state: 'located';
  readonly geometry: FaceGeometry;
}

/**
 * Works out the face's geometry from its four corners and its size.
 * @param info - The photo's header.
 * @param settings - The print's settings; `face` and `references` are used.
 * @param seen - Where face and references are in the photo.
 * @param lens - Radial distortion, where it is known.
 * @returns Geometry with scales; or that there is no size, where that is to be taken from a reference that was not found.
 * @throws {InputError} `record-field` when the face's size is not told and no reference is named that tells it.
 */
export function locateFace(
  info: PhotoInfo,
  settings: PrintSettings,
  seen: SeenFace,
  lens?: SeenLens,
): LocatedFace | NoSize {
  const { cornerSdPx } = seen;
  const flat = (point: PointPx): PointPx => (lens === undefined ? point : undistortPoint(lens, point));
  const cornersPx = eachCorner(seen.cornersPx, flat);
  const [topLeft, topRight, bottomRight, bottomLeft] = cornersPx;
  const faceWidthPx = (distanceOf(topLeft, topRight) + distanceOf(bottomLeft, bottomRight)) / 2;
  const faceHeightPx = (distanceOf(topLeft, bottomLeft) + distanceOf(topRight, bottomRight)) / 2;
  const camera = believeCamera(info);
  const lensShare =
    lens === undefined ? LENS_AT_CORNER : lens.k1Sd * (Math.hypot(...camera.centrePx) / lens.focalPx) ** 2;
  const references = seen.references.map((one) => ({
    ...one,
    points: one.points.map(({ px, mm }) => ({ px: flat(px), mm })),
  }));
  const told = settings.references.map((one) =>
    one.kind === 'two-points' ? { ...one, aPx: flat(one.aPx), bPx: flat(one.bPx) } : one,
  );
  const shapeWith = (sdPx: Px) => shapeOfCorners(cornersPx, sdPx, camera);
  const sizeBy = (shape: () => CornerShape) =>
    faceSize(settings.face, told, {
      cornersPx,
      cornerSdPx,
      camera,
      lensShare,
      seen: references,
      faceWidthPx,
      tagDotsPerInch: info.dotsPerInch,
      shape,
    });
  const firstSize = sizeBy(() => shapeWith(cornerSdPx));
  if (firstSize.state === 'no-size') return firstSize;
  // An edge of the outline that is off moves both its corners; where they count one by one, each is √2 as far off.
  const outlinePx = (Math.SQRT2 * EDGE_SD_MM * faceWidthPx) / firstSize.widthMm;
  const shape = shapeWith(combineSd(cornerSdPx, outlinePx));
  const size = sizeBy(() => shape);
  if (size.state === 'no-size') return size;
  const { widthMm, heightMm, sharedRelativeSd } = size;

  const mirrored = settings.face.leadingCorner === 'right';
  const ordered = mirrored ? [topRight, topLeft, bottomLeft, bottomRight] : cornersPx;
  const mmToPx = homographyFromPoints(boxCorners(widthMm, heightMm), ordered);
  const middle = localScale(mmToPx, widthMm / 2, heightMm / 2);

  const edgeSd = (Math.SQRT2 * cornerSdPx) / faceWidthPx;
  // A wrong height of one end tilts the plane: to first order the scale at that end errs by the difference of
  // the two heights' relative errors, while the length of the whole wall does not.
  const tiltSd = (2 * cornerSdPx) / faceHeightPx;
  const ownWidthSd = combineSd(COMMANDED_SIZE_RELATIVE_SD, edgeSd, size.widthRelativeSd);
  const bySeen = seenScales(
    references,
    { cornersPx, cornerSdPx, widthMm, heightMm },
    size,
    camera,
    lensShare,
  );
  const scales: Scale[] = [
    {
      kind: 'face',
      class: 'commanded',
      perCommanded: { value: 1, sd: combineSd(ownWidthSd, sharedRelativeSd) },
    },
    ...toldScales(told, size, {
      pxToMm: invertHomography(mmToPx),
      faceWidthPx,
      cornerSdPx,
      tagDotsPerInch: info.dotsPerInch,
    }),
    ...bySeen.scales,
  ];
  const endSd = (Math.SQRT2 * cornerSdPx) / (heightMm * middle.alongY);
  const sizeTold = settings.face.widthMm !== undefined && settings.face.heightMm !== undefined;
  const geometry: FaceGeometry = {
    cornersPx: seen.cornersPx,
    cornerSdPx,
    ...(lens === undefined ? {} : { lens }),
    widthMm,
    heightMm,
    bottomMm: settings.face.bottomMm,
    mmToPx,
    pxPerMm: { alongWall: middle.alongX, alongHeight: middle.alongY },
    mirrored,
    scales,
    references: bySeen.used.map((one, i) => ({ ...one, points: seen.references[i]?.points ?? [] })),
    lengthRelativeSd: combineSd(ownWidthSd, tiltSd, sharedRelativeSd),
    heightRelativeSd: combineSd(COMMANDED_SIZE_RELATIVE_SD, endSd, size.heightRelativeSd, sharedRelativeSd),
    sharedRelativeSd,
    ...(sizeTold ? { aspect: aspectOf(shape, size) } : {}),
    skewRad: shape.skewRad,
    bottomSdMm: combineSd(EDGE_SD_MM, cornerSdPx / middle.alongY),
    ...(camera.taggedFocalPx === undefined
      ? {}
      : { pose: poseWithSd(mmToPx, camera.taggedFocalPx, camera.centrePx, widthMm, heightMm) }),
  };
  return { state: 'located', geometry };
}

/**
 * Flattens the face at its native resolution.
 * @param codes - The whole upright photo, grey codes.
 * @param info - The photo's header.
 * @param geometry - Where the face is.
 * @returns The face with its image.
 */
export function rectifyFace(codes: CodeImage, info: PhotoInfo, geometry: FaceGeometry): Face {
  const { widthMm, heightMm, mmToPx, lens } = geometry;
  const columns = Math.max(1, Math.round(widthMm * geometry.pxPerMm.alongWall));
  const rows = Math.max(1, Math.round(heightMm * geometry.pxPerMm.alongHeight));
  const corners = boxCorners(widthMm, heightMm).map(([x, y]): PointPx => applyHomography(mmToPx, x, y));
  const image = rectify(
    codes,
    linearLut(info.bits),
    homographyFromPoints(boxCorners(columns, rows), corners),
    rows,
    columns,
    lens,
  );
  return {
    ...geometry,
    image,
    imagePxPerMm: { alongWall: columns / widthMm, alongHeight: rows / heightMm },
    clippedShare: shareAbove(image.data, CLIPPED_LIGHT),
  };
}

/** The corners' height ÷ width for each told one; the outline's own shape is known as well as its size. */
function aspectOf({ heightPerWidth }: CornerShape, { widthMm, heightMm }: FaceSize): Estimate {
  const value = (heightPerWidth.value * widthMm) / heightMm;
  const sd = value * combineSd(heightPerWidth.sd / heightPerWidth.value, COMMANDED_SIZE_RELATIVE_SD);
  return { value, sd };
}

function poseWithSd(
  mmToPx: Float64Array,
  focalPx: Px,
  centrePx: readonly [Px, Px],
  widthMm: Mm,
  heightMm: Mm,
): PlanePose & { distanceSdMm: Mm } {
  const pose = poseOfPlane(mmToPx, focalPx, centrePx, [widthMm / 2, heightMm / 2]);
  return { ...pose, distanceSdMm: FOCAL_RELATIVE_SD * pose.distanceMm };
}

function shareAbove(values: Float32Array, threshold: number): number {
  let count = 0;
  for (let i = 0; i < values.length; i += 1) if ((values[i] ?? 0) >= threshold) count += 1;
  return count / values.length;
}
