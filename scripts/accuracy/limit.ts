import { invertSymmetric, orthonormalise } from '../../src/signal/leastSquares.js';
import { dot, dots, subtractMultiples } from '../../src/core/vector.js';
import { wallOfLayer } from '../../test/synth/motion.js';
import { BOW_SD_MM, CLICK_SD_PX } from '../../test/synth/population.js';
import { ladderHz, layerCount, type FaceRecipe } from '../../test/synth/recipe.js';
import { residualOf, shaperOf, type Impulse } from '../../test/synth/shapers.js';
import { BIN_MM, FROM_MM, type BandSignal } from '../../test/synth/signal.js';

/** Least standard deviations that an estimate from one face can have, Hz; damping ratio relative. */
export interface Limit {
  readonly nullHz: number;
  readonly dampedHz: number;
  readonly dampingRelative: number;
}

/** The background is anybody's guess below this share of the ripples' frequency. */
const BACKGROUND = 0.5;
/** What is known beforehand of gain and light, as in src: DESIGN 5.5. */
const GAIN_ORDER = 6;
const GAIN_PRIOR = 0.5;
const LIGHT_ON_DAMPING = 0.1;

/**
 * The Cramér–Rao bound of one face, for anyone who knows motion, noise and shape of the light's drift but neither axis,
 * amplitudes, gain, background nor the corner's exact place. With what is known beforehand it is the bound of van Trees
 * (Detection, Estimation, and Modulation Theory I, 1968, 2.4.3; from memory): prior information adds to the Fisher matrix.
 * Gain and damping have the product's own priors, and a shaped wall counts as an unshaped one, so that it is about the
 * least error, not to the last per cent.
 * @param recipe - The face.
 * @param bands - Ripples and noise of each millimetre of height.
 * @returns The bound, or undefined without a ladder, where no band shows ripples, or where a slot parts the wall.
 */
export function limitOf(recipe: FaceRecipe, bands: readonly BandSignal[]): Limit | undefined {
  // Of one wall only.
  if (recipe.slot !== undefined) return undefined;
  const wall = wallInformation(recipe);
  const [ff, fz, zz] = [0, 1, 2].map((k) =>
    bands.reduce((sum, band) => sum + (band.amplitude / band.binSd) ** 2 * wall.shape[k]!, 0),
  ) as [number, number, number];
  const determinant = ff * zz - fz * fz;
  if (!(determinant > 0) || recipe.ladder === undefined) return undefined;
  const dampingSd = Math.sqrt(ff / determinant);
  const priorSd = Math.hypot(dampingSd, LIGHT_ON_DAMPING * recipe.dampingRatio);
  const nullHz = nullLimit(recipe, bands, wall.amplitudeVariance, priorSd);
  return nullHz === undefined
    ? undefined
    : {
        nullHz,
        dampedHz: Math.sqrt(zz / determinant),
        dampingRelative: dampingSd / recipe.dampingRatio,
      };
}

/** For unit amplitude ÷ noise of a bin: Fisher matrix [ff, fζ, ζζ], and the variance of each part of the amplitude. */
function wallInformation(recipe: FaceRecipe): {
  readonly shape: readonly [number, number, number];
  readonly amplitudeVariance: number;
} {
  const { widthMm, speedMmPerS, dampingRatio, naturalHz } = recipe;
  const slot = recipe.flaws?.slot ?? { fromMm: widthMm, widthMm: 0 };
  const all = Float64Array.from({ length: Math.floor(widthMm / BIN_MM) }, (_, i) => (i + 0.5) * BIN_MM);
  const still: readonly Impulse[] = [{ share: 1, lateS: 0 }];
  const times = wallOfLayer(recipe, [], still, still, all).timeS;
  const used = [...all.keys()].filter((i) => {
    const x = all[i]!;
    return x > FROM_MM && i < all.length - 1 && (x < slot.fromMm || x > slot.fromMm + slot.widthMm);
  });
  const places = Float64Array.from(used, (i) => all[i]!);
  const timeS = Float64Array.from(used, (i) => times[i]!);
  const slowness = Float64Array.from(
    used,
    (i) => ((times[i + 1]! - times[i - 1]!) * speedMmPerS) / (2 * BIN_MM),
  );
  const damped = naturalHz * Math.sqrt(1 - dampingRatio ** 2);
  const span = places[places.length - 1]! - places[0]!;
  const cosines = Math.round((2 * span * BACKGROUND * damped) / speedMmPerS);
  const background = orthonormalise(
    Array.from({ length: cosines + 1 }, (_, j) =>
      places.map((x) => Math.cos((Math.PI * j * (x - places[0]!)) / span)),
    ),
  );
  const ripple = (f: number, zeta: number): readonly [Float64Array, Float64Array] => {
    const sigma = (2 * Math.PI * f * zeta) / Math.sqrt(1 - zeta * zeta);
    const part = (turn: (phase: number) => number) =>
      timeS.map((t, i) => Math.exp(-sigma * t) * turn(2 * Math.PI * f * t) * slowness[i]!);
    return [part(Math.cos), part((phase) => -Math.sin(phase))];
  };
  const basis = ripple(damped, dampingRatio);
  const less = (column: Float64Array, directions: readonly Float64Array[]) => {
    const left = column.slice();
    subtractMultiples(left, directions, dots(directions, [left]));
    return left;
  };
  const clean = basis.map((column) => less(column, background));
  const nuisance = [...background, ...orthonormalise(clean)];
  const steps = [1e-3 * damped, 1e-2 * dampingRatio] as const;
  const slopes = steps.map((step, k) => {
    const at = (sign: number) =>
      ripple(damped + (k === 0 ? sign * step : 0), dampingRatio + (k === 1 ? sign * step : 0));
    const [up, down] = [at(1), at(-1)];
    return [0, 1].map((p) =>
      less(
        up[p]!.map((value, i) => (value - down[p]![i]!) / (2 * step)),
        nuisance,
      ),
    );
  });
  // Any phase is as likely as another: the mean over cosine and sine.
  const mean = (a: number, b: number) =>
    (dot(slopes[a]![0]!, slopes[b]![0]!) + dot(slopes[a]![1]!, slopes[b]![1]!)) / 2;
  return {
    shape: [mean(0, 0), mean(0, 1), mean(1, 1)],
    // Of the mean information over all phases.
    amplitudeVariance: 2 / (dot(clean[0]!, clean[0]!) + dot(clean[1]!, clean[1]!)),
  };
}

