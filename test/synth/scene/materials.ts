import { fastNormals, type Random } from '../random.js';
import { noiseAt, noiseTile, type NoiseTile } from './noiseTile.js';
import type { Material, Rgb } from './surface.js';

function paint(out: Float64Array, rgb: Rgb, factor: number): void {
  out[0] = rgb[0] * factor;
  out[1] = rgb[1] * factor;
  out[2] = rgb[2] * factor;
}

/**
 * One colour, with a fine grain.
 * @param rgb - Reflectance.
 * @param grain - Relative strength of the grain.
 * @param tile - Its noise.
 */
export function plain(rgb: Rgb, grain: number, tile: NoiseTile): Material {
  return {
    colour: (u, v, _region, footprintMm, out) => {
      paint(out, rgb, 1 + grain * noiseAt(tile, u, v, footprintMm));
    },
  };
}

/**
 * Wood: noise that is drawn out along the grain, of two colours.
 * @param dark - Reflectance of the dark streaks.
 * @param bright - Reflectance between them.
 * @param angleRad - Direction of the grain from u.
 * @param tile - Noise of about a millimetre.
 */
export function wood(dark: Rgb, bright: Rgb, angleRad: number, tile: NoiseTile): Material {
  const [sine, cosine] = [Math.sin(angleRad), Math.cos(angleRad)];
  return {
    colour: (u, v, _region, footprintMm, out) => {
      const along = (u * cosine + v * sine) / 18;
      const across = v * cosine - u * sine;
      const n =
        noiseAt(tile, along, across, footprintMm) +
        0.4 * noiseAt(tile, 3 * along + 77, 4 * across, 4 * footprintMm);
      const share = 1 / (1 + Math.exp(-1.3 * n));
      for (let i = 0; i < 3; i += 1) out[i] = dark[i]! + share * (bright[i]! - dark[i]!);
    },
  };
}

/**
 * The side of a tower that is not measured: a round bead for each layer.
 * @param rgb - Reflectance.
 * @param layerMm - Layer height.
 * @param layers - How many.
 * @param grooves - How much darker the groove between two layers is.
 * @param jitter - Relative brightness of layers against each other.
 * @param seed - Of the jitter.
 */
export function layered(
  rgb: Rgb,
  layerMm: number,
  layers: number,
  grooves: number,
  jitter: number,
  seed: number,
): Material {
  const normal = fastNormals(seed);
  const brightness = Float32Array.from({ length: layers + 2 }, () => 1 + jitter * normal());
  const tile = noiseTile(seed + 1, 0.15, 4, 1.2);
  return {
    colour: (u, v, _region, footprintMm, out) => {
      const place = v / layerMm;
      // A pixel's box filter on a wave: sin(πw) ÷ πw, w the pixel's share of a layer.
      const w = footprintMm / layerMm;
      const seen = w < 1 ? Math.sin(Math.PI * w) / (Math.PI * w) : 0;
      const layer = Math.max(0, Math.min(layers, place - 0.5));
      const low = Math.floor(layer);
      const between = brightness[low]! + (layer - low) * (brightness[low + 1]! - brightness[low]!);
      const groove = 1 - grooves * 0.5 * (1 + seen * Math.cos(2 * Math.PI * place));
      paint(out, rgb, between * groove * (1 + 0.01 * noiseAt(tile, u / 6, v, footprintMm)));
    },
  };
}

/** The measured side of a tower, as a picture of its brightness. */
export interface FacePicture {
  /** Row 0 at the top, column 0 at the left; 1 is the brightness of the smooth wall's middle. */
  readonly brightness: Float32Array;
  readonly rows: number;
  readonly columns: number;
  readonly pxPerMm: number;
  readonly widthMm: number;
  readonly heightMm: number;
}

/**
 * The measured side. Its patch is larger than the face by a margin; there the outermost brightness goes on.
 * @param rgb - Reflectance.
 * @param face - Its brightness.
 * @param marginMm - How far the patch reaches beyond the face's left and lower edge.
 */
