import {
  combineSd,
  COVERAGE_95,
  interval95,
  relativeU95,
  type Estimate,
  type Interval,
} from '../core/estimate.js';
import { REVERSAL_F, SHAPER_TOLERANCE, type RefusalReason } from '../core/outcome.js';
import type { DampingRatio, Hz, Mm, Px } from '../core/units.js';
import { faceConflict } from '../face/conflict.js';
import type { FaceGeometry } from '../face/rectifyFace.js';
import type { SeenFace, UnseenFace } from '../face/seenFace.js';
import { untoldGapMm } from '../face/untoldGap.js';
import { residualSize } from '../physics/residual.js';
import { naturalHz } from '../physics/oscillator.js';
import { shaperImpulses } from '../physics/shapers.js';
import { ladderHeightsAt, ladderHzAt, ladderRangeHz, ladderSlopeHzPerMm } from '../print/ladder.js';
import type { PrintSettings } from '../print/settle.js';
import type { Profiles } from '../profiles/makeProfiles.js';
import { dampingSd } from '../ripple/dampingSd.js';
import { columnsLeft, LEAST_COLUMNS } from '../ripple/jointFit.js';
import {
  LEAST_DAMPING,
  MOST_DAMPING,
  spacingMm,
  SWAPPED_ENDS,
  type Ripples,
} from '../ripple/measureRipples.js';
import { STANDS_OUT, type ProofRipples } from '../ripple/proofRipples.js';
import { SEARCH_HZ } from '../ripple/searchBand.js';
import { combineRoutes, type BudgetLine, type CombinedRoutes } from './budget.js';
import type { SignedAmplitude } from './gainProblem.js';
import {
  fitNull,
  isHumped,
  LEAST_HEIGHTS,
  shaperNullHz,
  tryNull,
  type NullFit,
  type NullQuestion,
  type NullTrial,
} from './nullFit.js';
import { doubledSetting, readProof, type Proof } from './proof.js';
import { sinceThen, type EarlierHz, type SinceThen } from './sinceThen.js';
import { compareRoutes, type SpacingCheck, type SpacingConflict } from './spacingCheck.js';

/** The number that decided, beside the limit it was held against. */
export interface Criterion {
  readonly quantity: string;
  readonly value: number;
  readonly limit: number;
}

/** A band that can be proposed. */
export interface Proposed {
  readonly state: 'proposed';
  /** Ladder frequency at which this axis rings least: what to enter. */
  readonly frequencyHz: Interval;
  readonly fromNull: Interval;
  readonly fromSpacing: Interval;
  readonly combined: Interval;
  /** Height above the bed where ringing vanishes. */
  readonly bestHeightMm: Interval;
  /** Heights above the bed where little ringing is left by the model: at most `mostLeft`. */
  readonly cleanBandMm: {
    readonly low: Mm;
    readonly high: Mm;
    /** Share of the unshaped ringing: 0.05, or √2 times the least (of hump shapers: their inner humps) where that is more. */
    readonly mostLeft: number;
  };
  /** What the 95 % interval is good enough for. */
  readonly goodFor: 'ZV' | 'ZVD';
  readonly axis: string;
}

/** No band can be proposed, because … */
export interface Refused {
  readonly state: 'refused';
  readonly reason: RefusalReason;
  readonly criterion?: Criterion;
}

/** Asked for the frequency by spacing only: no ladder is needed. */
export interface SpacingOnly {
  readonly state: 'spacing-only';
  /** Damped frequency of the axis. */
  readonly frequencyHz: Interval;
  readonly axis: string;
  /** Held against an earlier frequency, where one was told. */
  readonly since?: SinceThen;
}

export type Proposal = Proposed | Refused | SpacingOnly | Proof;

/** Everything that was found on the way to the decision. */
export interface Decision {
  readonly proposal: Proposal;
  readonly spacingCheck: SpacingCheck;
  /** Damped frequency and damping ratio with all causes of uncertainty; absent when nothing repeats. */
  readonly ringing?: { readonly frequencyHz: Estimate; readonly dampingRatio: Estimate };
  /** Of the null and the one that the spacing predicts; of the frequency by spacing alone where no null was looked for. */
  readonly budget: readonly BudgetLine[];
  /** The fit along the ladder, where one was possible. */
  readonly nullFit?: NullFit;
  /** Ladder frequency of its null, with all causes of uncertainty. */
  readonly fromNull?: Estimate;
  /** How far null and spacing lie apart, in standard uncertainties of their difference. */
  readonly strain?: number;
}

/** Where the face is, and how much of it is burnt out once its pixels have been looked at. */
export interface SeenGeometry extends FaceGeometry {
  /** Share of the face's pixels at the brightest code. */
  readonly clippedShare?: number;
}

/** What the stages before have measured. */
export interface Evidence {
  readonly settings: PrintSettings;
  readonly geometry: SeenGeometry;
  readonly profiles: Profiles | undefined;
  readonly ripples: Ripples | undefined;
  /** Of a proof print: amplitudes by acceleration; absent where none was printed, asked for or read. */
  readonly proof?: ProofRipples;
  /** The user asked for a quick re-check by spacing only. */
  readonly spacingOnly: boolean;
  /** An earlier frequency, to hold the one by spacing against. */
  readonly was?: EarlierHz;
  /** Fields of the print record that were assumed. */
  readonly assumed: ReadonlySet<string>;
}

