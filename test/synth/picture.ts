import { fastNormals } from './random.js';
import type { FaceRecipe, Picture } from './recipe.js';
import { SHOT_SHARE } from './signal.js';

/** Where a pixel of the flattened photo lies on the true face. */
export interface PlaceOnFace {
  /** Mm from the leading corner for each column, at one height. */
  readonly columnsMm: (heightMm: number, columns: number) => Float64Array;
  /** Height above the lower edge for a row, in the part of the wall where ripples are. */
  readonly rowMm: (row: number, rows: number) => number;
}

/** Ripples lie in this part of the wall: there the rows are put right. */
const RIPPLES_AT = 0.15;

/**
 * Places on the face under clicked corners, bow and wrong length, bilinear between the corners.
 * @param recipe - The face.
 * @param picture - How its photo was taken.
 * @returns Where columns and rows lie.
 */
export function placeOf(recipe: FaceRecipe, picture: Picture | undefined): PlaceOnFace {
  const { widthMm, heightMm, pxPerMm } = recipe;
  const [tl, tr, br, bl] = picture?.clicksPx ?? NO_CLICKS;
  const longer = picture?.longer ?? 0;
  const bowMm = picture?.bowMm ?? 0;
  return {
    columnsMm: (atMm, columns) => {
      const v = 1 - atMm / heightMm;
      const left = ((1 - v) * tl![0] + v * bl![0]) / pxPerMm;
      const right = ((1 - v) * tr![0] + v * br![0]) / pxPerMm;
      const bow = bowMm * (1 - (2 * v - 1) ** 2);
      return Float64Array.from({ length: columns }, (_, i) => {
        const u = (i + 0.5) / columns;
        return u * widthMm * (1 + longer) + left * (1 - u) + right * u + bow * (1 - 2 * u);
      });
    },
    rowMm: (row, rows) => {
      const v = (row + 0.5) / rows;
      const top = (1 - RIPPLES_AT) * tl![1] + RIPPLES_AT * tr![1];
      const bottom = (1 - RIPPLES_AT) * bl![1] + RIPPLES_AT * br![1];
      const down = ((1 - v) * top + v * bottom) / pxPerMm;
      return (1 - v) * heightMm * (1 + longer) - down - (picture?.raisedMm ?? 0);
    },
  };
}

const NO_CLICKS: Picture['clicksPx'] = [
  [0, 0],
  [0, 0],
  [0, 0],
  [0, 0],
];
/** Linear light of the middle of the face where no picture is described. */
const PLAIN_LIGHT = 0.5;
/** Lines within a layer for its rounded profile. */
const LINES = 8;

/**
 * Takes the photo of a face: blur, exposure, noise, code.
 * @param byLayer - Brightness of each layer at the photo's columns, from the bottom up; blurred in place.
 * @param recipe - The face.
 * @param place - Where rows lie.
 * @param rows - Rows of the photo.
 * @param columns - Columns of the photo.
 * @param grooves - How much darker the groove between two layers is.
 * @returns Linear light, and the 8-bit codes that it comes from where a picture is described.
 */
export function takePicture(
  byLayer: readonly Float32Array[],
  recipe: FaceRecipe,
  place: PlaceOnFace,
  rows: number,
  columns: number,
  grooves: number,
): { readonly light: Float32Array; readonly codes?: Uint8Array } {
  const { picture, layerHeightMm } = recipe;
  const layers = byLayer.length;
  const blurAt = (u: number) =>
    picture === undefined ? 0 : picture.blurPx * Math.max(0.2, 1 + picture.blurTilt * (2 * u - 1));
  byLayer.forEach((light, layer) => {
    blurAlong(light, blurAt((layer + 0.5) / layers));
  });
  const scale = picture === undefined ? PLAIN_LIGHT : picture.exposure / brightest(byLayer);
  let mean = 0;
  for (const light of byLayer) mean += (light[Math.floor(columns / 3)]! * scale) / layers;
  const normal = fastNormals(recipe.seed + 2 + 1_000_003 * (recipe.shot ?? 0));
  const light = new Float32Array(rows * columns);
  const codes = picture === undefined ? undefined : new Uint8Array(rows * columns);
  const shot = recipe.noise ** 2 * SHOT_SHARE * mean;
  const read = recipe.noise ** 2 * (1 - SHOT_SHARE) * mean * mean;
  const line = new Float64Array(columns);
  for (let row = 0; row < rows; row += 1) {
    const atMm = place.rowMm(row, rows);
    const sigmaMm = Math.hypot(blurAt(atMm / recipe.heightMm), 0.29) / recipe.pxPerMm;
    line.fill(0);
    for (const [layer, weight] of layerWeights(atMm, sigmaMm, layerHeightMm, layers, grooves)) {
      const from = byLayer[layer]!;
      const share = weight * scale;
      for (let i = 0; i < columns; i += 1) line[i] = line[i]! + share * from[i]!;
    }
    const start = row * columns;
    for (let i = 0; i < columns; i += 1) {
      let value = line[i]!;
      if (recipe.noise > 0) value += Math.sqrt(shot * value + read) * normal();
      if (codes === undefined) light[start + i] = Math.max(0.001, value);
      else codes[start + i] = codeOf(value);
    }
  }
  if (codes === undefined) return { light };
  for (let i = 0; i < light.length; i += 1) light[i] = LIGHT_OF_CODE[codes[i]!]!;
  return { light, codes };
}

