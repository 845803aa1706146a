import { combineSd, type Estimate } from '../core/estimate.js';
import type { Hz, Mm, DampingRatio } from '../core/units.js';
import type { FaceGeometry } from '../face/rectifyFace.js';
import { untoldGapMm } from '../face/untoldGap.js';
import { naturalHz } from '../physics/oscillator.js';
import { ladderHeightsAt, ladderHzAt, ladderSlopeHzPerMm, type Ladder } from '../print/ladder.js';
import type { PrintSettings } from '../print/settle.js';
import type { Profiles } from '../profiles/makeProfiles.js';
import { dampingSd } from '../ripple/dampingSd.js';
import { spacingMm, type Ripples } from '../ripple/measureRipples.js';
import type { BudgetLine } from './budget.js';
import type { Decision, Evidence, FoundRinging } from './decision.js';
import type { SignedAmplitude } from './gainProblem.js';
import { shaperNullHz, tryNull, type NullQuestion } from './nullFit.js';
import type { SharedNull } from './nullTogether.js';

/**
 * How far a printed corner strays from a straight line over the height, standard uncertainty: the outline
 * lies within 0.3 mm of the box, and a phone lens bows it by as much.
 */
export const CORNER_BOW_MM: Mm = 0.15;

/** Standard uncertainty of an assumed shaper damping: machines lie at 0.05–0.15 (common practice, no source). */
const ASSUMED_DAMPING_SD: DampingRatio = 0.03;

/** Relative standard uncertainty of the frequency by spacing, by cause. */
export interface SpacingShares {
  readonly scatter: number;
  readonly speed: number;
  /** Of lengths along the wall, without what a reference gives of both length and height. */
  readonly wall: number;
  readonly reference: number;
}

/**
 * What makes the frequency by spacing uncertain.
 * @param ripples - The ripples.
 * @param settings - The print's settings.
 * @param geometry - Scale of the face.
 * @returns Relative standard uncertainties by cause.
 */
export function spacingShares(
  { frequencyHz }: Ripples,
  { speedMmPerS }: PrintSettings,
  { lengthRelativeSd, sharedRelativeSd }: FaceGeometry,
): SpacingShares {
  return {
    scatter: frequencyHz.sd / frequencyHz.value,
    speed: speedMmPerS.sd / speedMmPerS.value,
    wall: Math.sqrt(lengthRelativeSd ** 2 - sharedRelativeSd ** 2),
    reference: sharedRelativeSd,
  };
}

/**
 * The budget of the frequency by spacing, while no null has been looked for.
 * @param frequencyHz - The frequency.
 * @param shares - Its relative standard uncertainties.
 * @returns One line for each cause, with no effect on a null.
 */
export function spacingBudget(frequencyHz: Hz, shares: SpacingShares): readonly BudgetLine[] {
  const line = (cause: BudgetLine['cause'], type: BudgetLine['type'], share: number): BudgetLine => ({
    cause,
    type,
    nullHz: 0,
    spacingHz: frequencyHz * share,
  });
  return [
    line('scatter-spacing', 'A', shares.scatter),
    line('scale-along-wall', 'B', shares.wall),
    line('speed', 'B', shares.speed),
    ...(shares.reference > 0 ? [line('scale-from-reference', 'B', shares.reference)] : []),
  ];
}

/**
 * Frequency and damping with speed and scale added to their scatter.
 * @param ripples - The ripples, uncertain by scatter only.
 * @param shares - Relative standard uncertainties of the frequency.
 * @returns Both with all causes of uncertainty.
 */
export function ringingWithBudget(ripples: Ripples, shares: SpacingShares): NonNullable<Decision['ringing']> {
  const { frequencyHz, dampingRatio } = ripples;
  // Where it is not taken out it is not told either.
  const second = ripples.second?.moves === undefined ? ripples.second : undefined;
  const common = combineSd(shares.speed, shares.wall, shares.reference);
  const withCommon = ({ value, sd }: Estimate): Estimate => ({ value, sd: combineSd(sd, value * common) });
  return {
    frequencyHz: withCommon(frequencyHz),
    dampingRatio: { value: dampingRatio.value, sd: dampingSd(ripples) },
    ...(second === undefined
      ? {}
      : {
          second: {
            frequencyHz: withCommon(second.frequencyHz),
            dampingRatio: second.dampingRatio,
            share: second.share,
          },
        }),
  };
}

/**
 * Amplitudes of the shaped heights, with the ladder's frequency there or where another rule puts them.
 * @param profiles - Profiles of the face.
 * @param ripples - The ripples, of which one amplitude belongs to each band.
 * @param hzAt - Another rule: frequency at a height, mm above the bed.
 * @returns Those of the bands that have both.
 */