export function measuredSide(rgb: Rgb, face: FacePicture, marginMm: number): Material {
  const { brightness, rows, columns, pxPerMm, heightMm } = face;
  return {
    rays: 4,
    colour: (u, v, _region, _footprintMm, out) => {
      const x = Math.max(0, Math.min(columns - 1.001, (u - marginMm) * pxPerMm - 0.5));
      const y = Math.max(0, Math.min(rows - 1.001, (heightMm - (v - marginMm)) * pxPerMm - 0.5));
      const column = Math.floor(x);
      const row = Math.floor(y);
      const [a, b] = [x - column, y - row];
      const i = row * columns + column;
      paint(
        out,
        rgb,
        (1 - b) * ((1 - a) * brightness[i]! + a * brightness[i + 1]!) +
          b * ((1 - a) * brightness[i + columns]! + a * brightness[i + columns + 1]!),
      );
    },
  };
}

/** A printed rectangle, mm from the lower left. */
export interface Block {
  readonly left: number;
  readonly bottom: number;
  readonly right: number;
  readonly top: number;
  readonly rgb: Rgb;
  /** Too fine for a look at pixel centres. */
  readonly fine?: true;
}

const FINE = 32;
const MOST_COLOURS = 32;

/**
 * A surface printed with rectangles; later ones cover earlier ones.
 * @param base - Reflectance of the rest.
 * @param blocks - What is printed.
 * @param grain - Relative strength of the grain.
 * @param tile - Its noise.
 * @throws {RangeError} When there are more than 31 colours.
 */
export function printed(base: Rgb, blocks: readonly Block[], grain: number, tile: NoiseTile): Material {
  const colours: Rgb[] = [base];
  const entries = blocks.map((block) => {
    let index = colours.findIndex((rgb) => rgb.every((value, i) => value === block.rgb[i]));
    if (index < 0) index = colours.push(block.rgb) - 1;
    return { ...block, code: index + (block.fine ? FINE : 0) };
  });
  if (colours.length > MOST_COLOURS)
    throw new RangeError(`Expected at most 31 colours but received ${colours.length - 1}.`);
  const index = stripIndex(entries);
  return {
    region: (u, v) => {
      const strip = index(v);
      for (let i = strip.length - 1; i >= 0; i -= 1) {
        const block = strip[i]!;
        if (u >= block.left && u < block.right && v >= block.bottom && v < block.top) return block.code;
      }
      return 0;
    },
    colour: (u, v, region, footprintMm, out) => {
      paint(out, colours[region & (FINE - 1)]!, 1 + grain * noiseAt(tile, u, v, footprintMm));
    },
  };
}

type Coded = Block & { readonly code: number };

/** Rulers have hundreds of blocks: each strip of v knows its own. */
function stripIndex(blocks: readonly Coded[]): (v: number) => readonly Coded[] {
  const STRIP_MM = 1;
  const strips = new Map<number, Coded[]>();
  for (const block of blocks) {
    for (let strip = Math.floor(block.bottom / STRIP_MM); strip * STRIP_MM < block.top; strip += 1) {
      const list = strips.get(strip);
      if (list === undefined) strips.set(strip, [block]);
      else list.push(block);
    }
  }
  const none: readonly Coded[] = [];
  return (v) => strips.get(Math.floor(v / STRIP_MM)) ?? none;
}

/**
 * A colour that things on a desk have, not too bright.
 * @param random - Where chance comes from.
 */
export function anyColour(random: Random): Rgb {
  const hue = random.even(0, 6);
  const value = random.logEven(0.12, 0.75);
  const saturation = random.even(0.1, 0.9);
  const channel = (offset: number) => {
    const k = (offset + hue) % 6;
    return value * (1 - saturation * Math.max(0, Math.min(1, Math.min(k, 4 - k))));
  };
  return [channel(5), channel(3), channel(1)];
}
