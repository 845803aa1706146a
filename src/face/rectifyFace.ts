import { InputError } from '../core/errors.js';
import { combineSd, type Estimate } from '../core/estimate.js';
import type { CornersPx, GreyImage, PointPx } from '../core/image.js';
import type { Mm, Px } from '../core/units.js';
import {
  applyHomography,
  homographyFromPoints,
  invertHomography,
  localScale,
} from '../imaging/homography.js';
import { poseOfPlane, type PlanePose } from '../imaging/pose.js';
import { linearLut } from '../imaging/tone.js';
import { rectify } from '../imaging/warp.js';
import { decodeRegion, type PhotoInfo, type RegionPx } from '../photo/decode.js';
import type { PrintSettings } from '../print/settle.js';
import { believeCamera, FOCAL_RELATIVE_SD } from './camera.js';
import { checkCorners } from './corners.js';
import { faceSize, type FaceSize } from './faceSize.js';
import { COMMANDED_SIZE_RELATIVE_SD, referenceScales, type Scale } from './scales.js';
import { shapeOfCorners, type CornerShape } from './shape.js';

/** Where the face is in the photo and how large it is, before its pixels are decoded. */
export interface FaceGeometry {
  readonly cornersPx: CornersPx;
  /** Standard uncertainty of each corner's coordinates, px. */
  readonly cornerSdPx: Px;
  /** Commanded size of the face, mm. */
  readonly widthMm: Mm;
  readonly heightMm: Mm;
  /** Height of the face's lower edge above the bed, mm. */
  readonly bottomMm: Mm;
  /** Homography from face mm (x from the leading corner, y down from the top edge) to upright px. */
  readonly mmToPx: Float64Array;
  /** Resolution in the middle of the face, px for each commanded mm. */
  readonly pxPerMm: { readonly alongWall: number; readonly alongHeight: number };
  /** The leading corner is on the right in the photo, so the rectified face is mirrored. */
  readonly mirrored: boolean;
  readonly scales: readonly Scale[];
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
 * How well a person puts a corner by hand, px for each coordinate: about two px at ordinary zoom
 * (common practice, no source).
 */
const GIVEN_CORNER_SD_PX = 2;

/**
 * The printed outline lies within 0.3 mm of the commanded box (first layer, rounded edges): half of that
 * as a standard uncertainty of where an edge is.
 */
const EDGE_SD_MM = 0.15;

/** Brightness from which a pixel counts as clipped, linear light. */
const CLIPPED_LIGHT = 0.995;

/** Margin decoded around the face, px: the cubic kernel reaches two px beyond it. */
const MARGIN_PX = 4;

/**
 * Works out the face's geometry from its four corners and its size.
 * @param info - The photo's header.
 * @param settings - The print's settings; `facePx` and `face` are used.
 * @returns Geometry with scales; nothing is decoded.
 * @throws {InputError} `corners-missing`, `corners-outside`, `corners-crossed`, or `record-field` when the
 * face's size is not told and no physical reference tells it.
 */
export function locateFace(info: PhotoInfo, settings: PrintSettings): FaceGeometry {
  const cornersPx = settings.facePx;
  if (cornersPx === undefined) {
    throw new InputError(
      'corners-missing',
      'The four corners of the face are not given.',
      'Add --face "x,y x,y x,y x,y": top-left, top-right, bottom-right, bottom-left of the tower as printed, in px of the upright photo.',
      'facePx',
    );
  }
  checkCorners(cornersPx, info.widthPx, info.heightPx);
  const [topLeft, topRight, bottomRight, bottomLeft] = cornersPx;
  const faceWidthPx = (lengthPx(topLeft, topRight) + lengthPx(bottomLeft, bottomRight)) / 2;
  const faceHeightPx = (lengthPx(topLeft, bottomLeft) + lengthPx(topRight, bottomRight)) / 2;
  const camera = believeCamera(info);
  const shapeWith = (cornerSdPx: Px) => shapeOfCorners(cornersPx, cornerSdPx, camera);
  const sizeBy = (shape: () => CornerShape) =>
    faceSize(settings.face, settings.references, {
      cornersPx,
      clickSdPx: GIVEN_CORNER_SD_PX,
      faceWidthPx,
      tagDotsPerInch: info.dotsPerInch,
      shape,
    });
  // An edge of the outline that is off moves both its corners; where they count one by one, each is √2 as far off.
  const outlinePx =
    (Math.SQRT2 * EDGE_SD_MM * faceWidthPx) / sizeBy(() => shapeWith(GIVEN_CORNER_SD_PX)).widthMm;
  const shape = shapeWith(combineSd(GIVEN_CORNER_SD_PX, outlinePx));
  const size = sizeBy(() => shape);
  const { widthMm, heightMm, sharedRelativeSd } = size;

  const mirrored = settings.face.leadingCorner === 'right';
  const ordered = mirrored ? [topRight, topLeft, bottomLeft, bottomRight] : cornersPx;
  const mmToPx = homographyFromPoints(boxCorners(widthMm, heightMm), ordered);
  const middle = localScale(mmToPx, widthMm / 2, heightMm / 2);

  const edgeSd = (Math.SQRT2 * GIVEN_CORNER_SD_PX) / faceWidthPx;
  // A wrong height of one end tilts the plane: to first order the scale at that end errs by the difference of
  // the two heights' relative errors, while the length of the whole wall does not.
  const tiltSd = (2 * GIVEN_CORNER_SD_PX) / faceHeightPx;
  const ownWidthSd = combineSd(COMMANDED_SIZE_RELATIVE_SD, edgeSd, size.widthRelativeSd);
  const scales: Scale[] = [
    {
      kind: 'face',
      class: 'commanded',
      perCommanded: { value: 1, sd: combineSd(ownWidthSd, sharedRelativeSd) },
    },
    ...referenceScales(
      settings.references,
      invertHomography(mmToPx),
      faceWidthPx,
      size,
      GIVEN_CORNER_SD_PX,
      info.dotsPerInch,
    ),
  ];
  const endSd = (Math.SQRT2 * GIVEN_CORNER_SD_PX) / (heightMm * middle.alongY);
  const told = settings.face.widthMm !== undefined && settings.face.heightMm !== undefined;
  return {
    cornersPx,
    cornerSdPx: GIVEN_CORNER_SD_PX,
    widthMm,
    heightMm,
    bottomMm: settings.face.bottomMm,
    mmToPx,
    pxPerMm: { alongWall: middle.alongX, alongHeight: middle.alongY },
    mirrored,
    scales,
    lengthRelativeSd: combineSd(ownWidthSd, tiltSd, sharedRelativeSd),
    heightRelativeSd: combineSd(COMMANDED_SIZE_RELATIVE_SD, endSd, size.heightRelativeSd, sharedRelativeSd),
    sharedRelativeSd,
    ...(told ? { aspect: aspectOf(shape, size) } : {}),
    skewRad: shape.skewRad,
    bottomSdMm: combineSd(EDGE_SD_MM, GIVEN_CORNER_SD_PX / middle.alongY),
    ...(camera.taggedFocalPx === undefined
      ? {}
      : { pose: poseWithSd(mmToPx, camera.taggedFocalPx, camera.centrePx, widthMm, heightMm) }),
  };
}

/**
 * Decodes the face's part of the photo and flattens it at its native resolution.
 * @param bytes - The photo's bytes.
 * @param info - The photo's header.
 * @param geometry - Where the face is.
 * @returns The face with its image.
 * @throws {InputError} `photo-damaged`.
 */
export async function rectifyFace(bytes: Uint8Array, info: PhotoInfo, geometry: FaceGeometry): Promise<Face> {
  const region = regionAround(geometry.cornersPx, info);
  const codes = await decodeRegion(bytes, info, region);
  const columns = Math.max(1, Math.round(geometry.widthMm * geometry.pxPerMm.alongWall));
  const rows = Math.max(1, Math.round(geometry.heightMm * geometry.pxPerMm.alongHeight));
  const { widthMm, heightMm, mmToPx } = geometry;
  const inRegion = boxCorners(widthMm, heightMm).map(([x, y]): PointPx => {
    const [px, py] = applyHomography(mmToPx, x, y);
    return [px - region.left, py - region.top];
  });
  const image = rectify(
    codes,
    linearLut(info.bits),
    homographyFromPoints(boxCorners(columns, rows), inRegion),
    rows,
    columns,
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

/** Corners of an upright box, clockwise from the top left. */
function boxCorners(width: number, height: number): readonly PointPx[] {
  return [
    [0, 0],
    [width, 0],
    [width, height],
    [0, height],
  ];
}

function regionAround(corners: CornersPx, info: PhotoInfo): RegionPx {
  const xs = corners.map(([x]) => x);
  const ys = corners.map(([, y]) => y);
  const left = Math.max(0, Math.floor(Math.min(...xs)) - MARGIN_PX);
  const top = Math.max(0, Math.floor(Math.min(...ys)) - MARGIN_PX);
  const right = Math.min(info.widthPx, Math.ceil(Math.max(...xs)) + MARGIN_PX);
  const bottom = Math.min(info.heightPx, Math.ceil(Math.max(...ys)) + MARGIN_PX);
  return { left, top, width: right - left, height: bottom - top };
}

function lengthPx(a: PointPx, b: PointPx): Px {
  return Math.hypot(b[0] - a[0], b[1] - a[1]);
}

function shareAbove(values: Float32Array, threshold: number): number {
  let count = 0;
  for (let i = 0; i < values.length; i += 1) if ((values[i] ?? 0) >= threshold) count += 1;
  return count / values.length;
}
