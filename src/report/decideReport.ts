import { interval95 } from '../core/estimate.js';
import { SHAPER_TOLERANCE } from '../core/outcome.js';
import type {
  ChosenAxis,
  MissingLimit,
  ShaperDecision,
  ShaperOption,
  UndecidedAxis,
} from '../decide/decideShapers.js';
import { causeWords } from './causes.js';
import { decimals, halfWidth95, percent, withUnit } from './format.js';
import { CAUTION } from './proofWords.js';
import { labelled, plainText } from './textReport.js';
import { criterionWords } from './words.js';

/** What is decided for one axis in words, in the order of reading; each entry is one line of plain text. */
export interface DecideSections {
  readonly verdict: string;
  /** The reason of the choice, or that there is none. */
  readonly meaning: string;
  /** What the reading is good enough for, and what would help. */
  readonly reading: readonly string[];
  readonly drift: readonly string[];
  readonly corner: readonly string[];
  readonly load: readonly string[];
  readonly slot: readonly string[];
  /** The other shapers, one line each. */
  readonly others: readonly string[];
  readonly next: readonly string[];
}

/**
 * A decision as plain text for a terminal, one card after the other.
 * @param decision - The decision.
 * @param all - Whether the shapers that were not chosen are told as well.
 * @returns Lines joined by newlines, with one at the end; all spaces are U+0020.
 */
export function decideReport(decision: ShaperDecision, all: boolean): string {
  const cards = decision.axes.map((axis) => {
    const sections = decideSections(axis, decision);
    return [
      sections.verdict,
      ...labelled('', [sections.meaning]),
      ...labelled('reading', sections.reading),
      ...labelled('load', sections.load),
      ...labelled('drift', sections.drift),
      ...labelled('corner', sections.corner),
      ...labelled('slot', sections.slot),
      ...(all ? labelled('others', sections.others) : []),
      ...labelled('next', sections.next),
      '',
    ];
  });
  return plainText([...cards.flat(), ...closing(decision, all)]);
}

function closing(decision: ShaperDecision, all: boolean): readonly string[] {
  const others = !all && decision.axes.some((axis) => axis.state === 'chosen' && axis.options.length > 1);
  return [
    ...labelled('asked', missingWords(decision, true)),
    ...(others ? labelled('more', ['--all tells what the other shapers would do']) : []),
    ...labelled('mind', [...DECIDE_CAUTIONS]),
  ];
}

/** Said with every decision. */
export const DECIDE_CAUTIONS: readonly string[] = [
  "your own limits and the machine's, its maker's instructions and local rules come before any number here",
  CAUTION,
  '± spans 95 %; accuracy was tested on drawn and ray-traced faces so far, not on real prints: prove it with a print',
];

/**
 * What is decided for one axis in words.
 * @param axis - The axis.
 * @param decision - The decision that it is a part of.
 * @returns Its sections.
 */
export function decideSections(axis: ChosenAxis | UndecidedAxis, decision: ShaperDecision): DecideSections {
  if (axis.state === 'no-choice') return undecidedSections(axis);
  const { choice } = axis;
  return {
    verdict: choice.holds
      ? `Axis ${axis.axis}   enter ${settingWords(choice)}`
      : `Axis ${axis.axis}   print the test again: no shaper offered holds`,
    meaning: meaning(axis),
    reading: readingWords(axis),
    load: loadWords(axis),
    drift: driftWords(axis),
    corner: cornerWords(axis, decision),
    slot: slotWords(axis, decision),
    others: axis.options.filter(({ family }) => family !== choice.family).map(optionWords),
    next: choice.holds
      ? [
          `enter it for axis ${axis.axis}, the one perpendicular to the measured face: "stillband after" tells how, and how to prove it`,
        ]
      : [],
  };
}

/**
 * A shaper as it is entered, in words.
 * @param option - The shaper.
 * @returns Family, frequency, and damping ratio.
 */
