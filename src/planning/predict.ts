import { combineRoutes, type BudgetLine, type CombinedRoutes } from '../band/budget.js';
import { GAIN_ORDER, GAIN_PRIOR } from '../band/gainProblem.js';
import { CORNER_BOW_MM, expectedNullHz } from '../band/makeBudget.js';
import { NULL_FLOOR_HZ, shaperNullHz } from '../band/nullFit.js';
import { combineSd, RECTANGULAR } from '../core/estimate.js';
import type { DampingRatio, Hz, Mm, Px } from '../core/units.js';
import { EDGE_SD_MM } from '../face/rectifyFace.js';
import { COMMANDED_SIZE_RELATIVE_SD } from '../face/scales.js';
import { rampLengthMm, travelMap } from '../physics/cornerMotion.js';
import { cornerSwing } from '../physics/cornerSwing.js';
import { dampedHz } from '../physics/oscillator.js';
import { meanDelayS, residualFactor } from '../physics/residual.js';
import { shaperImpulses } from '../physics/shapers.js';
import { ladderHeightsAt, ladderHzAt, ladderSlopeHzPerMm } from '../print/ladder.js';
import type { PrintSettings } from '../print/settle.js';
import { BIN_MM, FAR_END_MM } from '../profiles/makeProfiles.js';
import { LIGHT_ON_DAMPING } from '../ripple/dampingSd.js';
import { CORNER_MM, LEAST_COLUMNS } from '../ripple/jointFit.js';
import type { Complex } from '../signal/complex.js';
import { percentile } from '../signal/median.js';
import { nullInformation, wallInformation, type NullHeight, type WallSamples } from './information.js';

/** An axis that may swing. */
export interface GuessedAxis {
  readonly naturalHz: Hz;
  readonly dampingRatio: DampingRatio;
}

/** How well a frequency will be known. */
export interface Prediction extends Pick<CombinedRoutes, 'fromNull' | 'fromSpacing' | 'combined'> {
  readonly budget: readonly BudgetLine[];
  /** 75th percentile over the heights of ripple amplitude ÷ noise, as faces are classed by. */
  readonly signalToNoise: number;
}

/**
 * What a photo shows that is taken as the plan advises: the medians of drawn faces so lit (tuning seeds of benchPlan).
 * `contrast`: relative contrast of a wall with slope 1, which light and bead make of the ripples. `unevenness`: noise of
 * 0.125 mm × 1 mm that uneven layers make, relative contrast, as strong as it is at the ripples' frequency, for layers of
 * 0.2 mm. `pixelNoise`: of one pixel. `blurPx`: Gaussian width of the blur.
 */
const ADVISED = { contrast: 2, unevenness: 0.011, pixelNoise: 0.02, blurPx: 1.5, modelShare: 0.025 } as const;
/** Corners are found as well as this in a photo as advised, px. */
const CORNER_SD_PX: Px = 1.5;

/**
 * Errors beside those of the model's noise: what light that falls off, a bead and uneven layers do over many heights. Real
 * scatter ÷ the bound (drawn faces, tuning seeds of benchPlan).
 */
const BEYOND_BOUND = { null: 1.3, spacing: 3 } as const;

/** Part of a band's height at which its layers are looked at: a band is the mean over 1 mm. */
const IN_BAND_MM = [-0.4, -0.2, 0, 0.2, 0.4] as const;
/** Steps along the wall: coarser than the profiles', with as much less noise. */
const STEP_MM: Mm = 0.25;
const LEAST_PLACES = (LEAST_COLUMNS * BIN_MM) / STEP_MM;
const LEAST_BANDS = 8;

/**
 * How well the frequency of an axis will be known from a photo of a print that is not made yet: the Fisher information of
 * the model that the photo will be measured with, and the same causes of uncertainty as in a reading's budget.
 * @param settings - The print as it is planned; face and linear ladder are told.
 * @param axis - The axis that is guessed at.
 * @param pxPerMm - Resolution of the photo.
 * @returns The prediction; undefined where the plan shows no ripples of this axis, or has no null of it on its ladder.
 */
