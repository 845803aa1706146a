import { interval95, type Interval } from '../core/estimate.js';
import { CHECK_LENGTH_MM } from '../core/markerCard.js';
import { REVERSAL_F, SHAPER_TOLERANCE, type RefusalReason } from '../core/outcome.js';
import { axisPointOf } from '../history/axisPoint.js';
import { ladderHeightsAt, makeLadder } from '../print/ladder.js';
import type { Reading } from '../reading/schema.js';
import { shownGuesses } from './guesses.js';
import { decimals, halfWidth95, percent, withUncertainty, withUnit } from './format.js';
import { penWords } from './penWords.js';
import { CAUTION, proofWords } from './proofWords.js';
import { sinceWords } from './sinceWords.js';
import { slotWords } from './slotWords.js';

/** A reading in words, in the order of reading: verdict, use, why, numbers, assumptions, what next. */
export interface ReportSections {
  readonly verdict: string;
  readonly goodFor: string;
  readonly why: readonly string[];
  /** The second opinion on what was chosen by eye. */
  readonly penLine: readonly string[];
  readonly numbers: readonly string[];
  /** What was found in the photo. */
  readonly photo: readonly string[];
  readonly assumed: readonly string[];
  readonly warnings: readonly string[];
  readonly next: readonly string[];
}

/** Each reason as the end of the sentence "No band can be proposed: …". */
const REASONS: Readonly<Record<RefusalReason, string>> = {
  'face-not-found': "no tower's face was found in the photo",
  'face-unclear': "it is not clear which part of the photo is the tower's face",
  'face-cut-off': "the edge of the photo cuts the tower's face off",
  'scale-missing': 'nothing found in the photo tells how large the face is',
  'scales-disagree': 'what is told of the size contradicts the photo',
  'too-dark': 'the photo is too dark to show a face',
  glare: 'part of the face is burnt out, where ripples cannot be seen',
  'wall-too-short': 'too little wall is left behind the corner to show ripples',
  'too-coarse': 'the photo is too coarse to show the ripples',
  blurred: 'the photo is not sharp enough to show the ripples',
  'no-ringing': 'no ripples stand out of the noise',
  'too-noisy': 'the ripples are too faint beside the noise',
  'fixed-pitch-only': 'what repeats along the wall does not decay, so it is not ringing',
  'not-ringing': 'what repeats along the wall does not die out as ringing does',
  'acceleration-disagrees': 'the ripples near the corner do not look like ringing at the acceleration told',
  'two-frequencies': 'the ripples look like two frequencies too close to be told apart',
  'light-from-front': 'the light comes from the front, so that ripples show doubled or not at all',
  'below-ladder': "the axis swings below the ladder's frequencies, or at their very end",
  'above-ladder': "the axis swings above the ladder's frequencies, or at their very end",
  'ladder-has-no-range': 'the shaper did not change over the height',
  'two-bands-possible': 'ringing may vanish at more than one height',
  'ladders-disagree': 'the ladders of this tower contradict each other',
  'one-sided': 'ripples show on one side of the best height only',
  'no-reversal': 'the ripples do not turn over at any height',
  'spacing-disagrees': 'the height where ringing vanishes and the ripple spacing contradict each other',
  'ladder-reversed': 'the ripples fit the ladder better upside down',
  'photos-disagree': 'the photos contradict each other',
  'too-uncertain': 'the frequency is too uncertain for any shaper',
};

/** Reasons that lie in the ripples themselves. */
const DOUBTFUL: ReadonlySet<RefusalReason> = new Set([
  'scales-disagree',
  'glare',
  'too-coarse',
  'blurred',
  'too-noisy',
  'fixed-pitch-only',
  'not-ringing',
  'acceleration-disagrees',
  'two-frequencies',
  'light-from-front',
]);

/** A spacing less certain than this, as a share of itself, is not worth a line. */
const MEANINGFUL = 0.2;

/**
 * Puts a reading into words.
 * @param reading - The reading, fresh or stored.
 * @returns Its sections; each entry is one line of plain text.
 */
export function reportSections(reading: Reading): ReportSections {
  return {
    verdict: verdict(reading),
    goodFor: goodFor(reading),
    why: why(reading),
    penLine: penWords(reading),
    numbers: numbers(reading),
    photo: photoWords(reading, reading.printRecord),
    assumed: reading.assumptions.map((a) => `${a.field}: ${a.value}, ${a.why}`),
    warnings: reading.warnings.map((warning) => warning.text),
    next: next(reading),
  };
}

/**
 * The parts of a verdict, for those who show them in several sizes.
 * @param sections - The words.
 * @returns Axis and number (or reason), and the rest of the line.
 */