export function settingWords({ family, enterHz, dampingRatio, hzMeans }: ShaperOption): string {
  const means = hzMeans === 'damped' ? ' (damped)' : '';
  return `${family}, ${withUnit(decimals(enterHz, 1), 'Hz')}${means}, damping ratio ${decimals(dampingRatio, 3)}`;
}

function meaning({ choice, options, loaded }: ChosenAxis): string {
  const where =
    loaded === undefined
      ? 'all that this reading leaves open'
      : 'all that this reading and the load leave open';
  if (!choice.holds) {
    return `the least is left by ${settingWords(choice)}: up to ${left(choice)} over ${where}, and more than 5 % shows`;
  }
  const shorter = options.slice(0, options.indexOf(choice)).at(-1);
  const why = shorter === undefined ? '' : `; ${shorter.family} would leave up to ${left(shorter)}`;
  return `the shortest shaper offered that keeps ripples within 5 % over ${where}, so that corners are cut least${why}`;
}

const GOOD_FOR: Readonly<Record<keyof typeof SHAPER_TOLERANCE, string>> = {
  ZV: tolerance(SHAPER_TOLERANCE.ZV),
  ZVD: tolerance(SHAPER_TOLERANCE.ZVD),
  EI: tolerance(SHAPER_TOLERANCE.EI),
};

function tolerance(share: number): string {
  return `± ${withUnit(String(Number((100 * share).toPrecision(3))), '%')}`;
}

function readingWords({ mode, goodFor, zvFailsBy, options }: ChosenAxis): readonly string[] {
  const { ladderHz, dampingRatio, narrowing } = mode;
  const relative = (ladderHz.high95 - ladderHz.value) / ladderHz.value;
  const known = [
    `${halfWidth95(ladderHz, 'Hz')} (± ${withUnit(decimals(100 * relative, 1), '%')}), damping ratio ${halfWidth95(interval95(dampingRatio))}`,
    ...naturalWords(mode),
  ];
  const [first, ...rest] = goodFor;
  const bears =
    first !== undefined && first in GOOD_FOR ? ` (bears ${GOOD_FOR[first as keyof typeof GOOD_FOR]})` : '';
  const offersZv = options.some(({ family }) => family === 'ZV');
  const more = rest.length > 0 ? ' and what bears more' : '';
  const notZv =
    first !== 'ZV' && offersZv
      ? `not good enough for ZV (bears ${GOOD_FOR.ZV}), only for `
      : 'good enough for ';
  const verdict =
    first === undefined
      ? 'not good enough for any shaper offered: print the test again'
      : `${notZv}${first}${bears}${more}`;
  if (zvFailsBy === undefined) return [...known, verdict];
  const help =
    zvFailsBy === 'damping'
      ? [
          'the damping ratio is what stands in the way of ZV: a new photo from nearer with raking light tells it better',
        ]
      : narrowing === undefined
        ? []
        : [
            `most uncertain by: ${causeWords(narrowing.cause)} (${percent(narrowing.share)} of the variance)`,
            narrowing.advice.replace(/\.$/, ''),
          ];
  return [...known, verdict, ...help];
}

/** Where what is reckoned with looks like another number than the reading's, both are told. */
function naturalWords({ ladderHz, naturalHz, hzMeans }: ChosenAxis['mode']): readonly string[] {
  const natural = halfWidth95(naturalHz, 'Hz');
  if (natural === halfWidth95(ladderHz, 'Hz')) return [];
  const why =
    hzMeans === 'damped'
      ? 'your machine takes the damped one'
      : 'the ladder ran with another damping ratio than the axis has';
  return [
    `on the ladder; the natural frequency of the axis is ${natural}, by which shapers are built: ${why}`,
  ];
}

function loadWords({ mode, loaded }: ChosenAxis): readonly string[] {
  if (loaded === undefined) return [];
  const { addedKg, bedKg, naturalHz } = loaded;
  return [
    `natural frequency ${halfWidth95(mode.naturalHz, 'Hz')} as measured, ${halfWidth95(naturalHz, 'Hz')} with ${kg(addedKg)} more on the ${kg(bedKg)} that move: frequency goes as 1 ÷ √mass`,
    'the weights are taken as told, the tower of the test as none, and the stiffness as unchanged',
  ];
}