/** Fewer px per ripple cannot show its shape: DESIGN 5.7. */
const LEAST_PX_PER_RIPPLE = 15;
/** The slowest ringing looked for; a face too coarse for it is too coarse for any. */
const SLOWEST_HZ = SEARCH_HZ.low;
const SNR_NOTHING = 2.5;
const SNR_NOISY = 5;
/** What may decay or not, as far as can be told, is no ringing for certain: a scratch or an edge imitates it. */
const MOST_DECAY_U95 = 1.5;
const LEAST_RANGE_HZ = 1;
const SIDE_SIGNAL = 2;
/** Share of the face that may be burnt out, and above which burnt-out light explains why nothing is found. */
const MOST_CLIPPED = 0.3;
const SUSPECT_CLIPPED = 0.05;
/** What burnt-out light can bring about. */
const BY_GLARE: ReadonlySet<RefusalReason> = new Set([
  'no-ringing',
  'too-noisy',
  'fixed-pitch-only',
  'not-ringing',
  'one-sided',
  'no-reversal',
  'too-uncertain',
]);
/**
 * Shares of a ripple's amplitude that blur may leave. On drawn faces proposals stay right down to a tenth; what fails
 * is the signal, which is halved at the first of these (a face at SNR 10 is then refused as too noisy). Below the
 * second nothing but chance is left: the frequencies found there have nothing to do with the axis.
 */
const LEAST_KEPT = { suspect: 0.5, expected: 0.02 } as const;
/** What blur can bring about: it weakens ripples, and smears those next to the corner. */
const BY_BLUR: ReadonlySet<RefusalReason> = new Set([...BY_GLARE, 'acceleration-disagrees']);
/** Middle of where axes ring, 20 to 100 Hz (common practice, no source). */
export const USUAL_HZ: Hz = 45;
/** Brightness follows the square of the slope more than the slope itself: DESIGN 5.2. */
const MOST_DOUBLING = 1;
/**
 * Chi-square by which doubled ripples must fit better: three standard deviations and some. On drawn faces lit from
 * the side it stays below 1, on those lit from the front whose ripples stand out most have over 20 (tuning seeds).
 */
const DOUBLED_CHI_SQUARE = 10;
/**
 * Chi-square by which ripples must fit better that turn over along the wall. On drawn faces lit from the side it stays
 * below 25, and on those whose ripples turn over within 2 decay lengths most that show them have over 80 (tuning seeds).
 */
const TURNED_CHI_SQUARE = 50;
/**
 * A turn farther behind the corner does little harm: less than e⁻⁴/5 = 0.4 % of the ripples' energy lies beyond it. On
 * drawn faces frequency and null are right then, only the damping ratio looks up to 1.7 times as large.
 */
const MOST_TURN_DECAYS = 2;
/**
 * What light from the front can bring about, whose ripples have twice the axis's frequency. Where the decay is too
 * fast for ringing, the squares have died out before the wall that is read, and say nothing.
 */
const BY_FRONT: ReadonlySet<RefusalReason> = new Set([
  'too-noisy',
  'acceleration-disagrees',
  'below-ladder',
  'above-ladder',
  'one-sided',
  'no-reversal',
  'spacing-disagrees',
  'ladder-reversed',
  'too-uncertain',
]);
/**
 * Another acceleration may explain so much more before the told one is in doubt. On drawn faces with the right
 * one it is below 2 %, with one wrong enough to matter above 3 % (docs/accuracy).
 */
const ACCELERATION_GAIN = 0.03;
/** A null this far from where the spacing expects it is no null of this axis, however uncertain it is. */
const FAR_APART = 0.1;
/** Misfits this near are told apart by nothing but chance. */
const NO_WORSE = 1.2;
/** Residual ringing that counts as clean, share of the unshaped. */
export const CLEAN_SHARE = 0.05;
/** Where the shaper's damping setting does not fit the axis, ringing never falls to that share: then up to
 * this many times the least counts as clean. */
const CLEAN_OVER_LEAST = Math.SQRT2;
/** Of 2- and 3-hump EI what is left this far off is part of the band: their inner humps, whose tops lie at 1 and 1.2. */
const HUMP_TOP = 1.2;
/** An ungated null this much better than the gated one (in units of chi-square) contradicts the spacing. */
const UNGATED_GAIN = 25;
/**
 * How far a printed corner strays from a straight line over the height, standard uncertainty: the outline
 * lies within 0.3 mm of the box, and a phone lens bows it by as much.
 */
const CORNER_BOW_MM: Mm = 0.15;
/** Standard uncertainty of an assumed shaper damping: machines lie at 0.05–0.15 (common practice, no source). */
const ASSUMED_DAMPING_SD: DampingRatio = 0.03;

/**
 * Decides whether a cleanest band can be proposed.
 * @param evidence - What the stages before have measured.
 * @returns The proposal or the refusal with its reason, and all that was found on the way.
 */