export function verdictParts({ verdict: line }: ReportSections): {
  readonly axis: string;
  readonly answer: string;
  readonly rest: string;
} {
  const [axis = '', answer = '', ...rest] = line.split(/ {2,}/);
  return { axis, answer, rest: rest.join(', ') };
}

function verdict(reading: Reading): string {
  const { proposal, printRecord } = reading;
  switch (proposal.state) {
    case 'proposed': {
      const { bestHeightMm, cleanBandMm } = proposal;
      const clean = `clean from ${decimals(cleanBandMm.low, 1)} to ${mm(cleanBandMm.high)}`;
      return `Axis ${proposal.axis}   ${halfWidth95(proposal.frequencyHz, 'Hz')}   best ${mm(bestHeightMm.value)} up, ${clean}`;
    }
    case 'spacing-only':
      return `Axis ${proposal.axis}   swings at ${halfWidth95(proposal.frequencyHz, 'Hz')}   ${proposal.since === undefined ? 'by ripple spacing alone' : sinceWords(proposal.since).verdict}`;
    case 'proof':
      return proofWords(proposal, printRecord).verdict;
    case 'refused':
      return `Axis ${printRecord.axis}   ${printRecord.accelerationLadder === undefined ? 'no band can be proposed' : 'the proof cannot be read'}: ${reasonWords(reading, proposal.reason)}`;
  }
}

/** Reasons that are told of the whole photo where no face is read. */
const OF_PHOTO: Readonly<Partial<Record<RefusalReason, string>>> = {
  glare: 'the photo is burnt out, and no face was found for sure in it',
  'too-coarse': 'the photo is too coarse to show a face',
  blurred: 'the photo is not sharp enough to show a face',
};

const UNCLEAR: Readonly<Record<NonNullable<Reading['search']['cause']>, string>> = {
  photo: REASONS['face-unclear'],
  shape: "the clearest face in the photo has another shape than was told of the tower's",
  click: 'a corner that was given is none of the face that is found without it',
};

/**
 * Why a reading is refused, as the end of the sentence "No band can be proposed: …".
 * @param reading - The reading.
 * @param reason - Its reason.
 * @returns A clause without a full stop.
 */
export function reasonWords(
  { nullFit, face, search }: Pick<Reading, 'nullFit' | 'face' | 'search'>,
  reason: RefusalReason,
): string {
  // A shaper of even order only touches zero: its ripples dip there, and do not turn over.
  if (reason === 'no-reversal' && nullFit?.turnsOver === false) return 'the ripples do not dip at any height';
  if (reason === 'face-unclear') return UNCLEAR[search.cause ?? 'photo'];
  return (face === undefined ? OF_PHOTO[reason] : undefined) ?? REASONS[reason];
}

function goodFor({ proposal, printRecord }: Reading): string {
  switch (proposal.state) {
    case 'proposed': {
      const { half, ZV, ZVD } = needs(proposal.frequencyHz);
      return proposal.goodFor === 'ZV'
        ? `good enough for ZV (${half}needs ${ZV})`
        : `good enough for ZVD or EI only (${half}ZV needs ${ZV}, ZVD ${ZVD})`;
    }
    case 'spacing-only':
      return 'a quick re-check, only as good as the speed, the acceleration and the size of the face told: nothing here checks them';
    case 'proof':
      return proofWords(proposal, printRecord).goodFor;
    case 'refused':
      return criterionWords(proposal);
  }
}

/**
 * What decided a refusal.
 * @param refused - Its reason, and the number that decided beside its limit.
 * @returns Words without a full stop.
 */
export function criterionWords({
  reason,
  criterion,
}: Pick<Extract<Reading['proposal'], { state: 'refused' }>, 'reason' | 'criterion'>): string {
  const decided =
    criterion === undefined
      ? ''
      : ` (${criterion.quantity}: ${short(criterion.value)}, limit ${short(criterion.limit)})`;
  return `reason ${reason}${decided}`;
}

/** Most decimals that two half-widths are told apart by: beyond them they are the same to any user. */
const MOST_DECIMALS = 4;

/**
 * What each shaper needs, with so many digits that the reader sees on which side of it the half-width lies, and the
 * half-width itself where the verdict's own digits do not show that.
 */
