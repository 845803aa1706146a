import type { GreyImage } from '../core/image.js';
import { median } from '../signal/median.js';

/** What a face looks like in the thirds of its height, from the top, and in those of its width, from the left. */
export interface RegionQuality {
  /** Share of the pixels at the brightest code. */
  readonly clippedShare: readonly (readonly number[])[];
  /**
   * Scatter of a pixel about its neighbours along the wall ÷ brightness: noise, and the finest grain of the wall;
   * undefined where there is no light.
   */
  readonly noise: readonly (readonly (number | undefined)[])[];
}

/** Median of the absolute second difference of white noise ÷ its standard deviation: 0.6745 √6 (normal quantile). */
const OF_WHITE_NOISE = 0.6745 * Math.sqrt(6);
/** The median of a few thousand pixels is ample. */
const STRIDE = 7;

/**
 * Burnt-out light and noise by region.
 * @param image - Linear light, shape (rows, columns).
 * @param clippedLight - Light from which a pixel counts as burnt out.
 * @returns Both for 3 × 3 regions.
 * @see Second differences take out whatever is straight over three pixels: Immerkær, "Fast noise variance estimation",
 * Computer Vision and Image Understanding 64(2), 1996 (from memory), along one direction. Interpolation has averaged
 * the noise of a flattened face, by up to a third.
 */
export function qualityByRegion(image: GreyImage, clippedLight: number): RegionQuality {
  const [rows = 0, columns = 0] = image.shape;
  const regions = [0, 1, 2].map((down) =>
    [0, 1, 2].map((across) =>
      qualityOf(
        image,
        [Math.floor((down * rows) / 3), Math.floor(((down + 1) * rows) / 3)],
        [Math.floor((across * columns) / 3), Math.floor(((across + 1) * columns) / 3)],
        clippedLight,
      ),
    ),
  );
  return {
    clippedShare: regions.map((row) => row.map((one) => one.clippedShare)),
    noise: regions.map((row) => row.map((one) => one.noise)),
  };
}

function qualityOf(
  image: GreyImage,
  [top, bottom]: readonly [number, number],
  [left, right]: readonly [number, number],
  clippedLight: number,
): { readonly clippedShare: number; readonly noise: number | undefined } {
  let [clipped, sum] = [0, 0];
  const differences: number[] = [];
  const { data, offset } = image;
  const [rowStride = 0, step = 0] = image.stride;
  const count = Math.max(0, bottom - top) * Math.max(0, right - left);
  // Every so many px of all rows, one after the other.
  let next = left + STRIDE - 1;
  for (let row = top; row < bottom; row += 1) {
    const start = offset + row * rowStride;
    for (let column = left, at = start + left * step; column < right; column += 1, at += step) {
      const light = data[at] ?? 0;
      if (light >= clippedLight) clipped += 1;
      sum += light;
    }
    for (; next < right; next += STRIDE) {
      const at = start + next * step;
      if (next > left && next + 1 < right) {
        differences.push(Math.abs((data[at - step] ?? 0) - 2 * (data[at] ?? 0) + (data[at + step] ?? 0)));
      }
    }
    next -= right - left;
  }
  return {
    clippedShare: clipped / Math.max(1, count),
    noise:
      differences.length > 0 && sum > 0 ? median(differences) / OF_WHITE_NOISE / (sum / count) : undefined,
  };
}
