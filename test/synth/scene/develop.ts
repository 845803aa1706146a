import { fastNormals } from '../random.js';

/** What lens, sensor and camera program do with the light. */
export interface Development {
  /** Standard deviation of the blur, px. */
  readonly blurPx: number;
  /** How much darker the corners are. */
  readonly vignetting: number;
  /** Linear light 1 becomes this, where 1 is the end of the range. */
  readonly exposure: number;
  /** Relative noise at half the range, from the count of photons. */
  readonly shotNoise: number;
  /** Noise that is always there, share of the range. */
  readonly readNoise: number;
  /** Red and blue against green: what is left of the lamp's colour. */
  readonly tint: readonly [number, number];
  readonly seed: number;
}

const STEPS = 65536;
/** sRGB (IEC 61966-2-1) with highlights bent over from 0.8 on, as cameras do (common practice, no source). */
const CODES = Uint8Array.from({ length: STEPS + 1 }, (_, step) => {
  const light = (1.6 * step) / STEPS;
  const KNEE = 0.8;
  const bent = light < KNEE ? light : KNEE + (1 - KNEE) * (1 - Math.exp((KNEE - light) / (1 - KNEE)));
  return Math.round(255 * (bent <= 0.0031308 ? 12.92 * bent : 1.055 * bent ** (1 / 2.4) - 0.055));
});

/**
 * Develops a picture: blur, vignetting, exposure, noise, tone curve.
 * @param light - Linear light, three for each pixel; changed.
 * @param widthPx - Width.
 * @param heightPx - Height.
 * @param how - Lens, sensor and program.
 * @returns Codes, three for each pixel.
 */
export function develop(
  light: Float32Array,
  widthPx: number,
  heightPx: number,
  how: Development,
): Uint8Array {
  blur(light, widthPx, heightPx, how.blurPx);
  const codes = new Uint8Array(light.length);
  const normal = fastNormals(how.seed);
  const gains = [how.exposure * how.tint[0], how.exposure, how.exposure * how.tint[1]];
  const shot = how.shotNoise ** 2 * 0.5;
  const read = how.readNoise ** 2;
  const scale = STEPS / 1.6;
  const corner = (widthPx * widthPx + heightPx * heightPx) / 4;
  let i = 0;
  for (let row = 0; row < heightPx; row += 1) {
    const y = (row + 0.5 - heightPx / 2) ** 2;
    for (let column = 0; column < widthPx; column += 1) {
      const shade = 1 - (how.vignetting * ((column + 0.5 - widthPx / 2) ** 2 + y)) / corner;
      for (let c = 0; c < 3; c += 1, i += 1) {
        const value = light[i]! * gains[c]! * shade;
        const noisy = value + Math.sqrt(shot * value + read) * normal();
        const step = (noisy * scale + 0.5) | 0;
        codes[i] = CODES[step < 0 ? 0 : step > STEPS ? STEPS : step]!;
      }
    }
  }
  return codes;
}

/** Gaussian, in place, edges continued; along rows, then along columns. */
function blur(light: Float32Array, widthPx: number, heightPx: number, sigmaPx: number): void {
  // Four pairs of neighbours are added at once; what is beyond three standard deviations counts nothing.
  const reach = 4 * Math.ceil((3 * sigmaPx) / 4);
  const taps = Float64Array.from({ length: reach + 1 }, (_, k) => Math.exp(-((k / sigmaPx) ** 2) / 2));
  const sum = 2 * taps.reduce((total, tap) => total + tap, 0) - taps[0]!;
  for (let k = 0; k <= reach; k += 1) taps[k] = taps[k]! / sum;
  const stride = 3 * widthPx;
  const sums = new Float32Array(stride);
  const padded = new Float32Array(stride + 6 * reach);
  const shifted = Array.from({ length: 2 * reach + 1 }, (_, k) => padded.subarray(3 * k, 3 * k + stride));
  for (let row = 0; row < heightPx; row += 1) {
    const line = light.subarray(row * stride, (row + 1) * stride);
    padded.set(line, 3 * reach);
    for (let k = 0; k < 3 * reach; k += 1) {
      padded[k] = line[k % 3]!;
      padded[3 * reach + stride + k] = line[stride - 3 + (k % 3)]!;
    }
    weigh(sums, (k) => shifted[reach + k]!, taps);
    line.set(sums);
  }
  // Rows that are overwritten are still needed: a ring of copies keeps them.
  const ring = Array.from({ length: reach + 1 }, () => new Float32Array(stride));
  const first = light.slice(0, stride);
  for (let row = 0; row < heightPx; row += 1) {
    const line = light.subarray(row * stride, (row + 1) * stride);
    ring[row % ring.length]!.set(line);
    weigh(
      sums,
      (k) => {
        if (k <= 0) return row + k < 0 ? first : ring[(row + k) % ring.length]!;
        const after = Math.min(heightPx - 1, row + k) * stride;
        return light.subarray(after, after + stride);
      },
      taps,
    );
    line.set(sums);
  }
}

/** Sum of a line and its neighbours at ±1, ±2, … by the taps of their distances. */
function weigh(sums: Float32Array, neighbour: (k: number) => Float32Array, taps: Float64Array): void {
  const own = neighbour(0);
  const count = sums.length;
  for (let k = 1; k < taps.length; k += 4) {
    const [b1, b2, b3, b4] = [neighbour(-k), neighbour(-k - 1), neighbour(-k - 2), neighbour(-k - 3)];
    const [a1, a2, a3, a4] = [neighbour(k), neighbour(k + 1), neighbour(k + 2), neighbour(k + 3)];
    const [t1, t2, t3, t4] = [taps[k]!, taps[k + 1]!, taps[k + 2]!, taps[k + 3]!];
    const base = k === 1 ? own : sums;
    const t0 = k === 1 ? taps[0]! : 1;
    for (let i = 0; i < count; i += 1) {
      sums[i] =
        t0 * base[i]! +
        t1 * (b1[i]! + a1[i]!) +
        t2 * (b2[i]! + a2[i]!) +
        t3 * (b3[i]! + a3[i]!) +
        t4 * (b4[i]! + a4[i]!);
    }
  }
}