function needs(frequencyHz: Interval): { readonly half: string } & Readonly<Record<'ZV' | 'ZVD', string>> {
  const { value, low95, high95 } = frequencyHz;
  const half = Math.max(high95 - value, value - low95);
  const limits = [SHAPER_TOLERANCE.ZV * value, SHAPER_TOLERANCE.ZVD * value];
  const shows = (halfText: string, digits: number) =>
    limits.every((limit) => half <= limit === Number(halfText) <= Number(decimals(limit, digits)));
  const plusMinus = (hz: number, digits: number) => `± ${withUnit(decimals(hz, digits), 'Hz')}`;
  const shown = withUncertainty({ value, sd: half }).sd;
  const inVerdict = shows(shown, 1);
  let digits = 1;
  while (!inVerdict && digits < MOST_DECIMALS && !shows(decimals(half, digits), digits)) digits += 1;
  const [ZV = '', ZVD = ''] = limits.map((limit) => plusMinus(limit, digits));
  return { half: inVerdict ? '' : `${plusMinus(half, digits)}; `, ZV, ZVD };
}

function why(reading: Reading): string[] {
  const { nullFit, ringing, spacingCheck, printRecord } = reading;
  const lines: string[] = [];
  if (reading.proposal.state === 'proof') {
    return [...proofWords(reading.proposal, printRecord).why, ...setAside(reading)];
  }
  if (nullFit !== undefined && ringing !== undefined && !isDoubtful(reading)) {
    const { proposal } = reading;
    const where =
      proposal.state === 'proposed' ? nullAt(reading, nullFit) : plusMinus95(nullFit.nullHz, 'Hz');
    const noReversal = proposal.state === 'refused' && proposal.reason === 'no-reversal';
    lines.push(
      nullFit.reversalF > REVERSAL_F && !noReversal
        ? `ripples ${nullFit.turnsOver ? 'below and above turn over' : 'vanish'} at ${where}; they stand ${decimals(ringing.signalToNoise, 0)} times out of the noise`
        : `the ripples come closest to vanishing at ${where}, without ${nullFit.turnsOver ? 'turning over' : 'dipping'} inside the ladder`,
    );
  }
  const { spacingMm, frequencyHz, expectedNullHz } = spacingCheck;
  if (spacingMm !== undefined && frequencyHz !== undefined && spacingMm.sd < MEANINGFUL * spacingMm.value) {
    const spacing = withUncertainty(spacingMm);
    const said = expectedNullHz ?? frequencyHz;
    const verdictWord = { agrees: ': agrees', disagrees: ': disagrees', 'not-measurable': '' }[
      spacingCheck.state
    ];
    const doubtful = isDoubtful(reading);
    const says = doubtful ? 'would say' : 'says';
    const trusted = doubtful ? ', which this refusal does not trust' : verdictWord;
    lines.push(
      `spacing ${withUnit(spacing.value, 'mm')} at ${withUnit(String(printRecord.speedMmPerS), 'mm/s')} ${says} ${plusMinus95(said, 'Hz')}${trusted}`,
    );
  }
  const conflict = spacingCheck.explanation;
  if (conflict !== undefined) {
    lines.push(
      conflict.cause === 'reversed-ladder'
        ? 'the ripples fit the ladder better with the tower turned upside down'
        : `they would agree${spacingCheck.state === 'agrees' ? ' better' : ''} if this face had been printed at about ${withUnit(decimals(conflict.impliedSpeedMmPerS, 0), 'mm/s')}`,
    );
  }
  if (ringing !== undefined) lines.push(`damping ratio ${plusMinus95(ringing.dampingRatio, '')}`);
  return [...lines, ...setAside(reading)];
}

function setAside({ fixedPitches, proposal }: Reading): readonly string[] {
  // Ringing that begins at the other corner grows along the wall, and passes for a pattern that does not die out.
  const owner =
    proposal.state === 'refused' && proposal.reason === 'not-ringing'
      ? 'was set aside: it belongs to the drive, or is ringing of the other corner'
      : 'belongs to the drive and was set aside';
  return fixedPitches.map(
    ({ pitchMm }) => `a pattern that repeats each ${plusMinus95(pitchMm, 'mm')} ${owner}`,
  );
}

/** The height on each ladder at which the ripples themselves vanish, which the spacing has not moved; on a ladder without it its frequency. */
function nullAt({ printRecord }: Reading, { nullHz }: NonNullable<Reading['nullFit']>): string {
  const { layerHeightMm, firstLayerHeightMm = layerHeightMm } = printRecord;
  const ladder = makeLadder(printRecord.ladder, layerHeightMm, firstLayerHeightMm);
  const heights = ladderHeightsAt(ladder, nullHz.value);
  return heights.length === 0
    ? plusMinus95(nullHz, 'Hz')
    : heights.map(({ value }) => mm(value)).join(' and ');
}

