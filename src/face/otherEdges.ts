import type { CodeImage } from '../core/image.js';
import { distanceOf } from '../core/vector.js';
import type { Px } from '../core/units.js';
import type { EdgeLine } from '../imaging/edgeLine.js';
import { fitEdgeLine } from '../imaging/fitEdgeLine.js';
import { percentile } from '../signal/median.js';
import { ontoLine, profileAcross } from './acrossEdge.js';
import { faceOf, type FaceEdges } from './faceEdges.js';

/** How far from an edge another one is looked for, as a share of the face's height, and px on top (chosen on drawn scenes). */
const RIM = { share: 0.025, px: 4 } as const;
/** Another edge's gradient against that of the layers or the ground there, and against the fitted edge's. */
const OUT_OF_TEXTURE = 3;
const OF_FITTED_EDGE = 0.25;
/** Two edges nearer than this many sigmas of the blur are one in the profile. */
const APART_SIGMAS = 2.5;
/** Support that another edge needs. */
const LEAST_SUPPORT = 0.6;
/** Once a profile shows an edge, it is not looked for further off than this. */
const NEAR_PX = 2.5;

/**
 * Faces that the same fit allows: beside the upper or the lower edge there may run another one, where a rim, a lid, a
 * brim or what the tower stands on shows a little.
 * @param codes - Grey codes of the whole photo.
 * @param lut - Linear light of each code.
 * @param face - The fitted face.
 * @returns For either edge the strongest edge further in and the strongest one further out, where there are any.
 */
export function otherEdges(codes: CodeImage, lut: Float32Array, face: FaceEdges): FaceEdges[] {
  const [a, b, c, d] = face.cornersPx;
  const heightPx = (distanceOf(b, c) + distanceOf(d, a)) / 2;
  const rimPx = Math.ceil(RIM.share * heightPx + RIM.px);
  return face.edges.flatMap((edge, side) => {
    const [from, to] = [face.cornersPx[side], face.cornersPx[(side + 1) % 4]];
    // Ripples and the rounding of corners make lines beside upright edges that are none.
    if (side % 2 === 1 || from === undefined || to === undefined) return [];
    return placesBeside(codes, lut, edge, rimPx).flatMap((insidePx) => {
      const [start, end] = [ontoLine(edge, from, -insidePx), ontoLine(edge, to, -insidePx)];
      const line = fitEdgeLine(codes, lut, start, end, { reachPx: NEAR_PX });
      if (line === undefined || line.support < LEAST_SUPPORT) return [];
      const [t, r, m, l] = face.edges.map((one, k) => (k === side ? line : one));
      return t && r && m && l ? [faceOf([t, r, m, l])] : [];
    });
  });
}

/** How far inside an edge brightness changes along the whole of it, at most once on either side; outside is negative. */
function placesBeside(codes: CodeImage, lut: Float32Array, edge: EdgeLine, rimPx: Px): readonly Px[] {
  const profile = profileAcross(codes, lut, edge, { outsidePx: 2 * rimPx, insidePx: 2 * rimPx });
  if (profile === undefined) return [];
  const gradient = profile.map((value, i) => Math.abs((profile[i + 1] ?? value) - (profile[i - 1] ?? value)));
  gradient[0] = 0;
  gradient[gradient.length - 1] = 0;
  const middle = 2 * rimPx;
  const atEdge = Math.max(...gradient.slice(middle - 2, middle + 3));
  const nearest = Math.max(2, Math.ceil(APART_SIGMAS * edge.blurPx));
  return [1, -1].flatMap((inwards) => {
    const at = (px: Px) => gradient[middle + inwards * px] ?? 0;
    const beyond = Array.from({ length: rimPx - 2 }, (_, i) => at(rimPx + i));
    // A dark face before a bright ground has much fainter edges on itself than at its end.
    const ofEdge = inwards > 0 ? 0 : OF_FITTED_EDGE * atEdge;
    const least = Math.max(OUT_OF_TEXTURE * percentile(Float64Array.from(beyond), 90), ofEdge);
    let best: Px | undefined;
    for (let px = nearest; px <= rimPx; px += 1) {
      const here = at(px);
      if (here < least || here < at(px - 1) || here < at(px + 1)) continue;
      if (best === undefined || here > at(best)) best = px;
    }
    return best === undefined ? [] : [inwards * best];
  });
}
