import type { Px } from '../core/units.js';
import type { EdgeLine } from '../imaging/edgeLine.js';
import { median } from '../signal/median.js';
import type { LayerLines } from './findLayers.js';

/** How sharp the photo is at the face, as the Gaussian width of its blur. */
export interface FaceBlur {
  /** In the middle of what is found over the face, px. */
  readonly blurPx: Px;
  /** In the thirds of the height, from the top, and in those of the width, from the left, px. */
  readonly byRegion: readonly (readonly Px[])[];
}

/** The middles of thirds of a side. */
const MIDDLES = [1 / 6, 1 / 2, 5 / 6] as const;

/**
 * Blur over a face: its four edges tell how much, and its layer lines how much more than where they are clearest.
 * Both can only tell too much (an edge of the print is rounded, lines are fainter where light falls along them), so the
 * smaller counts.
 * @param edges - Top, right, bottom and left edge; undefined where there is none to be fitted.
 * @param layers - The layer lines, where they are resolved.
 * @returns The blur, or undefined when no edge tells it.
 * @see Fourier transform of a Gaussian: of lines of pitch p px a blur of s leaves exp(−2π² (s/p)²).
 */
export function blurOfFace(
  edges: readonly (Pick<EdgeLine, 'blurPx'> | undefined)[],
  layers?: Pick<LayerLines, 'pxPerLayer' | 'lines'>,
): FaceBlur | undefined {
  const known = edges.flatMap((edge) => (edge === undefined ? [] : [edge.blurPx]));
  if (known.length === 0) return undefined;
  const sharpest = Math.min(...known);
  const clearest = Math.max(0, ...(layers?.lines.contrastByRegion.flat() ?? []));
  const byRegion = MIDDLES.map((down, row) =>
    MIDDLES.map((across, column) => {
      const byEdges = betweenEdges(edges, across, down);
      const contrast = layers?.lines.contrastByRegion[row]?.[column] ?? 0;
      if (layers === undefined || contrast <= 0) return byEdges;
      const more = (layers.pxPerLayer / Math.PI) ** 2 * (Math.log(clearest / contrast) / 2);
      return Math.min(byEdges, Math.sqrt(sharpest ** 2 + more));
    }),
  );
  return { blurPx: median(byRegion.flat()), byRegion };
}

/** Squares of the edges' blur, weighted by the inverse square of their distance. */
function betweenEdges(
  edges: readonly (Pick<EdgeLine, 'blurPx'> | undefined)[],
  across: number,
  down: number,
): Px {
  const distances = [down, 1 - across, 1 - down, across];
  let [sum, weights] = [0, 0];
  edges.forEach((edge, i) => {
    const distance = distances[i];
    if (edge === undefined || distance === undefined) return;
    sum += (edge.blurPx / distance) ** 2;
    weights += 1 / distance ** 2;
  });
  return Math.sqrt(sum / weights);
}