/** Bound of the axis's frequency from the signed amplitudes alone, which is that of the null. */
function nullLimit(
  recipe: FaceRecipe,
  bands: readonly BandSignal[],
  amplitudeVariance: number,
  dampingSd: number,
): number | undefined {
  const ladder = recipe.ladder!;
  const layers = layerCount(recipe);
  const hzAt = (heightMm: number) => ladderHz(ladder, heightMm / recipe.layerHeightMm - 0.5, layers);
  const hz = bands.map((band) => hzAt(band.heightMm));
  const impulses = hz.map((value) => shaperOf(recipe.family ?? 'ZV', value, ladder.dampingRatio));
  const left = (naturalHz: number, zeta: number) =>
    impulses.map((shaper) => residualOf(shaper, naturalHz, zeta));
  const now = left(recipe.naturalHz, recipe.dampingRatio);
  // A band's amplitude is the mean over its layers, and not 0 where its middle has the null.
  const meanLeft = (middleMm: number) => {
    const parts = [-0.4, -0.2, 0, 0.2, 0.4].map((off) => {
      const shaper = shaperOf(recipe.family ?? 'ZV', hzAt(middleMm + off), ladder.dampingRatio);
      return Math.hypot(...residualOf(shaper, recipe.naturalHz, recipe.dampingRatio));
    });
    return parts.reduce((sum, part) => sum + part, 0) / parts.length;
  };
  // What the amplitudes would be without a shaper: the light's and the bead's gain.
  const gains = bands.map((band) => band.amplitude / meanLeft(band.heightMm));
  const mean = gains.reduce((sum, gain) => sum + gain, 0) / gains.length;
  const u = bands.map((band) => (2 * band.heightMm) / recipe.heightMm - 1);
  const phasePerMm =
    (2 * Math.PI * recipe.naturalHz * Math.sqrt(1 - recipe.dampingRatio ** 2)) / recipe.speedMmPerS;
  const step = [1e-4 * recipe.naturalHz, 1e-4] as const;
  // Columns: f_n, ζ, common phase, tilt, bow, gain of order 0 … 6; rows: both parts of each band.
  const size = 5 + GAIN_ORDER + 1;
  const fisher = new Float64Array(size * size);
  const moved = [
    left(recipe.naturalHz + step[0], recipe.dampingRatio),
    left(recipe.naturalHz, recipe.dampingRatio + step[1]),
  ];
  bands.forEach((band, i) => {
    const g = gains[i]!;
    const [re, im] = now[i]!;
    const along = moved.map((path, k) =>
      path[i]!.map((value, part) => (g * (value - now[i]![part]!)) / step[k]!),
    );
    const turned = [-g * im, g * re];
    const x = u[i]!;
    const columns: (readonly number[])[] = [
      ...along,
      turned,
      turned.map((value) => value * x),
      turned.map((value) => value * (2 * x * x - 1)),
    ];
    for (let k = 0; k <= GAIN_ORDER; k += 1) {
      const t = Math.cos(k * Math.acos(Math.max(-1, Math.min(1, x))));
      columns.push([re * t, im * t]);
    }
    const weight = 1 / (band.binSd ** 2 * amplitudeVariance);
    for (let a = 0; a < size; a += 1) {
      for (let b = 0; b < size; b += 1) {
        const product = columns[a]![0]! * columns[b]![0]! + columns[a]![1]! * columns[b]![1]!;
        fisher[a * size + b] = fisher[a * size + b]! + weight * product;
      }
    }
  });
  const know = (k: number, sd: number) => (fisher[k * size + k] = fisher[k * size + k]! + 1 / sd ** 2);
  know(1, dampingSd);
  // Two clicks make the tilt; a bow has half its height in the polynomial of second order.
  know(3, (phasePerMm * CLICK_SD_PX) / recipe.pxPerMm / Math.SQRT2);
  know(4, (phasePerMm * BOW_SD_MM) / 2);
  for (let k = 1; k <= GAIN_ORDER; k += 1) know(5 + k, (GAIN_PRIOR * mean) / k ** 1.5);
  const inverse = invertSymmetric(fisher, size);
  return inverse && Math.sqrt(inverse[0]!);
}
