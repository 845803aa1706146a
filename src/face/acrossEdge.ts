import type { CodeImage, PointPx } from '../core/image.js';
import type { Px } from '../core/units.js';
import type { EdgeLine } from '../imaging/edgeLine.js';

/**
 * Mean brightness along an edge at each px across it.
 * @param codes - Grey codes of the whole photo.
 * @param lut - Linear light of each code.
 * @param edge - The edge, its points where the photo shows them.
 * @param reach - How far to both sides, whole px.
 * @returns Linear light from the outermost place inwards; undefined at the photo's border.
 */
export function profileAcross(
  codes: CodeImage,
  lut: Float32Array,
  { points, normal }: Pick<EdgeLine, 'points' | 'normal'>,
  { outsidePx, insidePx }: { readonly outsidePx: Px; readonly insidePx: Px },
): Float64Array | undefined {
  const [rows, columns] = [codes.shape[0] ?? 0, codes.shape[1] ?? 0];
  const profile = new Float64Array(outsidePx + insidePx);
  for (const [x, y] of points) {
    for (let i = 0; i < profile.length; i += 1) {
      const column = Math.floor(x + (outsidePx - i) * normal[0]);
      const row = Math.floor(y + (outsidePx - i) * normal[1]);
      if (row < 0 || column < 0 || row >= rows || column >= columns) return undefined;
      const at = codes.offset + row * (codes.stride[0] ?? 0) + column * (codes.stride[1] ?? 0);
      profile[i] = (profile[i] ?? 0) + (lut[codes.data[at] ?? 0] ?? 0) / points.length;
    }
  }
  return profile;
}

/**
 * The foot of a point on an edge's line, moved outwards.
 * @param edge - The edge.
 * @param point - Any point, px.
 * @param outwardsPx - How far off the line, px.
 * @returns The point, px.
 */
export function ontoLine(
  { normal, offsetPx }: Pick<EdgeLine, 'normal' | 'offsetPx'>,
  [x, y]: PointPx,
  outwardsPx: Px,
): PointPx {
  const move = offsetPx + outwardsPx - normal[0] * x - normal[1] * y;
  return [x + move * normal[0], y + move * normal[1]];
}
