import { combineSd, COVERAGE_95, interval95, relativeU95 } from '../core/estimate.js';
import { REVERSAL_F, SHAPER_TOLERANCE, type RefusalReason } from '../core/outcome.js';
import type { Hz, Mm, Px } from '../core/units.js';
import { faceConflict } from '../face/conflict.js';
import type { SeenFace, UnseenFace } from '../face/seenFace.js';
import { ladderHeightsAt, ladderHzAt, ladderRangeHz } from '../print/ladder.js';
import type { PrintSettings } from '../print/settle.js';
import { columnsLeft, LEAST_COLUMNS } from '../ripple/jointFit.js';
import { spacingMm, SWAPPED_ENDS, type Ripples } from '../ripple/measureRipples.js';
import { STANDS_OUT } from '../ripple/proofRipples.js';
import { LEAST_DAMPING, MOST_DAMPING, MOST_DECAY_U95, SEARCH_HZ } from '../ripple/searchBand.js';
import {
  firstFailing,
  refusal,
  type Proposal,
  type Refused,
  type Decision,
  type Evidence,
  type Found,
  type FoundRinging,
  type Gate,
  type SeenGeometry,
} from './decision.js';
import type { SignedAmplitude } from './gainProblem.js';
import { oddLadder } from './oddLadder.js';
import { judgeNull, FAR_APART, outsideLadder, type TurnedOver } from './judgeNull.js';
import {
  makeBudget,
  spacingShares,
  spacingBudget,
  ringingWithBudget,
  signedAmplitudes,
  questionOf,
  expectedNullHz,
} from './makeBudget.js';
import {
  fitNull,
  LEAST_HEIGHTS,
  tryNull,
  type NullFit,
  type NullQuestion,
  type NullTrial,
} from './nullFit.js';
import { doubledSetting, readProof, type Proof } from './proof.js';
import { sinceThen } from './sinceThen.js';
import { AGREEMENT } from './spacingCheck.js';

/** Fewer px per ripple cannot show its shape: DESIGN 5.7. */
const LEAST_PX_PER_RIPPLE = 15;
/** Ringing is often this much faster than where it is expected, in the middle of the ladder (drawn and ray-traced faces). */
const FASTER = 1.4;
/** The slowest ringing looked for; a face too coarse for it is too coarse for any. */
const SLOWEST_HZ = SEARCH_HZ.low;
const SNR_NOTHING = 2.5;
const SNR_NOISY = 5;
const LEAST_RANGE_HZ = 1;
/** Share of the face that may be burnt out, and above which burnt-out light explains why nothing is found. */
const MOST_CLIPPED = 0.3;
const SUSPECT_CLIPPED = 0.05;
/** A pattern of the drive is alike all along the wall; light falls off by less than this over the thirds of a face (drawn faces). */
const PATTERN_GROWS = 1.3;
/** A proof that shows only ripples of more contrast than this proves nothing: unshaped ones have 5 to 60 % (drawn faces). */
const MOST_HIDDEN = 0.05;
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
  'two-frequencies',
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
/**
 * One of several ladders may fit so much better by itself, chi-square. On drawn faces with two right ones it stays below
 * 6, with one that was not carried out most that are read have over 60 (tuning seeds).
 */
const ODD_LADDER_CHI_SQUARE = 25;
/** An ungated null this much better than the gated one (in units of chi-square) contradicts the spacing. */
const UNGATED_GAIN = 25;

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
  const keptOfProof = proof.state === 'proof' ? keptAt(evidence, highestHz(proof)) : 1;
  if (quiet && keptOfProof < LEAST_KEPT.suspect) {
    return { ...decision, proposal: refusal('blurred', KEPT_QUANTITY, keptOfProof, LEAST_KEPT.suspect) };
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
  return { proposal: unreadable(search, photo), spacingCheck: { state: 'not-measurable' }, budget: [] };
}

