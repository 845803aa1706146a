import type { HeatRow } from '../core/heatRow.js';
import type { Mm, Px } from '../core/units.js';
import { heatColour } from './charts/heatColours.js';

/** A heat map as a picture: sRGB codes and opacity, interleaved RGBA, the top row first. */
export interface HeatRaster {
  readonly data: Uint8Array;
  readonly widthPx: Px;
  readonly heightPx: Px;
  /** From the leading corner to the picture's right edge. */
  readonly widthMm: Mm;
  /** Relative contrast of the strongest colour. */
  readonly limit: number;
}

/** Fine enough that neighbours run together on paper, and a height's lower and upper end lie right to 0.3 mm. */
const WIDTH_PX = 420;
const HEIGHT_PX = 240;
/** A single scratch must not take all colour from the ripples: this share may lie beyond the scale. */
const BEYOND = 0.02;

/**
 * Draws contrast over height and distance. What was not read stays transparent.
 * @param rows - One for each height, in any order.
 * @param face - From where to where the picture reaches, and the face's width.
 * @returns The picture; undefined when there is nothing to draw.
 */
export function heatRaster(
  rows: readonly HeatRow[],
  face: { readonly bottomMm: Mm; readonly topMm: Mm; readonly widthMm: Mm },
): HeatRaster | undefined {
  const sizes = rows.flatMap(({ contrast }) => Array.from(contrast, Math.abs)).sort((a, b) => a - b);
  const limit = sizes[Math.floor((1 - BEYOND) * (sizes.length - 1))];
  if (limit === undefined || !(limit > 0)) return undefined;
  const widthPx = columnsOf(rows, face.widthMm);
  const data = new Uint8Array(4 * widthPx * HEIGHT_PX);
  const sorted = rows.toSorted((a, b) => a.heightMm - b.heightMm);
  const drawn = sorted.map((row) => binned(row, widthPx, face.widthMm));
  const halfMm = halfBand(sorted);
  for (let y = 0; y < HEIGHT_PX; y += 1) {
    const heightMm = face.topMm - ((y + 0.5) / HEIGHT_PX) * (face.topMm - face.bottomMm);
    const at = sorted.findIndex((row) => Math.abs(row.heightMm - heightMm) <= halfMm);
    drawn[at]?.forEach((contrast, x) => {
      if (contrast !== undefined) data.set([...heatColour(contrast / limit), 255], 4 * (y * widthPx + x));
    });
  }
  return { data, widthPx, heightPx: HEIGHT_PX, widthMm: face.widthMm, limit };
}

/** So many columns that each holds a sample at least. */
function columnsOf(rows: readonly HeatRow[], widthMm: Mm): Px {
  const { positionsMm = [] } = rows[0] ?? {};
  const steps = Array.from(positionsMm, (x, i) => x - (positionsMm[i - 1] ?? x)).slice(1);
  const stepMm = steps.toSorted((a, b) => a - b)[Math.floor(steps.length / 2)] ?? widthMm;
  return Math.max(1, Math.min(WIDTH_PX, Math.floor(widthMm / (1.5 * stepMm))));
}

/** Mean contrast in each column; undefined where nothing was read. */
function binned({ positionsMm, contrast }: HeatRow, widthPx: Px, widthMm: Mm): (number | undefined)[] {
  const sums = new Float64Array(widthPx);
  const counts = new Uint32Array(widthPx);
  Array.from(contrast).forEach((value, i) => {
    const x = Math.floor(((positionsMm[i] ?? -1) / widthMm) * widthPx);
    if (x < 0 || x >= widthPx) return;
    sums[x] = (sums[x] ?? 0) + value;
    counts[x] = (counts[x] ?? 0) + 1;
  });
  return Array.from(sums, (sum, x) => (counts[x] ? sum / counts[x] : undefined));
}

/** Half of the usual distance of two heights; a height without another reaches half a millimetre. */
function halfBand(sorted: readonly HeatRow[]): Mm {
  const steps = sorted.slice(1).map(({ heightMm }, i) => heightMm - (sorted[i]?.heightMm ?? heightMm));
  const usual = steps.sort((a, b) => a - b)[Math.floor(steps.length / 2)];
  // A little more, so that no seam shows between two.
  return usual === undefined ? 0.5 : 0.51 * usual;
}
