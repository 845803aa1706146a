import type { CodeImage, ColourImage, CornersPx } from '../core/image.js';
import { once } from '../core/once.js';
import { fitFaceEdges, type FaceEdges, type FaceEdgeSearch } from './faceEdges.js';
import { colourUniformity, goingOn, layerTexture } from './faceLook.js';
import { shapesOf, type Shapes } from './findQuads.js';
import { otherEdges } from './otherEdges.js';
import { eachCorner } from './shape.js';

/** The surface of a candidate. */
export interface Look {
  /** See `layerTexture`. */
  readonly texture: number | undefined;
  /** See `colourUniformity`. */
  readonly uniform: number;
  /** See `goingOn`. */
  readonly goingOn: readonly number[];
}

/** The edges of a candidate at full resolution. */
export interface Fit {
  readonly edges: FaceEdges;
  /** See `otherEdges`. */
  readonly others: () => readonly FaceEdges[];
}

/**
 * What a photo shows at some corners, whatever is looked for: it is kept, since a photo in which the told face is not
 * found is searched again for another one.
 */
export interface Sight {
  readonly shapes: Shapes;
  readonly lookAt: (cornersPx: CornersPx) => Look;
  /** Undefined when an edge is not there. */
  readonly fitAt: (cornersPx: CornersPx) => Fit | undefined;
}

/** The photo that is looked at. */
export interface Seen extends Pick<FaceEdgeSearch, 'lut' | 'camera'> {
  readonly shrunk: ColourImage;
  readonly codes: CodeImage;
}

/** How far coarse corners may be off, px of the shrunk copy. */
const COARSE_REACH = 2.5;

/**
 * Looks at a photo.
 * @param photo - The photo; not modified.
 * @returns What it shows, each thing looked at once.
 */
export function sightOf({ shrunk, codes, lut, camera }: Seen): Sight {
  const scale = (codes.shape[1] ?? 0) / shrunk.widthPx;
  return {
    shapes: shapesOf(shrunk),
    lookAt: kept((cornersPx) => ({
      texture: layerTexture(codes, cornersPx),
      uniform: colourUniformity(
        shrunk,
        eachCorner(cornersPx, ([x, y]) => [x / scale, y / scale]),
      ),
      goingOn: goingOn(codes, shrunk, cornersPx),
    })),
    fitAt: kept((cornersPx) => {
      const edges = fitFaceEdges(codes, cornersPx, { lut, camera, reachPx: COARSE_REACH * scale });
      return edges && { edges, others: once(() => otherEdges(codes, lut, edges)) };
    }),
  };
}

/** The same again for the same corners. */
function kept<T>(make: (cornersPx: CornersPx) => T): (cornersPx: CornersPx) => T {
  const known = new Map<string, { readonly value: T }>();
  return (cornersPx) => {
    const key = cornersPx.join();
    const one = known.get(key) ?? { value: make(cornersPx) };
    known.set(key, one);
    return one.value;
  };
}
