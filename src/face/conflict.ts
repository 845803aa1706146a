import { combineSd, type Estimate } from '../core/estimate.js';
import { SIZE_CONFLICT } from '../core/outcome.js';
import type { PrintSettings } from '../print/settle.js';
import type { FaceGeometry } from './rectifyFace.js';
import type { Scale, UsedReference } from './scales.js';

/** What contradicts what, as the number that decided beside the limit it was held against. */
export interface FaceConflict {
  readonly quantity: string;
  readonly value: number;
  readonly limit: number;
}

/** What tells a scale, in words. */
export const SCALE_NAMES: Readonly<Record<Scale['kind'], string>> = {
  face: "the face's size",
  'two-points': 'two points',
  dpi: "the scan's resolution",
  layers: 'the layer lines',
  'id1-card': 'the card',
  ruler: 'the ruler',
  'marker-card': 'the marker card',
};

/**
 * Finds what contradicts each other in what is told of a face and where its corners are: two scales, the height
 * told for the width and the one that the corners show, or a right angle and the corners'. Each counts beyond 1.5 %
 * (of a radian, for the angle) and beyond three times its standard uncertainty.
 * @param geometry - The face.
 * @returns The first contradiction, or undefined when all agree.
 */
export function faceConflict(
  geometry: Pick<FaceGeometry, 'scales' | 'aspect' | 'skewRad' | 'heightMm'>,
): FaceConflict | undefined {
  const { scales } = geometry;
  for (const [i, { kind, perCommanded: a }] of scales.entries()) {
    for (const { kind: other, perCommanded: b } of scales.slice(i + 1)) {
      const apart = a.value / b.value - 1;
      const limit = tolerance(combineSd(a.sd / a.value, b.sd / b.value));
      if (Math.abs(apart) > limit) {
        const quantity = `relative difference of ${SCALE_NAMES[kind]} and ${SCALE_NAMES[other]}`;
        return { quantity, value: Math.abs(apart), limit };
      }
    }
  }
  return shapeConflict(geometry);
}

/**
 * Whether the shape that the corners show contradicts a rectangle of the told height ÷ width.
 * @param geometry - The face.
 * @returns True when it does.
 */
export function shapeConflicts(geometry: Pick<FaceGeometry, 'aspect' | 'skewRad' | 'heightMm'>): boolean {
  return shapeConflict(geometry) !== undefined;
}

function shapeConflict({
  aspect,
  skewRad,
  heightMm,
}: Pick<FaceGeometry, 'aspect' | 'skewRad' | 'heightMm'>): FaceConflict | undefined {
  if (aspect !== undefined && isOff(aspect)) {
    const limit = tolerance(aspect.sd / aspect.value);
    return {
      quantity: 'height of the face by its corners and its width, mm',
      value: heightMm * aspect.value,
      limit: heightMm * (1 + Math.sign(aspect.value - 1) * limit),
    };
  }
  if (Math.abs(skewRad.value) > tolerance(skewRad.sd)) {
    const toDegrees = 180 / Math.PI;
    return {
      quantity: "lean of the face's edges by its corners, degrees off a right angle",
      value: toDegrees * Math.abs(skewRad.value),
      limit: toDegrees * tolerance(skewRad.sd),
    };
  }
  return undefined;
}

/**
 * Whether the corners have the shape of a face that lies on its side: as told, they contradict, but with width and
 * height exchanged they fit.
 * @param geometry - The face.
 * @returns True when they do.
 */
export function looksTurned({
  aspect,
  widthMm,
  heightMm,
}: Pick<FaceGeometry, 'aspect' | 'widthMm' | 'heightMm'>): boolean {
  if (aspect === undefined || !isOff(aspect)) return false;
  const exchanged = (heightMm / widthMm) ** 2;
  return !isOff({ value: exchanged * aspect.value, sd: exchanged * aspect.sd });
}

/** A ratio that should be 1. */
function isOff({ value, sd }: Estimate): boolean {
  return Math.abs(value - 1) > tolerance(sd / value);
}

/**
 * How far two sizes may differ before they contradict each other: 1.5 %, and three standard uncertainties.
 * @param relativeSd - Relative standard uncertainty of their ratio.
 * @returns The largest relative difference.
 */
export function tolerance(relativeSd: number): number {
  return Math.max(SIZE_CONFLICT, 3 * relativeSd);
}

/** What is most likely wrong where sizes contradict each other, with what it would have to be. */
export type Suspect =
  | { readonly what: 'width'; readonly mm: Estimate }
  | {
      readonly what: 'height' | 'layer-height';
      readonly mm: Estimate;
      /** Layers and corners show the face higher or lower by one factor, as where a cover hides or lengthens an edge. */
      readonly orCovered: boolean;
    }
  | { readonly what: 'reference'; readonly kind: UsedReference['kind']; readonly behindMm: Estimate }
  | { readonly what: 'size' };

/**
 * Names what is most likely wrong. Layer lines count the height, the corners' shape ties width and height together,
 * and a reference that stands alone against both lies elsewhere than told.
 * @param geometry - A face with a contradiction.
 * @param settings - The layer height told.
 * @returns The suspect; undefined where nothing singles one out.
 */
export function suspectOf(
  geometry: Pick<FaceGeometry, 'scales' | 'references' | 'aspect' | 'widthMm' | 'heightMm'>,
  settings: Pick<PrintSettings, 'layerHeightMm'>,
): Suspect | undefined {
  const { scales, aspect, widthMm, heightMm, references } = geometry;
  const byLayers = scales.find(({ kind }) => kind === 'layers')?.perCommanded;
  const shapeOff = aspect !== undefined && isOff(aspect);
  const layersOff = byLayers !== undefined && isOff(byLayers);
  if (shapeOff && byLayers !== undefined) {
    if (!layersOff) return { what: 'width', mm: times(inverse(aspect), widthMm) };
    return sameFactor(byLayers, aspect)
      ? { what: 'height', mm: times(byLayers, heightMm), orCovered: true }
      : undefined;
  }
  if (shapeOff) return undefined;
  const thing = references.find(
    ({ kind, use }) =>
      use === 'scale' && scales.some((scale) => scale.kind === kind && isOff(scale.perCommanded)),
  );
  if (layersOff) {
    // A reference that says the same as the layers accuses the size of the face, otherwise the layer height is alone.
    if (thing !== undefined) return { what: 'size' };
    const mm = times(inverse(byLayers), settings.layerHeightMm);
    return { what: 'layer-height', mm, orCovered: aspect === undefined || sameFactor(byLayers, aspect) };
  }
  return thing?.seemsBehindMm === undefined || byLayers === undefined
    ? undefined
    : { what: 'reference', kind: thing.kind, behindMm: thing.seemsBehindMm };
}

function sameFactor(a: Estimate, b: Estimate): boolean {
  const ratio = a.value / b.value;
  return !isOff({ value: ratio, sd: ratio * combineSd(a.sd / a.value, b.sd / b.value) });
}

function inverse({ value, sd }: Estimate): Estimate {
  return { value: 1 / value, sd: sd / value ** 2 };
}

function times({ value, sd }: Estimate, factor: number): Estimate {
  return { value: factor * value, sd: factor * sd };
}
