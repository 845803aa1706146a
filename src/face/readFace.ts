import type { CodeImage, CornersPx } from '../core/image.js';
import type { Px } from '../core/units.js';
import { untoldK1Sd } from '../imaging/lens.js';
import type { PhotoInfo } from '../photo/decode.js';
import type { PrintSettings } from '../print/settle.js';
import { blurOfFace } from './blur.js';
import { believeCamera, type CameraBelief } from './camera.js';
import { countLayers, type CountedLayers } from './countLayers.js';
import { estimateLens } from './estimateLens.js';
import type { NoSize } from './faceSize.js';
import { findLayers } from './findLayers.js';
import { lensFromLayers } from './lensFromLayers.js';
import { CLIPPED_LIGHT, locateFace, rectifyFace, type Face, type SeenLens } from './rectifyFace.js';
import { qualityByRegion, type RegionQuality } from './regions.js';
import type { SeenFace } from './seenFace.js';

/** A face that can be measured, with the layer lines that were counted on it. */
export interface ReadFace {
  readonly state: 'read';
  readonly face: Face;
  /** Undefined where they are not resolved. */
  readonly layerLines: CountedLayers | undefined;
  /** Quality in the thirds of its height, from the top, and of its width, from the leading corner. */
  readonly regions: RegionQuality & { readonly blurPx?: readonly (readonly Px[])[] };
}

/**
 * Flattens a face and counts its layers. Where edges, cards or the layer lines themselves show that the lens bends
 * straight lines, that is taken out, and the face flattened anew.
 * @param codes - The whole upright photo, grey codes.
 * @param info - The photo's header.
 * @param settings - The print's settings.
 * @param seen - Where face and references are.
 * @returns The face; or that there is no size, where that is to be taken from a reference that was not found.
 * @throws {InputError} `record-field` when the face's size is not told and no reference is named that tells it.
 */
export function readFace(
  codes: CodeImage,
  info: PhotoInfo,
  settings: PrintSettings,
  seen: SeenFace,
): ReadFace | NoSize {
  const camera = believeCamera(info);
  const first = flatten(codes, info, settings, seen);
  if (first.state === 'no-size') return first;
  const lens = lensOf(first, seen, camera);
  const second = lens === undefined ? undefined : flatten(codes, info, settings, seen, lens);
  return finished(second?.state === 'flat' ? second : first, settings, seen);
}

interface FlatFace {
  readonly state: 'flat';
  readonly face: Face;
  readonly layers: ReturnType<typeof findLayers>;
}

function flatten(
  codes: CodeImage,
  info: PhotoInfo,
  settings: PrintSettings,
  seen: SeenFace,
  lens?: SeenLens,
): FlatFace | NoSize {
  const located = locateFace(info, settings, seen, lens);
  if (located.state === 'no-size') return located;
  const face = rectifyFace(codes, info, located.geometry);
  return { state: 'flat', face, layers: findLayers(face, settings.layerHeightMm) };
}

function finished({ face, layers }: FlatFace, settings: PrintSettings, seen: SeenFace): ReadFace {
  const [top, right, bottom, left] = seen.edges;
  // The flattened face begins at the leading corner.
  const blur = blurOfFace(face.mirrored ? [top, left, bottom, right] : [top, right, bottom, left], layers);
  const regions = { ...qualityByRegion(face.image, CLIPPED_LIGHT), ...(blur && { blurPx: blur.byRegion }) };
  const sharp = { ...face, ...(blur && { blurPx: blur.blurPx }) };
  const read =
    layers === undefined ? { face: sharp, layerLines: undefined } : countLayers(sharp, layers, settings);
  return { state: 'read', ...read, regions };
}

/** The lens, where edges, cards and layer lines together show that it bends straight lines. */
function lensOf(
  { face, layers }: FlatFace,
  seen: SeenFace,
  { focals, centrePx }: CameraBelief,
): SeenLens | undefined {
  const focalPx = focals[0]?.focalPx;
  if (focalPx === undefined) return undefined;
  const [topLeft, topRight, bottomRight, bottomLeft] = seen.cornersPx;
  const flattened: CornersPx = face.mirrored ? [topRight, topLeft, bottomLeft, bottomRight] : seen.cornersPx;
  const byLayers = layers && lensFromLayers(layers, flattened, centrePx, focalPx);
  const clues = byLayers === undefined ? seen.lensClues : [...seen.lensClues, byLayers];
  const { k1, seen: isSeen } = estimateLens(
    seen.straightEdges,
    centrePx,
    focalPx,
    untoldK1Sd(centrePx, focalPx),
    clues,
  );
  return isSeen ? { k1: k1.value, k1Sd: k1.sd, centrePx, focalPx } : undefined;
}