export function predictUncertainty(
  settings: PrintSettings,
  axis: GuessedAxis,
  pxPerMm: number,
): Prediction | undefined {
  const { shaper, ladder, face, speedMmPerS, layerHeightMm } = settings;
  const { naturalHz, dampingRatio } = axis;
  const { widthMm, heightMm } = face;
  const nullHz = shaperNullHz(shaper, naturalHz, dampingRatio);
  const [place] = ladderHeightsAt(ladder, nullHz);
  if (widthMm === undefined || heightMm === undefined || place === undefined) return undefined;
  const bands = bandsOf(settings, heightMm);
  const wall = placesOf(settings, widthMm, nullHz, Math.min(...bands.map(({ ladderHz }) => ladderHz)));
  if (bands.length < LEAST_BANDS || wall.positionsMm.length < LEAST_PLACES) return undefined;
  const damped = dampedHz(naturalHz, dampingRatio);
  const information = wallInformation(wall, damped, dampingRatio);
  const spacingMm = speedMmPerS.value / damped;
  const motion = { ...settings, speedMmPerS: speedMmPerS.value };
  // Blur makes ripples weaker: the transfer function of a Gaussian at their spacing.
  const kept = Math.exp(-2 * (Math.PI * (ADVISED.blurPx / pxPerMm / spacingMm)) ** 2);
  const gain = ADVISED.contrast * kept * cornerSwing(motion, naturalHz, dampingRatio);
  const stepSd = Math.hypot(
    ADVISED.unevenness * Math.sqrt((layerHeightMm / 0.2) * (BIN_MM / STEP_MM)),
    ADVISED.pixelNoise / (pxPerMm * Math.sqrt(STEP_MM)),
  );
  const amplitudes = bands.map(({ heightMm: mm }) => gain * meanLeft(settings, mm, axis));
  const [ff, fz, zz] = information.shape;
  const energy = amplitudes.reduce((sum, amplitude) => sum + (amplitude / stepSd) ** 2, 0);
  const determinant = ff * zz - fz * fz;
  if (!(determinant > 0 && energy > 0)) return undefined;
  const dampedSd = (BEYOND_BOUND.spacing * Math.sqrt(zz / determinant)) / Math.sqrt(energy);
  const dampingSd = combineSd(Math.sqrt(ff / determinant / energy), LIGHT_ON_DAMPING * dampingRatio);

  const partSd = stepSd * Math.sqrt(information.amplitudeVariance);
  const modelSd = ADVISED.modelShare * percentile(Float64Array.from(amplitudes), 80);
  const cornerRad = (2 * Math.PI * combineSd(CORNER_SD_PX / pxPerMm, CORNER_BOW_MM)) / spacingMm;
  const heights = bands.map((band): NullHeight => {
    const impulses = shaperImpulses({ ...shaper, hz: band.ladderHz });
    return {
      heightMm: band.heightMm,
      gain,
      sd: combineSd(partSd, modelSd),
      left: (hz, zeta) => residualFactor(impulses, hz, zeta),
    };
  });
  const known = nullInformation(heights, axis, {
    dampingRatio: dampingSd,
    tiltRad: cornerRad,
    bowRad: cornerRad,
    gain: Array.from({ length: GAIN_ORDER }, (_, k) => (GAIN_PRIOR * gain) / (k + 1) ** 1.5),
  });
  if (known === undefined) return undefined;
  const byDamping = slopeOf((zeta) => shaperNullHz(shaper, naturalHz, zeta), dampingRatio, dampingSd);
  const perHz = nullHz / naturalHz;
  const toNull = ([hz, zeta]: readonly [number, number]) => perHz * hz + byDamping * zeta;
  const [vff, vfz, vzz] = known.covariance;
  const scatterHz = Math.sqrt(perHz ** 2 * vff + 2 * perHz * byDamping * vfz + byDamping ** 2 * vzz);
  const perShare =
    settings.alongWall === 'as-ladder'
      ? toNull(known.moved(heights.map((one, i) => late(settings, one, bands[i]?.ladderHz ?? nullHz, axis))))
      : 0;

  const expectedHz = expectedNullHz(shaper, damped, dampingRatio);
  const slope = ladderSlopeHzPerMm(ladder, place.value);
  const length = combineSd(
    COMMANDED_SIZE_RELATIVE_SD,
    (Math.SQRT2 * CORNER_SD_PX) / (widthMm * pxPerMm),
    (2 * CORNER_SD_PX) / (heightMm * pxPerMm),
  );
  const speed = speedMmPerS.sd / speedMmPerS.value;
  const line = (
    cause: BudgetLine['cause'],
    type: BudgetLine['type'],
    ofNull: Hz,
    ofSpacing: Hz,
  ): BudgetLine => ({
    cause,
    type,
    nullHz: ofNull,
    spacingHz: ofSpacing,
  });
  const budget = [
    line('scatter-null', 'A', combineSd(BEYOND_BOUND.null * scatterHz, NULL_FLOOR_HZ), 0),
    line('scatter-spacing', 'A', 0, (expectedHz * dampedSd) / damped),
    line('scale-along-wall', 'B', perShare * length, expectedHz * length),
    line('scale-along-height', 'B', slope * (place.value - face.bottomMm) * COMMANDED_SIZE_RELATIVE_SD, 0),
    line('speed', 'B', perShare * speed, expectedHz * speed),
    line('layer-rounding', 'B', slope * layerHeightMm * RECTANGULAR, 0),
    line('layer-origin', 'B', slope * combineSd(EDGE_SD_MM, CORNER_SD_PX / pxPerMm), 0),
    line(
      'axis-damping',
      'B',
      0,
      slopeOf((zeta) => expectedNullHz(shaper, damped, zeta), dampingRatio, dampingSd) * dampingSd,
    ),
  ];
  const { fromNull, fromSpacing, combined } = combineRoutes(nullHz, expectedHz, budget);
  return {
    fromNull,
    fromSpacing,
    combined,
    budget,
    signalToNoise: percentile(Float64Array.from(amplitudes), 75) / partSd,
  };
}