/** Refused for what the ripples themselves look like: then their frequency is no finding. */
function isDoubtful({ proposal }: Reading): boolean {
  return proposal.state === 'refused' && DOUBTFUL.has(proposal.reason);
}

function numbers(reading: Reading): string[] {
  const { proposal, scales, printRecord } = reading;
  const lines: string[] = [];
  if (proposal.state === 'proof') lines.push(...proofWords(proposal, printRecord).numbers);
  if (proposal.state === 'spacing-only' && proposal.since !== undefined) {
    lines.push(sinceWords(proposal.since).numbers);
  }
  if (proposal.state === 'spacing-only') lines.push(...asLadderWords(reading));
  if (proposal.state === 'proposed') {
    lines.push(`from the height where ringing vanishes ${halfWidth95(proposal.fromNull, 'Hz')}`);
    lines.push(`from the spacing ${halfWidth95(proposal.fromSpacing, 'Hz')}`);
    lines.push(`best height ${halfWidth95(proposal.bestHeightMm, 'mm')} above the bed`);
    const others = proposal.bestHeights?.filter(
      ({ bestHeightMm }) => bestHeightMm.value !== proposal.bestHeightMm.value,
    );
    for (const { bestHeightMm, cleanBandMm } of others ?? []) {
      lines.push(
        `on another ladder ${halfWidth95(bestHeightMm, 'mm')}, clean from ${decimals(cleanBandMm.low, 1)} to ${mm(cleanBandMm.high)}`,
      );
    }
    lines.push(
      `where it is called clean, at most ${percent(proposal.cleanBandMm.mostLeft)} of the ringing is left`,
    );
  }
  const ratio = scales.find((scale) => scale.class === 'physical')?.perCommanded;
  if (ratio !== undefined) {
    const error = { value: 100 * Math.abs(ratio.value - 1), sd: 100 * ratio.sd };
    lines.push(
      `the print is ${plusMinus95(error, '%')} ${ratio.value < 1 ? 'smaller' : 'larger'} than commanded`,
    );
  }
  lines.push(...slotWords(reading));
  if (lines.length > 0 && proposal.state !== 'proof') lines.push('± spans 95 %');
  return lines;
}

/** A spacing shows the damped frequency; lists and trends tell it as a ladder would. */
function asLadderWords(reading: Reading): readonly string[] {
  const { frequencyHz, by } = axisPointOf(reading);
  const asDamped = reading.printRecord.shaper?.hzMeans === 'damped';
  if (frequencyHz === undefined || by !== 'spacing' || asDamped) return [];
  return [
    `ripples show the damped frequency; the natural one, which a ladder tells, is ${plusMinus95(frequencyHz, 'Hz')}`,
  ];
}

const THINGS: Readonly<Record<Reading['search']['references'][number]['kind'], string>> = {
  'id1-card': 'card',
  ruler: 'ruler',
  'marker-card': 'marker card',
};

/**
 * What was found in a photo.
 * @param seen - Face, references and layer lines, of a reading or of a check.
 * @param printRecord - What was told of the print; undefined where nothing was.
 * @param isCheck - No ripples were measured, so that their px are those of usual ones; and no picture is drawn.
 * @returns One line for each finding.
 */
export function photoWords(
  seen: Pick<Reading, 'search' | 'face' | 'layerLines'>,
  printRecord: Reading['printRecord'] | undefined,
  isCheck = false,
): readonly string[] {
  const { search, face, layerLines } = seen;
  const lines: string[] = [];
  if (search.how === 'found' && search.confidence !== undefined) {
    lines.push(`the face was found, sure to ${surety(search.confidence)}`);
  }
  const guesses = shownGuesses(seen);
  if (guesses.length > 0) {
    const faces = guesses.length === 1 ? 'face is' : 'faces are';
    const sure = guesses.map(({ confidence }) => surety(confidence)).join(', ');
    lines.push(
      `the likeliest ${faces} ${isCheck ? '' : 'marked in the picture, '}sure to ${sure}${ASIDE[search.cause ?? 'photo']}`,
    );
  }
  for (const reference of search.references) {
    lines.push(`the ${THINGS[reference.kind]} ${whatOf(reference)}${sizeOf(reference.kind, printRecord)}`);
  }
  for (const kind of search.missing) lines.push(`no ${THINGS[kind]} was found`);
  if (search.cardCode?.state === 'record') {
    lines.push("the print record was taken from the card's code; what was given by flags wins over it");
  }
  if (layerLines !== undefined) {
    const pitch = plusMinus95(layerLines.pitchMm, 'mm');
    lines.push(
      layerLines.used
        ? `the layer lines stand ${pitch} apart by the size of the face; heights are counted in them`
        : `the layer lines stand ${pitch} apart by the size of the face${printRecord === undefined ? '' : `, for ${withUnit(String(printRecord.layerHeightMm), 'mm')} told`}`,
    );
  }
  if (face === undefined) return lines;
  if (face.lens !== undefined) {
    lines.push(`the lens bends straight edges (k1 ${decimals(face.lens.k1, 3)}), which is taken out`);
  }
  const ripple = face.quality.pxPerRipple;
  lines.push(
    `${decimals(1 / face.mmPerPx.alongWall.value, 1)} px per mm` +
      (ripple === undefined
        ? ''
        : `, ${isCheck ? 'about ' : ''}${decimals(ripple, 0)} px per ripple${isCheck ? ' of a usual frequency' : ''}`) +
      (face.pose === undefined
        ? ''
        : `, seen about ${decimals(face.pose.obliquityDeg, 0)}° off square from ${plusMinus95(face.pose.distanceMm, 'mm')}`),
  );
  return lines;
}