export function decideBand(evidence: Evidence): Decision {
  const decision = decideOnEvidence(evidence);
  const { proposal } = decision;
  const reason = proposal.state === 'refused' ? proposal.reason : undefined;
  const clipped = evidence.geometry.clippedShare ?? 0;
  if (reason !== undefined && BY_GLARE.has(reason) && clipped > SUSPECT_CLIPPED) {
    return { ...decision, proposal: refusal('glare', CLIPPED_QUANTITY, clipped, SUSPECT_CLIPPED) };
  }
  const { proposal: proof } = decision;
  // Ringing that burnt-out or blurred light may hide cannot be ruled out.
  const quiet = proof.state === 'proof' && proof.steps.some((step) => step.heights > 0 && !step.significant);
  if (quiet && clipped > SUSPECT_CLIPPED) {
    return { ...decision, proposal: refusal('glare', CLIPPED_QUANTITY, clipped, SUSPECT_CLIPPED) };
  }
  const kept = keptByBlur(evidence);
  if (quiet && kept.usual < LEAST_KEPT.suspect) {
    return { ...decision, proposal: refusal('blurred', KEPT_QUANTITY, kept.usual, LEAST_KEPT.suspect) };
  }
  if (reason !== undefined && BY_BLUR.has(reason) && kept.usual < LEAST_KEPT.suspect) {
    return { ...decision, proposal: refusal('blurred', KEPT_QUANTITY, kept.usual, LEAST_KEPT.suspect) };
  }
  const fromFront =
    reason === undefined || BY_FRONT.has(reason)
      ? litFromFront(evidence, decision)
      : reason === 'not-ringing'
        ? turnedOver(evidence)
        : undefined;
  return fromFront === undefined ? decision : { ...decision, proposal: fromFront };
}

/**
 * The decision where no face can be read.
 * @param search - What was found in the photo: no face, or one whose size nothing tells.
 * @param photo - Sides of the photo, px.
 * @returns The refusal.
 */
export function decideWithoutFace(
  search: SeenFace | UnseenFace,
  photo: { readonly widthPx: Px; readonly heightPx: Px },
): Decision {
  const longestPx = Math.max(photo.widthPx, photo.heightPx);
  return {
    proposal:
      longestPx < LEAST_PHOTO_PX
        ? refusal('too-coarse', 'longer side of the photo, px', longestPx, LEAST_PHOTO_PX)
        : { state: 'refused', reason: WITHOUT_FACE[search.how] },
    spacingCheck: { state: 'not-measurable' },
    budget: [],
  };
}

/** A face of 80 mm that fills the photo has so many px at 15 for each ripple of 2.4 mm, which 45 Hz make at 110 mm/s. */
const LEAST_PHOTO_PX = 500;

/** A face that was given or found is not read only where nothing tells its size. */
const WITHOUT_FACE: Readonly<Record<(SeenFace | UnseenFace)['how'], RefusalReason>> = {
  given: 'scale-missing',
  found: 'scale-missing',
  'not-found': 'face-not-found',
  unclear: 'face-unclear',
  'cut-off': 'face-cut-off',
};

/**
 * The refusal of a face lit from the front, whose brightness follows the square of the slope more than the slope.
 * Where only the doubled ripples show, they are taken for ripples of twice the frequency; but their amplitudes are
 * the squares of what the ladder makes of the axis, and touch zero where a shaper of half the frequency has its null.
 */
function litFromFront(evidence: Evidence, { ringing, nullFit }: Decision): Refused | undefined {
  const { ripples } = evidence;
  if (ripples === undefined || ringing === undefined) return undefined;
  const { doubling } = ripples;
  if (doubling !== undefined && doubling.value - COVERAGE_95 * doubling.sd > MOST_DOUBLING) {
    return refusal(
      'light-from-front',
      'amplitude of the ripples at twice their frequency ÷ at it',
      doubling.value,
      MOST_DOUBLING,
    );
  }
  const turned = turnedOver(evidence);
  if (turned !== undefined) return turned;
  const question = questionOf(evidence, ripples, ringing);
  const amplitudes = signedAmplitudes(evidence.profiles, ripples);
  const expectedHz = expectedNullHz(question.shaper, question.frequencyHz / 2, question.dampingRatio);
  const onLadder = (hz: Hz) => ladderHeightsAt(evidence.settings.ladder, hz).length > 0;
  if (![1 - FAR_APART, 1, 1 + FAR_APART].some((share) => onLadder(share * expectedHz))) return undefined;
  const doubled = tryNull(amplitudes, {
    ...question,
    frequencyHz: question.frequencyHz / 2,
    cornerPhaseRad: question.cornerPhaseRad / 2,
    timeOrigins: [0],
    squared: true,
  });
  if (doubled === undefined || Math.abs(doubled.nullHz / expectedHz - 1) > FAR_APART) return undefined;
  if (!onLadder(doubled.nullHz)) return undefined;
  const better = (cost: number) => (cost - doubled.cost) / doubled.reducedChiSquare;
  // The fit that was chosen is at hand: what it does not rule out is held against every other.
  const known = nullFit === undefined ? Infinity : better(nullFit.cost);
  if (known <= DOUBLED_CHI_SQUARE) return undefined;
  const others = [true, false].map((gated) => tryNull(amplitudes, { ...question, gated })?.cost ?? Infinity);
  const chiSquare = Math.min(known, ...others.map(better));
  return chiSquare <= DOUBLED_CHI_SQUARE || chiSquare === Infinity
    ? undefined
    : refusal(
        'light-from-front',
        'how much better doubled ripples fit the ladder, chi-square',
        chiSquare,
        DOUBLED_CHI_SQUARE,
      );
}

