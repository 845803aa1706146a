import { nullInformation, wallInformation, type WallSamples } from '../../src/planning/information.js';
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
  const damped = recipe.naturalHz * Math.sqrt(1 - recipe.dampingRatio ** 2);
  const wall = wallInformation(samplesOf(recipe), damped, recipe.dampingRatio);
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

/** Where ripples are looked at on the wall, by the truth's own motion. */
function samplesOf(recipe: FaceRecipe): WallSamples {
  const { widthMm, speedMmPerS } = recipe;
  const slot = recipe.flaws?.slot ?? { fromMm: widthMm, widthMm: 0 };
  const all = Float64Array.from({ length: Math.floor(widthMm / BIN_MM) }, (_, i) => (i + 0.5) * BIN_MM);
  const still: readonly Impulse[] = [{ share: 1, lateS: 0 }];
  const times = wallOfLayer(recipe, [], still, still, all).timeS;
  const used = [...all.keys()].filter((i) => {
    const x = all[i]!;
    return x > FROM_MM && i < all.length - 1 && (x < slot.fromMm || x > slot.fromMm + slot.widthMm);
  });
  return {
    positionsMm: Float64Array.from(used, (i) => all[i]!),
    timeS: Float64Array.from(used, (i) => times[i]!),
    slowness: Float64Array.from(used, (i) => ((times[i + 1]! - times[i - 1]!) * speedMmPerS) / (2 * BIN_MM)),
    speedMmPerS,
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
  const shaperAt = (heightMm: number) => {
    const hz = ladderHz(ladder, heightMm / recipe.layerHeightMm - 0.5, layers);
    return shaperOf(recipe.family ?? 'ZV', hz, ladder.dampingRatio);
  };
  // A band's amplitude is the mean over its layers, and not 0 where its middle has the null.
  const meanLeft = (middleMm: number) => {
    const parts = [-0.4, -0.2, 0, 0.2, 0.4].map((off) =>
      Math.hypot(...residualOf(shaperAt(middleMm + off), recipe.naturalHz, recipe.dampingRatio)),
    );
    return parts.reduce((sum, part) => sum + part, 0) / parts.length;
  };
  // What the amplitudes would be without a shaper: the light's and the bead's gain.
  const heights = bands.map((band) => {
    const shaper = shaperAt(band.heightMm);
    return {
      heightMm: band.heightMm,
      gain: band.amplitude / meanLeft(band.heightMm),
      sd: band.binSd * Math.sqrt(amplitudeVariance),
      left: (naturalHz: number, zeta: number) => {
        const [re, im] = residualOf(shaper, naturalHz, zeta);
        return { re, im };
      },
    };
  });
  const mean = heights.reduce((sum, { gain }) => sum + gain, 0) / heights.length;
  const phasePerMm =
    (2 * Math.PI * recipe.naturalHz * Math.sqrt(1 - recipe.dampingRatio ** 2)) / recipe.speedMmPerS;
  const information = nullInformation(
    heights,
    recipe,
    {
      dampingRatio: dampingSd,
      // Two clicks make the tilt; a bow has half its height in the polynomial of second order.
      tiltRad: (phasePerMm * CLICK_SD_PX) / recipe.pxPerMm / Math.SQRT2,
      bowRad: (phasePerMm * BOW_SD_MM) / 2,
      gain: Array.from({ length: GAIN_ORDER }, (_, k) => (GAIN_PRIOR * mean) / (k + 1) ** 1.5),
    },
    [0, recipe.heightMm],
  );
  return information && Math.sqrt(information.covariance[0]);
}