function driftWords({ choice, mode, loaded }: ChosenAxis): readonly string[] {
  const { mayFallHz, mayRiseHz, quietHz } = choice;
  if (mayFallHz === undefined || mayRiseHz === undefined || quietHz === undefined) return [];
  const lowest = loaded?.naturalHz ?? mode.naturalHz;
  const heavier = (lowest.value / quietHz.low) ** 2 - 1;
  return [
    `ripples return when the axis falls by ${halfWidth95(mayFallHz, 'Hz')}${loaded === undefined ? '' : ' below what it is with the load'}, or rises by ${halfWidth95(mayRiseHz, 'Hz')}`,
    `quiet from ${decimals(quietHz.low, 1)} to ${withUnit(decimals(quietHz.high, 1), 'Hz')}: at most 5 % of the ringing is left; about ${percent(heavier)} more moving mass leads to its lower end`,
  ];
}

function cornerWords(
  { acceleration, choice, corner }: ChosenAxis,
  { limits, speeds }: ShaperDecision,
): readonly string[] {
  if (speeds === undefined) return [];
  const { maxRoundingMm } = limits;
  const atSpeeds = `${withUnit(String(speeds.speedMmPerS), 'mm/s')}, ${withUnit(String(speeds.cornerSpeedMmPerS), 'mm/s')} kept through it${speeds.cornerSpeedAssumed ? ' (assumed)' : ''}`;
  const lines: string[] = [];
  const allowed = choice.roundingAllowsMmPerS2;
  const rounded = maxRoundingMm === undefined ? '' : millimetres(maxRoundingMm);
  switch (acceleration.state) {
    case 'chosen':
      lines.push(
        acceleration.because === 'limit'
          ? `print at up to ${mmPerS2(acceleration.mmPerS2)}, your limit`
          : `print at up to ${mmPerS2(acceleration.mmPerS2)}: more would cut corners by over ${rounded}, which you allow, though your limit is ${mmPerS2(limits.maxAccelerationMmPerS2 ?? acceleration.mmPerS2)}`,
      );
      break;
    case 'test-print':
      if (allowed !== undefined)
        lines.push(`${rounded} of rounding allow up to ${mmPerS2(allowed)}, if your limit does`);
      break;
    case 'none-fits':
      lines.push(
        `corners are cut by over ${rounded} at any acceleration: keep less than ${withUnit(String(speeds.cornerSpeedMmPerS), 'mm/s')} through them`,
      );
      break;
    case 'unknown':
      break;
  }
  if (corner !== undefined) {
    lines.push(
      `a corner is cut by ${millimetres(corner.roundingMm)} at most at ${mmPerS2(corner.accelerationMmPerS2)}${acceleration.state === 'test-print' ? ', as the test was printed' : ''} (${atSpeeds})`,
    );
    if (corner.otherAxis === 'alike')
      lines.push('the other axis is taken as shaped alike, having no reading here');
  }
  return lines;
}

function slotWords({ choice }: ChosenAxis, { limits, speeds }: ShaperDecision): readonly string[] {
  const { slotMm } = limits;
  if (slotMm === undefined || speeds === undefined) return [];
  const { travelMm, lengthS } = choice;
  const length = `the shaper lasts ${withUnit(decimals(1000 * lengthS, 1), 'ms')}, ${withUnit(decimals(travelMm, 1), 'mm')} at ${withUnit(String(speeds.speedMmPerS), 'mm/s')}`;
  if (travelMm < slotMm) return [`a gap of ${millimetres(slotMm)} stays open: ${length}`];
  const slower = Math.floor(slotMm / lengthS);
  return [
    `a gap of ${millimetres(slotMm)} closes: ${length}; it stays open below ${withUnit(String(slower), 'mm/s')}`,
  ];
}