/**
 * Shares of the amplitude of expected ripples that the photo's blur leaves, of the slowest and of usual ones.
 * @see Fourier transform of a Gaussian: exp(−2π² (s/p)²) of period p is left by a standard deviation s.
 */
function keptByBlur({ settings, geometry }: Pick<Evidence, 'settings' | 'geometry'>): {
  readonly slowest: number;
  readonly usual: number;
} {
  const range = ladderRangeHz(settings.ladder);
  const kept = (hz: Hz) => {
    const periodPx = spacingMm(settings.speedMmPerS.value, hz) * geometry.pxPerMm.alongWall;
    return Math.exp(-2 * (Math.PI * ((geometry.blurPx ?? 0) / periodPx)) ** 2);
  };
  return {
    slowest: kept(range?.lowHz ?? SLOWEST_HZ),
    usual: kept(range === undefined ? USUAL_HZ : Math.sqrt(range.lowHz * range.highHz)),
  };
}

/**
 * The refusal of a face whose ripples turn over along the wall: the lamp stands in front of that place, or its
 * reflection does. Until there they shrink faster than they decay, which may look like no ringing at all.
 */
function turnedOver({ ripples }: Evidence): Refused | undefined {
  const turn = ripples?.phaseTurn;
  if (turn === undefined || turn.decays > MOST_TURN_DECAYS || turn.chiSquare <= TURNED_CHI_SQUARE)
    return undefined;
  return refusal(
    'light-from-front',
    `how much better ripples fit that turn over ${String(Math.round(turn.atMm))} mm behind the corner, chi-square`,
    turn.chiSquare,
    TURNED_CHI_SQUARE,
  );
}

const UPSIDE_DOWN = 'misfit upside down ÷ misfit as told';
const BETWEEN_ROUTES = 'null and frequency by spacing apart, Hz';
const USABLE_WALL = 'wall that can be used, mm';
const KEPT_QUANTITY = 'share of the ripples that the blur leaves';
const CLIPPED_QUANTITY = 'share of the face that is burnt out';