function unreadable(
  search: SeenFace | UnseenFace,
  photo: { readonly widthPx: Px; readonly heightPx: Px },
): Refused {
  const longestPx = Math.max(photo.widthPx, photo.heightPx);
  if (longestPx < LEAST_PHOTO_PX) {
    return refusal('too-coarse', 'longer side of the photo, px', longestPx, LEAST_PHOTO_PX);
  }
  const cause = 'cause' in search ? search.cause : undefined;
  if (cause !== undefined) return refusal(cause.reason, cause.quantity, cause.value, cause.limit);
  return { state: 'refused', reason: WITHOUT_FACE[search.how] };
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
 * Share of the amplitude of ripples of a frequency that the photo's blur leaves.
 * @see Fourier transform of a Gaussian: exp(−2π² (s/p)²) of period p is left by a standard deviation s.
 */
function keptAt({ settings, geometry }: Pick<Evidence, 'settings' | 'geometry'>, hz: Hz): number {
  const periodPx = spacingMm(settings.speedMmPerS.value, hz) * geometry.pxPerMm.alongWall;
  return Math.exp(-2 * (Math.PI * ((geometry.blurPx ?? 0) / periodPx)) ** 2);
}

/**
 * Shares of the amplitude of expected ripples that the photo's blur leaves, of the slowest and of usual ones.
 */
function keptByBlur({ settings, geometry }: Pick<Evidence, 'settings' | 'geometry'>): {
  readonly slowest: number;
  readonly usual: number;
} {
  const range = ladderRangeHz(settings.ladder);
  const kept = (hz: Hz) => keptAt({ settings, geometry }, hz);
  return { slowest: kept(range?.lowHz ?? SLOWEST_HZ), usual: kept(usualHz(settings)) };
}

/**
 * The frequency at which ringing is expected.
 * @param settings - The print's settings.
 * @returns The middle of the ladder, or of where axes ring.
 */
export function usualHz({ ladder }: Pick<PrintSettings, 'ladder'>): Hz {
  const range = ladderRangeHz(ladder);
  return range === undefined ? USUAL_HZ : Math.sqrt(range.lowHz * range.highHz);
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

const USABLE_WALL = 'wall that can be used, mm';
const KEPT_QUANTITY = 'share of the ripples that the blur leaves';
const CLIPPED_QUANTITY = 'share of the face that is burnt out';

/**
 * What of the photo alone hides ripples, whatever they are like.
 * @param seen - The print's settings, and where its face is in the photo.
 * @returns The reasons with their limits, in their order.
 */
function photoGates(seen: Pick<Evidence, 'settings' | 'geometry'>): readonly Gate[] {
  const { settings, geometry } = seen;
  const coarsest = (geometry.pxPerMm.alongWall * settings.speedMmPerS.value) / SLOWEST_HZ;
  const clipped = geometry.clippedShare ?? 0;
  const kept = keptByBlur(seen).slowest;
  return [
    ['glare', clipped > MOST_CLIPPED, CLIPPED_QUANTITY, clipped, MOST_CLIPPED],
    ['too-coarse', coarsest < LEAST_PX_PER_RIPPLE, 'px per ripple', coarsest, LEAST_PX_PER_RIPPLE],
    ['blurred', kept < LEAST_KEPT.expected, KEPT_QUANTITY, kept, LEAST_KEPT.expected],
  ];
}

/** What is told of the size contradicts the photo. */
function misshapenFace(geometry: SeenGeometry): Refused | undefined {
  const conflict = faceConflict(geometry);
  return conflict && refusal('scales-disagree', conflict.quantity, conflict.value, conflict.limit);
}

/** What can be said of a photo before its ripples are looked at. */
export interface PhotoOutlook {
  /** Why it will be refused whatever the ripples are like; undefined where it will not. */
  readonly refused: Refused | undefined;
  /** Why it will be refused if the ripples are faint or closer than usual; undefined where nothing of the photo hides them. */
  readonly doubtful: Refused | undefined;
  /** Px for each ripple of the middle of the ladder, or of a usual frequency. */
  readonly usualPxPerRipple: Px;
}

/**
 * Judges a photo by the same limits as `decideBand`, as far as they do not lie in the ripples.
 * @param seen - The print's settings, and where its face is in the photo.
 * @returns What is to be expected of a measurement.
 */
export function outlookOf(seen: Pick<Evidence, 'settings' | 'geometry'>): PhotoOutlook {
  const { settings, geometry } = seen;
  const clipped = geometry.clippedShare ?? 0;
  const kept = keptByBlur(seen).usual;
  const usualPxPerRipple =
    spacingMm(settings.speedMmPerS.value, usualHz(settings)) * geometry.pxPerMm.alongWall;
  return {
    refused: misshapenFace(geometry) ?? firstFailing(photoGates(seen)),
    doubtful: firstFailing([
      ['glare', clipped > SUSPECT_CLIPPED, CLIPPED_QUANTITY, clipped, SUSPECT_CLIPPED],
      [
        'too-coarse',
        usualPxPerRipple < FASTER * LEAST_PX_PER_RIPPLE,
        'px per ripple of a usual frequency',
        usualPxPerRipple,
        FASTER * LEAST_PX_PER_RIPPLE,
      ],
      ['blurred', kept < LEAST_KEPT.suspect, KEPT_QUANTITY, kept, LEAST_KEPT.suspect],
    ]),
    usualPxPerRipple,
  };
}

function decideOnEvidence(evidence: Evidence): Decision {
  const { settings, geometry, profiles, ripples } = evidence;
  const speedMmPerS = settings.speedMmPerS.value;
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
    ...photoGates(evidence),
    ['wall-too-short', columns < LEAST_COLUMNS, USABLE_WALL, columns * stepMm, LEAST_COLUMNS * stepMm],
    // Below this the fit follows the noise: its frequency is not told.
    ['fixed-pitch-only', nothing && patterns > 0, 'signal-to-noise ratio', snr, SNR_NOTHING],
    ['no-ringing', nothing, 'signal-to-noise ratio', snr, SNR_NOTHING],
  ]);
  const misshapen = misshapenFace(geometry);
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
  const refused = misshapen ?? unfitRipples({ ripples, ringing, pxPerRipple, signalToNoise: snr });
  if (refused !== undefined) return { ...found, proposal: refused };
  if (evidence.spacingOnly) {
    const { was } = evidence;
    const proposal = {
      state: 'spacing-only',
      frequencyHz: interval95(frequencyHz),
      axis: settings.axis,
      ...(was === undefined ? {} : { since: sinceThen(was, frequencyHz, ripples.dampingRatio.value) }),
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

/** Ripples of one photo, or of several together. */
export interface FoundRipples {
  readonly ripples: Ripples;
  /** Frequency and damping with all causes of uncertainty. */
  readonly ringing: FoundRinging['ringing'];
  readonly pxPerRipple: number;
  readonly signalToNoise: number;
}

/**
 * The refusal of what repeats along the wall, by what it looks like itself.
 * @param found - The ripples.
 * @returns The refusal, or undefined where it may be ringing.
 */
export function unfitRipples({
  ripples,
  ringing,
  pxPerRipple,
  signalToNoise,
}: FoundRipples): Refused | undefined {
  const { frequencyHz } = ringing;
  const spacingU95 = relativeU95(frequencyHz);
  const zeta = ripples.dampingRatio.value;
  const decayU95 = relativeU95(ringing.dampingRatio);
  const grows = ripples.undamped && ripples.endRatio > SWAPPED_ENDS;
  const moves = ripples.second?.moves ?? 0;
  return firstFailing([
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
    ['too-noisy', signalToNoise <= SNR_NOISY, 'signal-to-noise ratio', signalToNoise, SNR_NOISY],
    [
      'acceleration-disagrees',
      ripples.acceleration.gain > ACCELERATION_GAIN,
      `how much better ${String(Math.round(ripples.acceleration.accelerationMmPerS2))} mm/s² fits the ripples, share`,
      ripples.acceleration.gain,
      ACCELERATION_GAIN,
    ],
    [
      'two-frequencies',
      // By what null and spacing may differ.
      moves > AGREEMENT,
      'change of the frequency by a second one that may be there, share',
      moves,
      AGREEMENT,
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
}

function isProof({ settings, spacingOnly }: Evidence): boolean {
  return settings.accelerationLadder !== undefined && !spacingOnly;
}

/** The highest frequency that a proof says anything of. */
function highestHz({ at }: Proof): Hz {
  return at.state === 'measured' ? at.dampedHz.value : at.state === 'assumed' ? at.dampedHz : at.highHz;
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
  const pxPerRipple = spacingMm(settings.speedMmPerS.value, highestHz(reading)) * geometry.pxPerMm.alongWall;
  const twice = doubledSetting(settings, reading) ?? 0;
  const hidden = reading.quietUpTo?.below ?? 0;
  const unfit = firstFailing([
    ['too-coarse', pxPerRipple < LEAST_PX_PER_RIPPLE, 'px per ripple', pxPerRipple, LEAST_PX_PER_RIPPLE],
    // What stands out clearly is no quiet wall, whatever it is: ringing that begins at the other corner, say.
    [
      'not-ringing',
      at.state !== 'measured' && proof.clearest > STANDS_OUT,
      'clearest step ÷ its noise',
      proof.clearest,
      STANDS_OUT,
    ],
    [
      'not-ringing',
      ripples.fixedPitches.length > 0 && ripples.endRatioBefore > PATTERN_GROWS,
      'ripple energy at the far end ÷ at the leading corner',
      ripples.endRatioBefore,
      PATTERN_GROWS,
    ],
    ['too-noisy', hidden > MOST_HIDDEN, 'contrast that ripples would need to show', hidden, MOST_HIDDEN],
    ['light-from-front', twice > 0, "frequency of the ripples ÷ the shaper's", twice, 2],
  ]);
  const seen: Found =
    at.state === 'measured' ? found : { spacingCheck: { state: 'not-measurable' }, budget: [] };
  return { ...seen, proposal: unfit ?? reading };
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
  const outside = outsideLadder({ value: expectedHz, sd: expectedSd }, range);
  if (outside !== undefined) return { ...seen, proposal: outside };

  const gated = fitNull(amplitudes, question);
  const fit = chooseFit(gated, amplitudes, question);
  if (fit === undefined) {
    const proposal = refusal('one-sided', 'bands of height on the ladder', amplitudes.length, LEAST_HEIGHTS);
    return { ...seen, proposal };
  }
  const budget = makeBudget(evidence, ripples, ringing, amplitudes, question, fit, expectedHz);
  const turned = turnOver(evidence, ripples, amplitudes, question, gated);
  const { spacingCheck, proposal, routes } = judgeNull({ settings, fit, expectedHz, budget, turned });
  return {
    ...seen,
    spacingCheck: { ...seen.spacingCheck, ...spacingCheck },
    budget,
    nullFit: fit,
    fromNull: routes.fromNull,
    strain: routes.strain,
    proposal: contradiction(proposal, amplitudes, question, fit) ?? proposal,
  };
}

/** The refusal of a tower whose ladders contradict each other: that one was not carried out explains the other reasons. */
function contradiction(
  proposal: Proposal,
  amplitudes: readonly SignedAmplitude[],
  question: NullQuestion,
  fit: NullFit,
): Refused | undefined {
  if (proposal.state === 'refused' && proposal.reason === 'ladder-reversed') return undefined;
  const odd = oddLadder(amplitudes, question, fit);
  return odd <= ODD_LADDER_CHI_SQUARE
    ? undefined
    : refusal(
        'ladders-disagree',
        'how much better one ladder fits without the null of all, chi-square',
        odd,
        ODD_LADDER_CHI_SQUARE,
      );
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

/**
 * The null with the face turned upside down.
 * @param evidence - What was measured.
 * @param ripples - The ripples.
 * @param amplitudes - Signed amplitudes over the height.
 * @param question - What the null fit is asked.
 * @param asTold - The null as told, over these amplitudes.
 * @returns How much worse it fits, and where its null lies.
 */
export function turnOver(
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
  // Ladders that climb and fall again may read the same upside down, which then tells nothing.
  const same = both.every(
    (at) => Math.abs((turnedHz(at.heightMm) ?? Infinity) - at.ladderHz) < LEAST_RANGE_HZ,
  );
  if (turned === undefined || told === undefined || same) return { misfit: Infinity, nullHz: 0 };
  return { misfit: turned.cost / told.cost, nullHz: turned.nullHz };
}