interface PlannedBand {
  readonly heightMm: Mm;
  readonly ladderHz: Hz;
}

/** Bands of 1 mm that the ladder reaches. */
function bandsOf({ ladder, face }: PrintSettings, heightMm: Mm): readonly PlannedBand[] {
  return Array.from({ length: Math.floor(heightMm) - 1 }, (_, i) => face.bottomMm + i + 1).flatMap((mm) => {
    const ladderHz = ladderHzAt(ladder, mm)?.value;
    return ladderHz === undefined ? [] : [{ heightMm: mm, ladderHz }];
  });
}

/** Where ripples are seen: from behind the corner, once the longest impulse train has passed, to the ramp at the end. */
function placesOf(settings: PrintSettings, widthMm: Mm, nullHz: Hz, lowestHz: Hz): WallSamples {
  const { alongWall, shaper } = settings;
  const speedMmPerS = settings.speedMmPerS.value;
  const motion = { ...settings, speedMmPerS };
  const along = (hz: Hz) =>
    alongWall === 'off'
      ? undefined
      : shaperImpulses(
          alongWall === 'as-ladder' ? { ...shaper, hz } : { ...alongWall, hzMeans: shaper.hzMeans },
        );
  const all = Float64Array.from({ length: Math.floor(widthMm / STEP_MM) }, (_, i) => (i + 0.5) * STEP_MM);
  const map = travelMap(motion, along(nullHz), all);
  const longestS = along(lowestHz)?.timesS.at(-1) ?? 0;
  const endMm = widthMm - Math.max(FAR_END_MM, rampLengthMm(motion));
  const used = [...all.keys()].filter(
    (i) => (all[i] ?? 0) > CORNER_MM && (all[i] ?? 0) < endMm && (map.timeS[i] ?? 0) > longestS,
  );
  const pick = (from: Float64Array) => Float64Array.from(used, (i) => from[i] ?? 0);
  return {
    positionsMm: pick(all),
    timeS: pick(map.timeS),
    slowness: pick(map.speedMmPerS).map((v) => speedMmPerS / v),
    speedMmPerS,
  };
}

/** What the shaper leaves of the swing, the mean over the layers of a band: not 0 where its middle has the null. */
function meanLeft(
  { ladder, shaper }: PrintSettings,
  middleMm: Mm,
  { naturalHz, dampingRatio }: GuessedAxis,
): number {
  const parts = IN_BAND_MM.flatMap((off) => {
    const hz = ladderHzAt(ladder, middleMm + off)?.value;
    if (hz === undefined) return [];
    const { re, im } = residualFactor(shaperImpulses({ ...shaper, hz }), naturalHz, dampingRatio);
    return [Math.hypot(re, im)];
  });
  return parts.reduce((sum, part) => sum + part, 0) / Math.max(1, parts.length);
}

/** What a speed that is told too high, by a share of 1, changes of a height's amplitude where the wall is shaped: −λτz. */
function late(
  { shaper }: PrintSettings,
  { gain, left }: NullHeight,
  ladderHz: Hz,
  { naturalHz, dampingRatio }: GuessedAxis,
): Complex {
  const { re, im } = left(naturalHz, dampingRatio);
  const delayS = meanDelayS(shaperImpulses({ ...shaper, hz: ladderHz }));
  const omega = 2 * Math.PI * naturalHz * delayS * gain;
  const [grow, turn] = [-omega * dampingRatio, omega * Math.sqrt(1 - dampingRatio * dampingRatio)];
  return { re: -(grow * re - turn * im), im: -(grow * im + turn * re) };
}

function slopeOf(value: (zeta: DampingRatio) => Hz, zeta: DampingRatio, sd: DampingRatio): number {
  const step = Math.min(sd, zeta);
  return (value(zeta + step) - value(zeta - step)) / (2 * step);
}
