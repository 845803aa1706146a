import ndarray from 'ndarray';
import type { CodeImage, ColourImage, PointPx } from '../core/image.js';
import type { Px } from '../core/units.js';
import { lightReader, pointInStrip, stripFrame } from './strip.js';
import { linearLut } from './tone.js';

/** A part of a picture in the one mixture of its colours that shows an edge best. */
export interface ContrastView {
  /** 16-bit codes of that mixture, and their light: proportional. */
  readonly codes: CodeImage;
  readonly lut: Float32Array;
  /** Where its top-left corner lies in the picture, px. */
  readonly left: Px;
  readonly top: Px;
}

/** Pairs of places, inside and outside, at which the colours are compared, and how far from the edge they lie, px. */
const PAIRS = 48;
const BESIDE_PX = [2, 3.5] as const;
/** Margin around the edge that the view takes in, px. */
const MARGIN_PX = 14;
/** Added to the variance of each colour's difference, linear light squared: a code or so of noise. */
const NOISE_VARIANCE = 1e-5;
const LEVELS = 65535;

const lut8 = linearLut(8);
const lut16 = Float32Array.from({ length: LEVELS + 1 }, (_, code) => code / LEVELS);

/**
 * The mixture of red, green and blue in which two sides of an edge differ most, measured by how much the difference
 * varies along it: where both sides are equally bright, or the light falls off along the edge, that is the hue.
 * @param image - The picture.
 * @param from - Where the edge begins, nearly, px.
 * @param to - Where it ends.
 * @returns The part of the picture around the edge in that mixture; undefined where the edge lies outside.
 * @throws {RangeError} When the two points are the same.
 * @see Fisher, "The use of multiple measurements in taxonomic problems", Annals of Eugenics 7, 1936, for paired
 * samples (Hotelling 1931; both from memory): weights S⁻¹d of the mean difference d and its covariance S.
 */
export function contrastView(image: ColourImage, from: PointPx, to: PointPx): ContrastView | undefined {
  const left = Math.max(0, Math.floor(Math.min(from[0], to[0]) - MARGIN_PX));
  const top = Math.max(0, Math.floor(Math.min(from[1], to[1]) - MARGIN_PX));
  const right = Math.min(image.widthPx, Math.ceil(Math.max(from[0], to[0]) + MARGIN_PX));
  const bottom = Math.min(image.heightPx, Math.ceil(Math.max(from[1], to[1]) + MARGIN_PX));
  if (right - left < 2 || bottom - top < 2) return undefined;
  const mix = bestMixture(image, from, to);
  // What each code of a colour adds, on a scale that no sum can leave.
  const parts = mix.map((weight) => Float64Array.from(lut8, (light) => weight * light));
  const low = parts.reduce((sum, part) => sum + Math.min(part[0]!, part[255]!), 0);
  const high = parts.reduce((sum, part) => sum + Math.max(part[0]!, part[255]!), 0);
  if (!(high > low)) return undefined;
  const [red, green, blue] = parts.map((part) => part.map((value) => (LEVELS * value) / (high - low)));
  const least = (LEVELS * low) / (high - low) - 0.5;
  const codes = new Uint16Array((right - left) * (bottom - top));
  for (let y = top, at = 0; y < bottom; y += 1) {
    let place = 3 * (y * image.widthPx + left);
    for (let x = left; x < right; x += 1, at += 1, place += 3) {
      codes[at] =
        red![image.data[place]!]! + green![image.data[place + 1]!]! + blue![image.data[place + 2]!]! - least;
    }
  }
  return { codes: ndarray(codes, [bottom - top, right - left]), lut: lut16, left, top };
}

type Triple = readonly [number, number, number];

function bestMixture(image: ColourImage, from: PointPx, to: PointPx): Triple {
  const read = coloursOf(image).map((codes) => lightReader(codes, lut8));
  const frame = stripFrame(from, to);
  const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
  const differences = Array.from({ length: PAIRS }, (_, i): Triple => {
    const x = ((i + 0.5) / PAIRS) * length;
    const s = BESIDE_PX[i % BESIDE_PX.length]!;
    const [outside, inside] = [pointInStrip(frame, x, -s), pointInStrip(frame, x, s)];
    const [red, green, blue] = read.map((colour) => colour(...outside) - colour(...inside));
    return [red!, green!, blue!];
  });
  const mean = [0, 1, 2].map((k) => differences.reduce((sum, d) => sum + d[k]!, 0) / PAIRS);
  const covariance = (j: number, k: number): number =>
    differences.reduce((sum, d) => sum + (d[j]! - mean[j]!) * (d[k]! - mean[k]!), 0) / PAIRS +
    (j === k ? NOISE_VARIANCE : 0);
  const column = (k: number): Triple => [covariance(0, k), covariance(1, k), covariance(2, k)];
  // Cramer's rule up to the determinant, which is positive: only the proportions count.
  const [a, b, c] = [column(0), column(1), column(2)];
  const d: Triple = [mean[0]!, mean[1]!, mean[2]!];
  return [triple(d, b, c), triple(a, d, c), triple(a, b, d)];
}

function triple(a: Triple, b: Triple, c: Triple): number {
  return (
    a[0] * (b[1] * c[2] - b[2] * c[1]) -
    a[1] * (b[0] * c[2] - b[2] * c[0]) +
    a[2] * (b[0] * c[1] - b[1] * c[0])
  );
}

/**
 * Views of the three colours of a picture, without copying.
 * @param image - The picture.
 * @returns Red, green and blue codes.
 */
export function coloursOf({ data, widthPx, heightPx }: ColourImage): readonly CodeImage[] {
  return [0, 1, 2].map((colour) => ndarray(data, [heightPx, widthPx], [3 * widthPx, 3], colour));
}
