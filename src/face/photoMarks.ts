import type { PointPx } from '../core/image.js';
import type { Mm } from '../core/units.js';
import { applyHomography } from '../imaging/homography.js';
import { distortPoint } from '../imaging/lens.js';
import { layerAt } from '../print/ladder.js';
import type { PrintSettings } from '../print/settle.js';
import type { FaceGeometry } from './rectifyFace.js';

/** Marks to draw over the photo, which show how the face was read. */
export interface PhotoMarks {
  /** Ticks at the leading edge: from the edge outwards, with the number of the layer there. */
  readonly layers: readonly { readonly layer: number; readonly edgePx: PointPx; readonly outPx: PointPx }[];
  /** A length along the wall. */
  readonly bar: { readonly lengthMm: Mm; readonly fromPx: PointPx; readonly toPx: PointPx };
}

/** Layers between ticks, and lengths of the bar. */
const STEPS = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000] as const;
const MOST_TICKS = 8;
/** Of the face's width: how far a tick stands out, where the bar begins, and how long it is at most. */
const TICK = 0.025;
const BAR_AT = 0.05;
const LONGEST_BAR = 0.45;

/**
 * Where in the photo some layers and a length lie.
 * @param geometry - The face.
 * @param settings - The print's settings: layers and their height.
 * @returns Positions in the upright photo, px.
 */
export function photoMarks(geometry: FaceGeometry, settings: PrintSettings): PhotoMarks {
  const { widthMm, heightMm, bottomMm, mmToPx, lens } = geometry;
  const { layerHeightMm, firstLayerHeightMm } = settings;
  const inPhoto = (xMm: Mm, yMm: Mm): PointPx => {
    const flat = applyHomography(mmToPx, xMm, yMm);
    return lens === undefined ? flat : distortPoint(lens, flat);
  };
  const layers = heightMm / layerHeightMm;
  const step = STEPS.find((one) => layers / one <= MOST_TICKS) ?? STEPS[STEPS.length - 1] ?? 1;
  const top = layerAt(bottomMm + heightMm, layerHeightMm, firstLayerHeightMm);
  const first = step * Math.ceil(layerAt(Math.max(0, bottomMm), layerHeightMm, firstLayerHeightMm) / step);
  const numbers: number[] = [];
  for (let layer = first; layer < top; layer += step) numbers.push(layer);
  const longest = STEPS.filter((one) => one <= LONGEST_BAR * widthMm);
  const lengthMm = longest[longest.length - 1] ?? widthMm;
  return {
    layers: numbers.map((layer) => {
      // The lower edge of the layer: the first one may have a height of its own.
      const atMm = layer === 0 ? 0 : firstLayerHeightMm + (layer - 1) * layerHeightMm;
      const yMm = heightMm - (atMm - bottomMm);
      return { layer, edgePx: inPhoto(0, yMm), outPx: inPhoto(-TICK * widthMm, yMm) };
    }),
    bar: {
      lengthMm,
      fromPx: inPhoto(BAR_AT * widthMm, (1 - BAR_AT) * heightMm),
      toPx: inPhoto(BAR_AT * widthMm + lengthMm, (1 - BAR_AT) * heightMm),
    },
  };
}