export function signedAmplitudes(
  profiles: Profiles | undefined,
  ripples: Ripples,
  hzAt?: (heightMm: Mm) => Hz | undefined,
): readonly SignedAmplitude[] {
  const result: SignedAmplitude[] = [];
  profiles?.bands.forEach((band, i) => {
    const at = ripples.amplitudes[i];
    const ladderHz = hzAt === undefined ? band.ladderHz : hzAt(band.heightMm);
    if (band.ladderHz === undefined || ladderHz === undefined || at === undefined) return;
    const { heightMm, ladder } = band;
    const place = { heightMm, ...(ladder === undefined ? {} : { ladder }) };
    result.push({ ...place, ladderHz, re: at.amplitude.re, im: at.amplitude.im, sd: at.sd });
  });
  return result;
}

/**
 * What the null fit is asked first.
 * @param evidence - What was measured.
 * @param ripples - The ripples.
 * @param ringing - Frequency and damping with all causes of uncertainty.
 * @returns The question, for any time origin and near the ripples' own frequency.
 */
export function questionOf(
  evidence: Evidence,
  ripples: Ripples,
  ringing: FoundRinging['ringing'],
): NullQuestion {
  return {
    shaper: evidence.settings.shaper,
    frequencyHz: ripples.frequencyHz.value,
    dampingRatio: ripples.dampingRatio.value,
    dampingSd: ringing.dampingRatio.sd,
    timeOrigins: [0, 1, -1],
    gated: true,
    cornerPhaseRad: cornerPhase(evidence, ripples),
  };
}

/**
 * How well the corner's place is known at each height.
 * @param evidence - What was measured.
 * @param ripples - The ripples.
 * @returns Standard uncertainty as a phase of the ripples, radians.
 */
export function cornerPhase(evidence: Evidence, ripples: Ripples): number {
  const { geometry, settings } = evidence;
  const sdMm = combineSd(geometry.cornerSdPx / geometry.pxPerMm.alongWall, CORNER_BOW_MM);
  return (2 * Math.PI * sdMm) / spacingMm(settings.speedMmPerS.value, ripples.frequencyHz.value);
}

/**
 * The null that ripples predict for a shaper.
 * @param shaper - Family, damping setting and what its Hz mean.
 * @param dampedHz - Damped frequency of the ripples.
 * @param zeta - Damping ratio of the axis.
 * @returns The ladder frequency at which this axis rings least.
 */
export function expectedNullHz(shaper: PrintSettings['shaper'], dampedHz: Hz, zeta: DampingRatio): Hz {
  return shaperNullHz(shaper, naturalHz(dampedHz, zeta), zeta);
}

/** A height at which a ladder passes a null. */
interface NullPlace {
  readonly heightMm: Mm;
  /** Of the ladder there, Hz per mm. */
  readonly slope: number;
  /** Its share in the null: several ladders have it from as many heights as they spend on each hertz. */
  readonly weight: number;
}

function nullPlaces(ladder: Ladder, nullHz: Hz, bottomMm: Mm): readonly NullPlace[] {
  const heights = ladderHeightsAt(ladder, nullHz).map(({ value }) => value);
  const slopes = (heights.length === 0 ? [bottomMm] : heights).map((heightMm) => ({
    heightMm,
    slope: ladderSlopeHzPerMm(ladder, heightMm),
  }));
  const perHz = slopes.map(({ slope }) => 1 / Math.max(Math.abs(slope), LEAST_SLOPE));
  const all = perHz.reduce((sum, one) => sum + one, 0);
  return slopes.map((place, i) => ({ ...place, weight: (perHz[i] ?? 0) / all }));
}

/** A ladder that stays at the null, Hz per mm: it has all the heights. */
const LEAST_SLOPE = 1e-3;

/**
 * Every cause of uncertainty with its effect on both routes: GUM, type A and B apart, listed one by one.
 * @param evidence - What was measured.
 * @param ripples - The ripples.
 * @param ringing - Frequency and damping with all causes of uncertainty.
 * @param amplitudes - Signed amplitudes over the height.
 * @param question - What the null fit was asked.
 * @param fit - The null that was found.
 * @param expectedHz - The null that the ripples predict.
 * @returns One line for each cause, signed.
 */