/** How much of each layer a row shows: Gaussian blur over the layers' rounded profiles. Sums to 1. */
function layerWeights(
  atMm: number,
  sigmaMm: number,
  layerMm: number,
  layers: number,
  grooves: number,
): readonly (readonly [number, number])[] {
  const clamp = (layer: number) => Math.max(0, Math.min(layers - 1, layer));
  if (sigmaMm <= 0.3 / 30 && grooves === 0) return [[clamp(Math.floor(atMm / layerMm)), 1]];
  const lineMm = layerMm / LINES;
  const reach = Math.ceil((3 * sigmaMm) / lineMm);
  const middle = Math.floor(atMm / lineMm);
  const weights = new Map<number, number>();
  let sum = 0;
  for (let k = middle - reach; k <= middle + reach; k += 1) {
    const off = ((k + 0.5) * lineMm - atMm) / sigmaMm;
    const weight = Math.exp((-off * off) / 2);
    sum += weight;
    const within = ((k % LINES) + LINES) % LINES;
    const round = 1 - grooves * (1 - Math.sin((Math.PI * (within + 0.5)) / LINES));
    const layer = clamp(Math.floor(k / LINES));
    weights.set(layer, (weights.get(layer) ?? 0) + weight * round);
  }
  return [...weights].map(([layer, weight]) => [layer, weight / sum]);
}

/** Gaussian blur in place, edges continued. */
function blurAlong(values: Float32Array, sigmaPx: number): void {
  if (sigmaPx < 0.1) return;
  const reach = Math.ceil(3 * sigmaPx);
  const taps = Float64Array.from({ length: 2 * reach + 1 }, (_, k) =>
    Math.exp(-(((k - reach) / sigmaPx) ** 2) / 2),
  );
  const sum = taps.reduce((total, tap) => total + tap, 0);
  const count = values.length;
  const padded = new Float64Array(count + 2 * reach);
  padded.fill(values[0]!, 0, reach);
  padded.set(values, reach);
  padded.fill(values[count - 1]!, count + reach);
  for (let i = 0; i < count; i += 1) {
    let total = 0;
    for (let k = 0; k < taps.length; k += 1) total += taps[k]! * padded[i + k]!;
    values[i] = total / sum;
  }
}

/** Brightness that a fiftieth of the face exceeds. */
function brightest(byLayer: readonly Float32Array[]): number {
  const some: number[] = [];
  for (const light of byLayer) for (let i = 5; i < light.length; i += 37) some.push(light[i]!);
  some.sort((a, b) => a - b);
  return some[Math.floor(0.98 * some.length)]!;
}

/** IEC 61966-2-1, written out again. */
const LIGHT_OF_CODE = Float32Array.from({ length: 256 }, (_, code) => {
  const value = code / 255;
  return value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4;
});
const STEPS = 32768;
const CODE_OF_LIGHT = Uint8Array.from({ length: STEPS + 1 }, (_, step) => {
  const light = step / STEPS;
  return Math.round(255 * (light <= 0.0031308 ? 12.92 * light : 1.055 * light ** (1 / 2.4) - 0.055));
});

function codeOf(light: number): number {
  return CODE_OF_LIGHT[Math.max(0, Math.min(STEPS, Math.round(light * STEPS)))]!;
}

/**
 * Linear light of 8-bit sRGB codes.
 * @param codes - Codes, any shape.
 * @returns Linear light, the same shape.
 */
export function lightOfCodes(codes: Uint8Array): Float32Array {
  return Float32Array.from(codes, (code) => LIGHT_OF_CODE[code]!);
}