function decideOnEvidence(evidence: Evidence): Decision {
  const { settings, geometry, profiles, ripples } = evidence;
  const speedMmPerS = settings.speedMmPerS.value;
  const coarsest = (geometry.pxPerMm.alongWall * speedMmPerS) / SLOWEST_HZ;
  const clipped = geometry.clippedShare ?? 0;
  const kept = keptByBlur(evidence).slowest;
  const wall = profiles?.walls[0];
  const columns =
    ripples === undefined && profiles !== undefined && profiles.bands.length > 0 && wall !== undefined
      ? columnsLeft(profiles, settings, wall)
      : Infinity;
  const stepMm = profiles?.stepMm ?? 0;
  const snr = ripples?.signalToNoise ?? 0;
  // That little or nothing shows is what a proof print is for.
  const nothing = !isProof(evidence) && !(snr > SNR_NOTHING);
  const patterns = ripples?.fixedPitches.length ?? 0;
  const blind = firstFailing([
    ['glare', clipped > MOST_CLIPPED, CLIPPED_QUANTITY, clipped, MOST_CLIPPED],
    ['too-coarse', coarsest < LEAST_PX_PER_RIPPLE, 'px per ripple', coarsest, LEAST_PX_PER_RIPPLE],
    ['blurred', kept < LEAST_KEPT.expected, KEPT_QUANTITY, kept, LEAST_KEPT.expected],
    ['wall-too-short', columns < LEAST_COLUMNS, USABLE_WALL, columns * stepMm, LEAST_COLUMNS * stepMm],
    // Below this the fit follows the noise: its frequency is not told.
    ['fixed-pitch-only', nothing && patterns > 0, 'signal-to-noise ratio', snr, SNR_NOTHING],
    ['no-ringing', nothing, 'signal-to-noise ratio', snr, SNR_NOTHING],
  ]);
  const conflict = faceConflict(geometry);
  const misshapen = conflict && refusal('scales-disagree', conflict.quantity, conflict.value, conflict.limit);
  if (ripples === undefined || blind !== undefined) {
    // Corners or sizes that contradict each other explain why nothing is seen.
    const proposal = misshapen ?? blind ?? refusal('no-ringing', 'signal-to-noise ratio', snr, SNR_NOTHING);
    return { proposal, spacingCheck: { state: 'not-measurable' }, budget: [] };
  }

  const shares = spacingShares(ripples, settings, geometry);
  const ringing = ringingWithBudget(ripples, shares);
  const { frequencyHz } = ringing;
  const spacing = spacingMm(speedMmPerS, frequencyHz.value);
  // The spacing itself does not depend on the speed, only on where the ripples are.
  const spacingSd =
    spacing * combineSd(ripples.frequencyHz.sd / frequencyHz.value, geometry.lengthRelativeSd);
  const found: FoundRinging = {
    ringing,
    spacingCheck: { state: 'not-measurable', spacingMm: { value: spacing, sd: spacingSd }, frequencyHz },
    budget: spacingBudget(frequencyHz.value, shares),
  };
  if (isProof(evidence)) {
    const decision = decideOnProof(evidence, ripples, found);
    return misshapen === undefined ? decision : { ...decision, proposal: misshapen };
  }
  const pxPerRipple = spacing * geometry.pxPerMm.alongWall;
  const spacingU95 = relativeU95(frequencyHz);
  const zeta = ripples.dampingRatio.value;
  const decayU95 = relativeU95(ringing.dampingRatio);
  const grows = ripples.undamped && ripples.endRatio > SWAPPED_ENDS;
  const unfit = firstFailing([
    ['too-coarse', pxPerRipple < LEAST_PX_PER_RIPPLE, 'px per ripple', pxPerRipple, LEAST_PX_PER_RIPPLE],
    [
      'not-ringing',
      grows,
      'ripple energy at the far end ÷ at the leading corner',
      ripples.endRatio,
      SWAPPED_ENDS,
    ],
    [
      'not-ringing',
      frequencyHz.value < SLOWEST_HZ,
      'frequency by spacing, Hz',
      frequencyHz.value,
      SLOWEST_HZ,
    ],
    ['fixed-pitch-only', ripples.undamped, 'damping ratio', zeta, LEAST_DAMPING],
    ['not-ringing', zeta >= MOST_DAMPING, 'damping ratio', zeta, MOST_DAMPING],
    ['too-noisy', snr <= SNR_NOISY, 'signal-to-noise ratio', snr, SNR_NOISY],
    [
      'acceleration-disagrees',
      ripples.acceleration.gain > ACCELERATION_GAIN,
      `how much better ${String(Math.round(ripples.acceleration.accelerationMmPerS2))} mm/s² fits the ripples, share`,
      ripples.acceleration.gain,
      ACCELERATION_GAIN,
    ],
    // A spacing that says nothing cannot check a null, and is no answer by itself either.
    [
      'too-uncertain',
      spacingU95 > SHAPER_TOLERANCE.ZVD,
      '95 % half-width ÷ frequency by spacing',
      spacingU95,
      SHAPER_TOLERANCE.ZVD,
    ],
    ['not-ringing', decayU95 > MOST_DECAY_U95, '95 % half-width ÷ damping ratio', decayU95, MOST_DECAY_U95],
  ]);
  const refused = misshapen ?? unfit;
  if (refused !== undefined) return { ...found, proposal: refused };
  if (evidence.spacingOnly) {
    const { was } = evidence;
    const proposal = {
      state: 'spacing-only',
      frequencyHz: interval95(frequencyHz),
      axis: settings.axis,
      ...(was === undefined ? {} : { since: sinceThen(was, frequencyHz, zeta) }),
    } as const;
    return { ...found, proposal };
  }
  const range = ladderRangeHz(settings.ladder);
  const width = range === undefined ? 0 : range.highHz - range.lowHz;
  if (range === undefined || width < LEAST_RANGE_HZ) {
    const proposal = refusal('ladder-has-no-range', 'range of the ladder, Hz', width, LEAST_RANGE_HZ);
    return { ...found, proposal };
  }
  return decideOnLadder(evidence, ripples, found, range);
}

function isProof({ settings, spacingOnly }: Evidence): boolean {
  return settings.accelerationLadder !== undefined && !spacingOnly;
}

/** What a proof print shows. Ripples that nobody can tell from noise have no frequency and no spacing. */
function decideOnProof(evidence: Evidence, ripples: Ripples, found: FoundRinging): Decision {
  const { settings, geometry, profiles, proof } = evidence;
  const wall = profiles?.walls[0];
  if (proof === undefined || proof.steps.every((step) => step === undefined)) {
    const columns = profiles === undefined || wall === undefined ? 0 : columnsLeft(profiles, settings, wall);
    const stepMm = profiles?.stepMm ?? 0;
    const proposal = refusal('wall-too-short', USABLE_WALL, columns * stepMm, LEAST_COLUMNS * stepMm);
    return { proposal, spacingCheck: { state: 'not-measurable' }, budget: [] };
  }
  const reading = readProof(settings, proof, found.ringing);
  const { at } = reading;
  const hz = at.state === 'measured' ? at.dampedHz.value : at.state === 'assumed' ? at.dampedHz : at.highHz;
  const pxPerRipple = spacingMm(settings.speedMmPerS.value, hz) * geometry.pxPerMm.alongWall;
  const twice = doubledSetting(settings, reading) ?? 0;
  const unfit = firstFailing([
    ['too-coarse', pxPerRipple < LEAST_PX_PER_RIPPLE, 'px per ripple', pxPerRipple, LEAST_PX_PER_RIPPLE],
    [
      'not-ringing',
      proof.clearest > STANDS_OUT && ripples.undamped && ripples.endRatio > SWAPPED_ENDS,
      'ripple energy at the far end ÷ at the leading corner',
      ripples.endRatio,
      SWAPPED_ENDS,
    ],
    ['light-from-front', twice > 0, "frequency of the ripples ÷ the shaper's", twice, 2],
  ]);
  const seen: Found =
    at.state === 'measured' ? found : { spacingCheck: { state: 'not-measurable' }, budget: [] };
  return { ...seen, proposal: unfit ?? reading };
}