function optionWords(option: ShaperOption): string {
  const { mayFallHz, mayRiseHz, roundingMm } = option;
  const drift =
    mayFallHz === undefined || mayRiseHz === undefined
      ? `leaves up to ${left(option)}`
      : `may fall by ${decimals(mayFallHz.value, 1)} or rise by ${withUnit(decimals(mayRiseHz.value, 1), 'Hz')}, leaves up to ${left(option)}`;
  const corner = roundingMm === undefined ? '' : `, cuts a corner by ${millimetres(roundingMm)}`;
  return `${settingWords(option)}: ${drift}${corner}, closes gaps below ${millimetres(option.travelMm)}`;
}

function undecidedSections(axis: UndecidedAxis): DecideSections {
  const none = { reading: [], load: [], drift: [], corner: [], slot: [], others: [] };
  const verdict = `Axis ${axis.axis}   no shaper can be chosen`;
  switch (axis.why) {
    case 'refused':
      return {
        ...none,
        verdict: `${verdict}: its reading was refused`,
        meaning: axis.refused === undefined ? 'no reason is kept' : criterionWords(axis.refused),
        next: axis.refused === undefined ? [] : [axis.refused.advice],
      };
    case 'proof':
      return {
        ...none,
        verdict: `${verdict}: its reading is of a proof print`,
        meaning: 'a proof shows what a setting leaves, and not which one the axis needs',
        next: ['give the reading of the test tower with a ladder'],
      };
    case 'spacing-only':
      return {
        ...none,
        verdict: `${verdict}: its frequency comes from ripple spacing alone`,
        meaning:
          'nothing checks the speed and the size that it was told, so that it may be another one altogether',
        next: ['measure a test tower with a ladder, and decide by that'],
      };
  }
}

const ASKED: Readonly<Record<MissingLimit, { readonly flag?: string; readonly text: string }>> = {
  'max-acceleration': {
    flag: '--max-acceleration',
    text: 'the highest acceleration that you and the maker of the machine allow; without it none is named',
  },
  'max-rounding': {
    flag: '--max-rounding',
    text: 'by how many mm a corner may be cut; without it nothing limits the rounding',
  },
  'corner-speed': {
    flag: '--corner-speed',
    text: 'the speed that your machine keeps through a corner, mm/s; it was assumed, and corners depend on it',
  },
  'other-axis': { text: 'a reading of the other axis: corners depend on both' },
};

/**
 * What only the user knows and was not told, and what it is for.
 * @param decision - The decision.
 * @param flags - Whether the flag is named by which it is told. @default false
 * @returns One line for each.
 */
export function missingWords({ missing }: Pick<ShaperDecision, 'missing'>, flags = false): readonly string[] {
  return missing.map((what) => {
    const { flag, text } = ASKED[what];
    return flags && flag !== undefined ? `${flag}: ${text}` : text;
  });
}

/** At most what is left of the ringing, in percent with two digits; less than a thousandth is told as that. */
function left({ worstLeft }: ShaperOption): string {
  return worstLeft < 1e-3
    ? withUnit('0.1', '%')
    : withUnit(String(Number((100 * worstLeft).toPrecision(2))), '%');
}

/**
 * A small length.
 * @param mm - Length, mm.
 * @returns Its number and unit: tenths; hundredths below 1 mm; one digit that is not 0 below 0.01 mm.
 */
export function millimetres(mm: number): string {
  const small = mm > 0 && mm < 0.01 ? Math.min(20, Math.ceil(-Math.log10(mm))) : 2;
  return withUnit(decimals(mm, mm < 1 ? small : 1), 'mm');
}

function kg(value: number): string {
  return withUnit(String(value), 'kg');
}

/**
 * An acceleration.
 * @param value - mm/s².
 * @returns Up to four digits and its unit.
 */
export function mmPerS2(value: number): string {
  return withUnit(String(Number(value.toPrecision(4))), 'mm/s²');
}