/** What the likeliest faces leave out of account. */
const ASIDE: Readonly<Record<NonNullable<Reading['search']['cause']>, string>> = {
  photo: '',
  shape: ' with the width and height told left aside',
  click: ' with the corners given left aside',
};

/** Nothing that is found is certain. */
function surety(confidence: number): string {
  return confidence > 0.99 ? `more than ${percent(0.99)}` : percent(confidence);
}

/** In which size the marker card was reckoned, where its check length was told. */
function sizeOf(kind: string, printRecord: Reading['printRecord'] | undefined): string {
  if (kind !== 'marker-card') return '';
  const told = [printRecord?.reference].flat().find((one) => one?.kind === kind);
  return told?.kind !== 'marker-card' || told.checkLengthMm === undefined
    ? ''
    : `, its size by its check length, ${withUnit(String(told.checkLengthMm), 'mm')} for ${withUnit(String(CHECK_LENGTH_MM), 'mm')}`;
}

function whatOf(reference: Reading['search']['references'][number]): string {
  const { use, behindFaceMm, seemsBehindMm } = reference;
  switch (use) {
    case 'scale':
      if (behindFaceMm === undefined) return 'was found, and taken as flush with the face';
      return behindFaceMm === 0
        ? 'was found in the plane of the face'
        : `was found, ${behind(behindFaceMm)} as told`;
    case 'size':
      return 'was found and tells how large the face is';
    case 'off-plane':
      return `was found, but looks as large as if it lay ${seemsBehindMm === undefined ? 'elsewhere' : seemsBehind(seemsBehindMm)}, and is not used`;
    case 'unsure':
      return 'was found, but tells the scale too poorly where it lies, and is not used';
    case 'none':
      return 'was found, but no face to hold it against';
  }
}

function behind(mmBehind: number): string {
  return `${withUnit(String(Math.abs(mmBehind)), 'mm')} ${mmBehind < 0 ? 'in front of' : 'behind'} the face`;
}

function seemsBehind({ value, sd }: { readonly value: number; readonly sd: number }): string {
  return `${plusMinus95({ value: Math.abs(value), sd }, 'mm')} ${value < 0 ? 'in front of' : 'behind'} the face`;
}

function next({ proposal, printRecord, spacingCheck: { explanation } }: Reading): readonly string[] {
  switch (proposal.state) {
    case 'proposed':
      return [
        // Both routes only just agree: one wrong number explains that, and is easily looked up.
        ...(explanation?.cause === 'speed'
          ? [
              `look up first at what speed this face was printed: ${withUnit(decimals(explanation.impliedSpeedMmPerS, 0), 'mm/s')} would fit better than ${withUnit(String(printRecord.speedMmPerS), 'mm/s')}`,
            ]
          : []),
        `enter it for axis ${proposal.axis}, the one perpendicular to this face, and prove it with a print`,
        CAUTION,
      ];
    case 'spacing-only':
      return [
        proposal.since === undefined
          ? 'hold it against an earlier frequency with --was; if it has moved by more than both ±, print a full test tower again'
          : sinceWords(proposal.since).next,
      ];
    case 'proof':
      return proofWords(proposal, printRecord).next;
    case 'refused':
      return [proposal.advice];
  }
}

function plusMinus95(estimate: { readonly value: number; readonly sd: number }, unit: string): string {
  return halfWidth95(interval95(estimate), unit);
}

function mm(value: number): string {
  return withUnit(decimals(value, 1), 'mm');
}

/** Three significant digits at most, without trailing zeros. */
function short(value: number): string {
  return String(Number(value.toPrecision(3)));
}