/** What stands before a decision: all of it but the proposal. */
type Found = Omit<Decision, 'proposal'>;
type FoundRinging = Found & { readonly ringing: NonNullable<Found['ringing']> };

/** A reason, whether it applies, and the number that decides beside its limit. */
type Gate = readonly [
  reason: RefusalReason,
  applies: boolean,
  quantity: string,
  value: number,
  limit: number,
];

function firstFailing(gates: readonly Gate[]): Refused | undefined {
  const gate = gates.find(([, applies]) => applies);
  return gate && refusal(gate[0], gate[2], gate[3], gate[4]);
}

function refusal(reason: RefusalReason, quantity: string, value: number, limit: number): Refused {
  return { state: 'refused', reason, criterion: { quantity, value, limit } };
}

function decideOnLadder(
  evidence: Evidence,
  ripples: Ripples,
  before: FoundRinging,
  range: { readonly lowHz: Hz; readonly highHz: Hz },
): Decision {
  const { settings } = evidence;
  const { ringing } = before;
  const amplitudes = signedAmplitudes(evidence.profiles, ripples);
  const question = questionOf(evidence, ripples, ringing);
  const expectedHz = expectedNullHz(settings.shaper, ripples.frequencyHz.value, ripples.dampingRatio.value);
  const expectedSd = (expectedHz / ripples.frequencyHz.value) * ringing.frequencyHz.sd;
  const seen: Found = {
    ...before,
    spacingCheck: { ...before.spacingCheck, expectedNullHz: { value: expectedHz, sd: expectedSd } },
  };
  const outside = firstFailing([
    [
      'below-ladder',
      expectedHz + 2 * expectedSd < range.lowHz,
      'frequency by spacing and two standard uncertainties, Hz',
      expectedHz + 2 * expectedSd,
      range.lowHz,
    ],
    [
      'above-ladder',
      expectedHz - 2 * expectedSd > range.highHz,
      'frequency by spacing less two standard uncertainties, Hz',
      expectedHz - 2 * expectedSd,
      range.highHz,
    ],
  ]);
  if (outside !== undefined) return { ...seen, proposal: outside };

  const gated = fitNull(amplitudes, question);
  const fit = chooseFit(gated, amplitudes, question);
  if (fit === undefined) {
    const proposal = refusal('one-sided', 'bands of height on the ladder', amplitudes.length, LEAST_HEIGHTS);
    return { ...seen, proposal };
  }
  const budget = makeBudget(evidence, ripples, ringing, amplitudes, question, fit, expectedHz);
  const routes = combineRoutes(fit.nullHz, expectedHz, budget);
  const turned = turnOver(evidence, ripples, amplitudes, question, gated);
  const { agree, apartHz, limitHz } = compareRoutes(routes.fromNull, routes.fromSpacing, routes.covariance);
  const found: Found = {
    ...seen,
    spacingCheck: {
      ...seen.spacingCheck,
      expectedNullHz: routes.fromSpacing,
      state: agree ? 'agrees' : 'disagrees',
      ...(agree ? {} : { explanation: explain(settings, fit, expectedHz, turned) }),
    },
    budget,
    nullFit: fit,
    fromNull: routes.fromNull,
    strain: routes.strain,
  };
  const nullU95 = relativeU95(routes.fromNull);
  const passes = Math.max(
    ...[fit.nullHz, expectedHz].map((hz) => ladderHeightsAt(settings.ladder, hz).length),
  );
  const weaker = Math.min(fit.signalBelow, fit.signalAbove);
  const apart = Math.abs(fit.nullHz / expectedHz - 1);
  const convincing = fit.reversalF > REVERSAL_F && weaker > SIDE_SIGNAL;
  const lowest = range.lowHz + 1 + routes.fromNull.sd;
  const highest = range.highHz - 1 - routes.fromNull.sd;
  const below = fit.nullHz < lowest;
  const above = fit.nullHz > highest;
  const unfit = firstFailing([
    // So much better turned over, that nothing else needs to be looked for.
    ['ladder-reversed', agree && turned.misfit < 1 / NO_WORSE, UPSIDE_DOWN, turned.misfit, 1 / NO_WORSE],
    ['two-bands-possible', passes > 1, 'heights at which the ladder passes the frequency', passes, 1],
    ['spacing-disagrees', !agree && convincing, BETWEEN_ROUTES, apartHz, limitHz],
    // The spacing says that the frequency lies well inside the ladder, but nothing turns over there.
    ['no-reversal', apart > FAR_APART && below, 'null, Hz', fit.nullHz, lowest],
    ['no-reversal', apart > FAR_APART && above, 'null, Hz', fit.nullHz, highest],
    ['below-ladder', below, 'null, Hz', fit.nullHz, lowest],
    ['above-ladder', above, 'null, Hz', fit.nullHz, highest],
    ['one-sided', weaker <= SIDE_SIGNAL, 'signal of the weaker side ÷ noise', weaker, SIDE_SIGNAL],
    ['no-reversal', fit.reversalF <= REVERSAL_F, 'F of the sign reversal', fit.reversalF, REVERSAL_F],
    ['spacing-disagrees', !agree, BETWEEN_ROUTES, apartHz, limitHz],
    [
      'too-uncertain',
      nullU95 > SHAPER_TOLERANCE.ZVD,
      '95 % half-width ÷ frequency of the null',
      nullU95,
      SHAPER_TOLERANCE.ZVD,
    ],
    ['ladder-reversed', turned.misfit < 1, UPSIDE_DOWN, turned.misfit, 1],
  ]);
  if (unfit !== undefined) return { ...found, proposal: unfit };
  return { ...found, proposal: propose(settings, fit, routes) };
}