export function makeBudget(
  evidence: Evidence,
  ripples: Ripples,
  ringing: FoundRinging['ringing'],
  amplitudes: readonly SignedAmplitude[],
  question: NullQuestion,
  fit: SharedNull,
  expectedHz: Hz,
): readonly BudgetLine[] {
  const { settings, geometry } = evidence;
  const only = { ...question, timeOrigins: [fit.timeOrigin] };
  const refitted = (change: Partial<NullQuestion>) =>
    tryNull(amplitudes, { ...only, ...change })?.nullHz ?? fit.nullHz;
  // With the wall move shaped, a wrong speed or length shifts the time origin by its share (DESIGN 5.5).
  const shares = spacingShares(ripples, settings, geometry);
  const perShare =
    settings.alongWall === 'as-ladder'
      ? (refitted({ timeOriginShift: shares.speed }) - refitted({ timeOriginShift: -shares.speed })) /
        2 /
        shares.speed
      : 0;
  const places = nullPlaces(settings.ladder, fit.nullHz, geometry.bottomMm);
  const overPlaces = (effect: (place: NullPlace) => number) =>
    places.reduce((sum, place) => sum + place.weight * effect(place), 0);
  const slope = overPlaces((place) => place.slope);
  const perHeightShare = overPlaces((place) => place.slope * (place.heightMm - geometry.bottomMm));
  // What a reference gives both of is one cause of its own.
  const heightShare = Math.sqrt(geometry.heightRelativeSd ** 2 - shares.reference ** 2);
  const lines: BudgetLine[] = [
    { cause: 'scatter-null', type: 'A', nullHz: fit.nullSdHz, spacingHz: 0 },
    {
      cause: 'scatter-spacing',
      type: 'A',
      nullHz: 0,
      spacingHz: expectedHz * shares.scatter,
    },
    {
      cause: 'scale-along-wall',
      type: 'B',
      nullHz: perShare * shares.wall,
      spacingHz: expectedHz * shares.wall,
    },
    { cause: 'scale-along-height', type: 'B', nullHz: perHeightShare * heightShare, spacingHz: 0 },
    {
      cause: 'speed',
      type: 'B',
      nullHz: perShare * shares.speed,
      spacingHz: expectedHz * shares.speed,
    },
    {
      cause: 'layer-rounding',
      type: 'B',
      nullHz: overPlaces(({ heightMm }) => ladderHzAt(settings.ladder, heightMm)?.sd ?? 0),
      spacingHz: 0,
    },
    {
      // A face that may begin anywhere from the told bed to the top of the gap: root mean square of a rectangular
      // distribution about its end, gap ÷ √3, GUM (JCGM 100:2008) 4.3.7.
      cause: 'layer-origin',
      type: 'B',
      nullHz: slope * combineSd(geometry.bottomSdMm, untoldGapMm(settings, geometry) / Math.sqrt(3)),
      spacingHz: 0,
    },
  ];
  if (shares.reference > 0) {
    // Signed like a speed that is told too high: lengths told too short, and heights too low.
    lines.push({
      cause: 'scale-from-reference',
      type: 'B',
      nullHz: (perShare - perHeightShare) * shares.reference,
      spacingHz: expectedHz * shares.reference,
    });
  }
  for (const other of ripples.otherwise) {
    const amplitudesThen = signedAmplitudes(evidence.profiles, { ...ripples, amplitudes: other.amplitudes });
    const nullHz = tryNull(amplitudesThen, only)?.nullHz ?? fit.nullHz;
    const movedHz = other.frequencyHz - ripples.frequencyHz.value;
    lines.push({
      cause: other.cause,
      type: 'B',
      nullHz: other.sds * (nullHz - fit.nullHz),
      spacingHz: other.sds * movedHz * (expectedHz / ripples.frequencyHz.value),
    });
  }
  const { dampingRatio } = ringing;
  const nullAt = (zeta: DampingRatio) => expectedNullHz(settings.shaper, ripples.frequencyHz.value, zeta);
  lines.push({
    cause: 'axis-damping',
    type: 'B',
    // The null's own fit has the damping ratio with its uncertainty as a prior.
    nullHz: 0,
    spacingHz:
      (nullAt(dampingRatio.value + dampingRatio.sd) -
        nullAt(Math.max(0, dampingRatio.value - dampingRatio.sd))) /
      2,
  });
  if (evidence.assumed.has('shaper.dampingRatio')) {
    const zeta = settings.shaper.dampingRatio;
    const shaperWith = (change: number) => ({ ...settings.shaper, dampingRatio: Math.max(0, zeta + change) });
    const effect = (at: (shaper: PrintSettings['shaper']) => Hz) =>
      (at(shaperWith(ASSUMED_DAMPING_SD)) - at(shaperWith(-ASSUMED_DAMPING_SD))) / 2;
    lines.push({
      cause: 'shaper-damping',
      type: 'B',
      nullHz: effect((shaper) => refitted({ shaper })),
      spacingHz: effect((shaper) =>
        expectedNullHz(shaper, ripples.frequencyHz.value, ripples.dampingRatio.value),
      ),
    });
  }
  return lines;
}
