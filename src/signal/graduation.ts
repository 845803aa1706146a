import { MAD_TO_SD, median } from './median.js';

/** What the lengths of a scale's marks tell of its divisions. */
export interface Graduation {
  /** Length of one division, mm. */
  readonly divisionMm: 1 | 0.5;
  /** Number of a mark that stands at a whole centimetre. */
  readonly centimetreMark: number;
  /** Lower one of the two shares by which marks are longer as they should be, 0.5 (by chance) to 1. */
  readonly clarity: number;
}

/** A mark is longer than another when it is so by half a millimetre's width, in divisions of 1 mm. */
const LONGER_BY_MM = 0.5;
/** Share of pairs, a mark that should be longer with one that should not, in which it must be. */
const LEAST_CLARITY = 0.85;
/** And share of pairs up to which two kinds of mark count as alike: by chance it is a half. */
const MOST_ALIKE = 0.7;
/** How much marks that should be equal may differ, as a share of what the others lack to the long
 * ones: figures touch some of the long ones. */
const MOST_SPREAD = { others: 0.3, long: 0.6 } as const;
/** Long marks that must be seen: two in their places come by chance in one of twenty textures. */
const LEAST_LONG = 3;

/**
 * Tells millimetres from half millimetres by the marks that are longer: in a scale of millimetres each tenth one, in
 * one of half millimetres each second one and each twentieth one. A fifth (or tenth) one in the middle may be
 * of any length between. Scales with longer marks elsewhere, as those of inches, are neither.
 * @param numbers - Numbers of the marks in divisions, shape (n,); gaps are allowed.
 * @param lengths - How long each is, in divisions, shape (n,).
 * @returns What the division is, or undefined when the lengths do not tell.
 * @throws {RangeError} When the counts differ.
 * @see Scales as common practice has them, no source. The share of pairs is the statistic of Mann & Whitney, Ann.
 * Math. Stat. 18, 1947 (from memory): figures and scratches that touch a few marks do not upset it.
 */
export function readGraduation(
  numbers: readonly number[],
  lengths: readonly number[],
): Graduation | undefined {
  if (numbers.length !== lengths.length) {
    throw new RangeError(
      `Expected a length for each mark but received ${numbers.length} and ${lengths.length}.`,
    );
  }
  return readHalves(numbers, lengths) ?? readMillimetres(numbers, lengths);
}

function readMillimetres(numbers: readonly number[], lengths: readonly number[]): Graduation | undefined {
  const group = groups(numbers, lengths, 10);
  const best = bestPhase(10, (phase) => longerShare(group(phase), othersOf(group, phase), LONGER_BY_MM));
  if (best === undefined || group(best.phase).length < LEAST_LONG || best.share < LEAST_CLARITY)
    return undefined;
  if (!areSteady(group(best.phase), othersOf(group, best.phase))) return undefined;
  const middle = group((best.phase + 5) % 10);
  const fiveIsLong = longerShare(middle, othersOf(group, best.phase), LONGER_BY_MM) > MOST_ALIKE;
  // Each fifth one alike: a scale of two millimetres has its centimetres so, and so has one of 0.2 mm its millimetres.
  if (fiveIsLong && longerShare(group(best.phase), middle, LONGER_BY_MM) < LEAST_CLARITY) return undefined;
  // Marks in between that differ among themselves belong to a scale of another kind.
  for (const step of [1, 2, 3, 4]) {
    const one = [...group((best.phase + step) % 10), ...group((best.phase + 10 - step) % 10)];
    const rest = [1, 2, 3, 4]
      .filter((other) => other !== step)
      .flatMap((other) => [...group((best.phase + other) % 10), ...group((best.phase + 10 - other) % 10)]);
    if (longerShare(one, rest, LONGER_BY_MM) > MOST_ALIKE) return undefined;
  }
  return { divisionMm: 1, centimetreMark: firstOf(numbers, best.phase, 10), clarity: best.share };
}

function readHalves(numbers: readonly number[], lengths: readonly number[]): Graduation | undefined {
  const longerBy = 2 * LONGER_BY_MM;
  const halves = groups(numbers, lengths, 2);
  const whole = bestPhase(2, (phase) => longerShare(halves(phase), halves(1 - phase), longerBy));
  if (whole === undefined || whole.share < LEAST_CLARITY) return undefined;
  const isWhole = numbers.map((number) => modulo(number, 2) === whole.phase);
  const wholeNumbers = numbers.filter((_, i) => isWhole[i]).map((number) => (number - whole.phase) / 2);
  const wholeLengths = lengths.filter((_, i) => isWhole[i]).map((length) => length / 2);
  const millimetres = readMillimetres(wholeNumbers, wholeLengths);
  if (millimetres === undefined) return undefined;
  return {
    divisionMm: 0.5,
    centimetreMark: 2 * millimetres.centimetreMark + whole.phase,
    clarity: Math.min(whole.share, millimetres.clarity),
  };
}

/** Lengths of the marks of a phase. */
type Groups = (phase: number) => readonly number[];

function groups(numbers: readonly number[], lengths: readonly number[], period: number): Groups {
  return (phase) => lengths.filter((_, i) => modulo(numbers[i]!, period) === phase);
}

/**
 * Lengths of the marks that are no tenth and no fifth ones. The longest of their eight kinds is left out: a figure that
 * stands behind the same mark in each centimetre lengthens it.
 */
function othersOf(group: Groups, phase: number): readonly number[] {
  const kinds = [1, 2, 3, 4, 6, 7, 8, 9]
    .map((step) => group((phase + step) % 10))
    .filter(({ length }) => length > 0);
  const medians = kinds.map(median);
  const longest = medians.indexOf(Math.max(...medians));
  return kinds.filter((_, i) => i !== longest).flat();
}

/** Whether long marks are as good as equal, and so are the others: in wood and layer lines they are of any length. */
function areSteady(long: readonly number[], others: readonly number[]): boolean {
  const spreadOf = (lengths: readonly number[]): number => {
    const middle = median(lengths);
    return MAD_TO_SD * median(lengths.map((length) => Math.abs(length - middle)));
  };
  const lacking = median(long) - median(others);
  return spreadOf(others) < MOST_SPREAD.others * lacking && spreadOf(long) < MOST_SPREAD.long * lacking;
}

/** Share of the pairs in which the one is longer by more than this; 0 where there are no pairs. */
function longerShare(long: readonly number[], short: readonly number[], by: number): number {
  let won = 0;
  for (const one of long) for (const other of short) if (one > other + by) won += 1;
  const pairs = long.length * short.length;
  return pairs === 0 ? 0 : won / pairs;
}

function bestPhase(
  period: number,
  shareOf: (phase: number) => number,
): { phase: number; share: number } | undefined {
  let best: { phase: number; share: number } | undefined;
  for (let phase = 0; phase < period; phase += 1) {
    const share = shareOf(phase);
    if (share > (best?.share ?? 0)) best = { phase, share };
  }
  return best;
}

function modulo(value: number, period: number): number {
  return ((value % period) + period) % period;
}

/** First number of a phase that is not below the first mark's. */
function firstOf(numbers: readonly number[], phase: number, period: number): number {
  const first = Math.min(...numbers);
  return first + modulo(phase - first, period);
}