/** The null that ripples of a damped frequency predict for a shaper, were their damping ratio this. */
function expectedNullHz(shaper: PrintSettings['shaper'], dampedHz: Hz, zeta: DampingRatio): Hz {
  return shaperNullHz(shaper, naturalHz(dampedHz, zeta), zeta);
}

/** The null near the ripples' own frequency, unless one elsewhere on the ladder explains far more. */
function chooseFit(
  gated: NullFit | undefined,
  amplitudes: readonly SignedAmplitude[],
  question: NullQuestion,
): NullFit | undefined {
  const ungated = { ...question, gated: false };
  if (gated === undefined) return fitNull(amplitudes, ungated);
  // Its uncertainty and its rival cost as much again, and are hardly ever needed.
  const trial = tryNull(amplitudes, ungated);
  if (trial === undefined || gated.cost - trial.cost <= UNGATED_GAIN * trial.reducedChiSquare) return gated;
  const free = fitNull(amplitudes, ungated);
  return free !== undefined && free.reversalF > REVERSAL_F ? free : gated;
}

function propose(settings: PrintSettings, fit: NullFit, routes: CombinedRoutes): Proposal {
  const { combined } = routes;
  const relative = relativeU95(combined);
  const height = ladderHeightsAt(settings.ladder, combined.value)[0];
  if (relative > SHAPER_TOLERANCE.ZVD || height === undefined) {
    return refusal('too-uncertain', '95 % half-width ÷ frequency', relative, SHAPER_TOLERANCE.ZVD);
  }
  const slope = Math.abs(ladderSlopeHzPerMm(settings.ladder, height.value));
  // Rounding to a layer is in the frequency's budget; rounding to a step is not.
  const rounding = settings.ladder.kind === 'stepped' ? height.sd : 0;
  const bestSd = slope === 0 ? height.sd : combineSd(combined.sd / slope, rounding);
  return {
    state: 'proposed',
    frequencyHz: interval95(combined),
    fromNull: interval95(routes.fromNull),
    fromSpacing: interval95(routes.fromSpacing),
    combined: interval95(combined),
    bestHeightMm: interval95({ value: height.value, sd: bestSd }),
    cleanBandMm: cleanBand(settings, fit, height.value),
    goodFor: relative <= SHAPER_TOLERANCE.ZV ? 'ZV' : 'ZVD',
    axis: settings.axis,
  };
}

/** Heights around the best one where little ringing is left, walked in steps of a tenth of a layer. */
function cleanBand(settings: PrintSettings, fit: NullFit, bestMm: Mm): Proposed['cleanBandMm'] {
  const stepMm = settings.layerHeightMm / 10;
  // The best height is the combined one; the model's null is moved there, so that the band surrounds it.
  const atBest = ladderHzAt(settings.ladder, bestMm)?.value ?? fit.nullHz;
  const scale = fit.nullHz / atBest;
  const left = (hz: Hz) =>
    residualSize(shaperImpulses({ ...settings.shaper, hz }), fit.naturalHz, fit.dampingRatio);
  const inner = isHumped(settings.shaper.family) ? [1 / HUMP_TOP, 1, HUMP_TOP] : [1];
  const reached = Math.max(...inner.map((share) => left(share * fit.nullHz)));
  const most = Math.max(CLEAN_SHARE, CLEAN_OVER_LEAST * reached);
  const clean = (heightMm: Mm) => {
    const hz = ladderHzAt(settings.ladder, heightMm)?.value;
    return hz !== undefined && left(hz * scale) <= most;
  };
  let low = bestMm;
  let high = bestMm;
  while (clean(low - stepMm)) low -= stepMm;
  while (clean(high + stepMm)) high += stepMm;
  return { low, high, mostLeft: most };
}

/** Relative standard uncertainty of the frequency by spacing, by cause. */
interface SpacingShares {
  readonly scatter: number;
  readonly speed: number;
  /** Of lengths along the wall, without what a reference gives of both length and height. */
  readonly wall: number;
  readonly reference: number;
}

function spacingShares(
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

/** The budget of the frequency by spacing, while no null has been looked for. */
function spacingBudget(frequencyHz: Hz, shares: SpacingShares): readonly BudgetLine[] {
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

/** Frequency and damping with speed and scale added to their scatter. */
function ringingWithBudget(ripples: Ripples, shares: SpacingShares): NonNullable<Decision['ringing']> {
  const { frequencyHz, dampingRatio } = ripples;
  const relative = combineSd(shares.scatter, shares.speed, shares.wall, shares.reference);
  return {
    frequencyHz: { value: frequencyHz.value, sd: frequencyHz.value * relative },
    dampingRatio: { value: dampingRatio.value, sd: dampingSd(ripples) },
  };
}

/** Amplitudes of the shaped heights, with the ladder's frequency there or where another rule puts them. */
function signedAmplitudes(
  profiles: Profiles | undefined,
  ripples: Ripples,
  hzAt?: (heightMm: Mm) => Hz | undefined,
): readonly SignedAmplitude[] {
  const result: SignedAmplitude[] = [];
  profiles?.bands.forEach((band, i) => {
    const at = ripples.amplitudes[i];
    const ladderHz = hzAt === undefined ? band.ladderHz : hzAt(band.heightMm);
    if (band.ladderHz === undefined || ladderHz === undefined || at === undefined) return;
    result.push({ ladderHz, re: at.amplitude.re, im: at.amplitude.im, sd: at.sd });
  });
  return result;
}

/** What the null fit is asked first. */
function questionOf(evidence: Evidence, ripples: Ripples, ringing: FoundRinging['ringing']): NullQuestion {
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

/** How well the corner's place is known at each height, as a phase of the ripples, radians. */
function cornerPhase({ geometry, settings }: Evidence, ripples: Ripples): number {
  const sdMm = combineSd(geometry.cornerSdPx / geometry.pxPerMm.alongWall, CORNER_BOW_MM);
  return (2 * Math.PI * sdMm) / spacingMm(settings.speedMmPerS.value, ripples.frequencyHz.value);
}

/** Every cause of uncertainty with its effect on both routes: GUM, type A and B apart, listed one by one. */
function makeBudget(
  evidence: Evidence,
  ripples: Ripples,
  ringing: FoundRinging['ringing'],
  amplitudes: readonly SignedAmplitude[],
  question: NullQuestion,
  fit: NullFit,
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
  const heights = ladderHeightsAt(settings.ladder, fit.nullHz);
  const heightMm = heights[0]?.value ?? geometry.bottomMm;
  const slope = ladderSlopeHzPerMm(settings.ladder, heightMm);
  const perHeightShare = slope * (heightMm - geometry.bottomMm);
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
      nullHz: ladderHzAt(settings.ladder, heightMm)?.sd ?? 0,
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

/** The null with the face turned upside down. */
interface TurnedOver {
  /** Its misfit ÷ that as told, over the heights that the ladder covers both ways; Infinity where they are too few. */
  readonly misfit: number;
  readonly nullHz: Hz;
}

function turnOver(
  { settings, geometry, profiles }: Evidence,
  ripples: Ripples,
  amplitudes: readonly SignedAmplitude[],
  question: NullQuestion,
  asTold: NullTrial | undefined,
): TurnedOver {
  const middleMm = geometry.bottomMm + geometry.heightMm / 2;
  const turnedHz = (heightMm: Mm) => ladderHzAt(settings.ladder, 2 * middleMm - heightMm)?.value;
  const turned = tryNull(signedAmplitudes(profiles, ripples, turnedHz), question);
  const both = signedAmplitudes(profiles, ripples, (heightMm) =>
    turnedHz(heightMm) === undefined ? undefined : ladderHzAt(settings.ladder, heightMm)?.value,
  );
  // Where the ladder covers all heights both ways, the null as told is known.
  const told = both.length === amplitudes.length ? asTold : tryNull(both, question);
  if (turned === undefined || told === undefined) return { misfit: Infinity, nullHz: 0 };
  return { misfit: turned.cost / told.cost, nullHz: turned.nullHz };
}

/** Which single mistake would reconcile null and spacing. */
function explain(settings: PrintSettings, fit: NullFit, expectedHz: Hz, turned: TurnedOver): SpacingConflict {
  const apart = (nullHz: Hz) => Math.abs(nullHz / expectedHz - 1);
  // Turned over it would agree with the spacing, and fit the ladder no worse.
  const reversed =
    turned.misfit < NO_WORSE && apart(turned.nullHz) < Math.min(FAR_APART / 2, apart(fit.nullHz));
  const height = ladderHeightsAt(settings.ladder, fit.nullHz)[0];
  return {
    cause: turned.misfit < 1 || reversed ? 'reversed-ladder' : 'speed',
    impliedSpeedMmPerS: (settings.speedMmPerS.value * fit.nullHz) / expectedHz,
    nullHz: fit.nullHz,
    ...(height === undefined ? {} : { nullHeightMm: height.value }),
  };
}
