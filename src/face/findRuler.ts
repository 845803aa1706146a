import type { CodeImage, PointPx } from '../core/image.js';
import type { Mm, Px } from '../core/units.js';
import { findCombs, type Comb } from '../imaging/findCombs.js';
import { pointInStrip, stripFrame, stripProfile, type StripFrame } from '../imaging/strip.js';
import { traceMarks, type TracedMarks } from '../imaging/traceMarks.js';
import { readGraduation, type Graduation } from '../signal/graduation.js';
import { fitLineRobustly, type RobustLine } from '../signal/robustLine.js';
import { percentile } from '../signal/median.js';
import { positionOn, spacingOn } from '../signal/projectiveLine.js';
import { settleMarks, trackMarks, type MarkSeries } from '../signal/trackMarks.js';
import type { FoundReference } from './reference.js';

/** Of all stretches that are striped along their length, so many are looked at: a ruler's ink stands out. */
const MOST_COMBS = 10;
/** The profile is taken over this share of a cell's width, well inside the shortest marks. */
const PROFILE_SHARE = 0.6;
/** Of the shortest marks' length, the middle part over which the final profile is taken. */
const FINAL_SHARE = 0.5;
/** Percentile that stands for the shortest marks: four of five are so in millimetres, a half in half millimetres. */
const SHORTEST_PERCENTILE = 25;
/** The profile goes on beyond the outer marks by so many divisions. */
const BEYOND_DIVISIONS = 2;
/** Marks that are followed to their ends, in the middle of the scale: they say what it is, and in which direction it lies. */
const MOST_TRACED = 240;
/** Marks begin on one line, within this share of a division. */
const MOST_RAGGED = 0.6;
/** Length of scale that must be seen: two centimetre marks and some. */
const LEAST_LENGTH_MM = 15;

/**
 * Error allowed between any two marks up to a metre apart, class II, 0.3 + 0.2 mm, taken as even between its limits:
 * Directive 2014/32/EU, annex X (MI-008), as quoted in the project's references.
 */
const ALLOWED_ERROR_MM = 0.5;

/**
 * Finds a ruler by its graduation, at any angle, in millimetres or half millimetres. The figures are not read: where
 * the marks count from is left open.
 * @param codes - Grey codes of the whole photo; not modified.
 * @param lut - Linear light of each code.
 * @returns The ruler with points at its centimetre marks and at the first and last mark seen, on a line along the
 * middle of the shortest marks, mm from the first centimetre mark; or undefined when none is found, or when
 * its marks do not tell millimetres from half ones.
 */
export function findRuler(codes: CodeImage, lut: Float32Array): FoundReference | undefined {
  for (const comb of findCombs(codes, MOST_COMBS)) {
    const ruler = readComb(codes, lut, comb);
    if (ruler !== undefined) return ruler;
  }
  return undefined;
}

function readComb(codes: CodeImage, lut: Float32Array, comb: Comb): FoundReference | undefined {
  const frame = stripFrame(comb.from, comb.to);
  const profile = stripProfile(codes, lut, frame, lengthOf(comb), PROFILE_SHARE * comb.halfWidthPx);
  const marks = trackMarks(profile);
  if (marks === undefined) return undefined;
  // The narrower of dark and bright are the marks, most likely.
  const likely = narrowAre(profile, marks);
  for (const sign of [likely, likely === 1 ? -1 : 1] as const) {
    const ruler = readMarks(codes, lut, frame, marks, sign);
    if (ruler !== undefined) return ruler;
  }
  return undefined;
}

/** 1 where what is dark is narrower than what is bright, −1 the other way, by the third moment within each division. */
function narrowAre(profile: Float64Array, { line, numbers }: MarkSeries): 1 | -1 {
  let skew = 0;
  for (const number of numbers) {
    const half = Math.abs(spacingOn(line, number)) / 2;
    const middle = positionOn(line, number);
    const values = profile.subarray(Math.max(0, Math.round(middle - half)), Math.round(middle + half));
    const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
    skew += values.reduce((sum, value) => sum + (value - mean) ** 3, 0);
  }
  return skew <= 0 ? 1 : -1;
}

function lengthOf({ from, to }: Comb): number {
  return Math.floor(Math.hypot(to[0] - from[0], to[1] - from[1]));
}

function readMarks(
  codes: CodeImage,
  lut: Float32Array,
  frame: StripFrame,
  marks: MarkSeries,
  sign: 1 | -1,
): FoundReference | undefined {
  // Marks are tracked at their darkest; bright ones lie half a division further on.
  const shift = sign === 1 ? 0 : 0.5;
  const from = Math.max(0, Math.floor((marks.numbers.length - MOST_TRACED) / 2));
  const numbers = marks.numbers.slice(from, from + MOST_TRACED);
  const positions = numbers.map((number) => positionOn(marks.line, number + shift));
  const spacings = numbers.map((number) => Math.abs(spacingOn(marks.line, number + shift)));
  const ends = traceMarks(codes, lut, frame, positions, spacings, sign);
  if (ends === undefined) return undefined;
  const body = bodyOf(positions, spacings, ends);
  if (body.begin.sd > MOST_RAGGED * percentile(spacings, 50)) return undefined;
  const graduation = readGraduation(numbers, body.lengths);
  if (graduation === undefined) return undefined;
  return measureAlong(codes, lut, frame, { numbers, positions, ends, body, graduation, shift });
}

/** What the marks' ends tell of the scale: the side on which all begin, and how long each is. */
interface Body {
  /** Across the strip, px: where marks begin, as a line over x. */
  readonly begin: RobustLine;
  /** Which way the marks go from there, across. */
  readonly inwards: 1 | -1;
  /** Length of each mark, in divisions. */
  readonly lengths: readonly number[];
  /** Length of the shortest marks, px. */
  readonly shortestPx: Px;
}

function bodyOf(positions: readonly number[], spacings: readonly number[], ends: TracedMarks): Body {
  const low = fitLineRobustly(positions, ends.low);
  const high = fitLineRobustly(positions, ends.high);
  // Marks begin on one line and end at different lengths.
  const inwards = spreadOf(positions, ends.low, low) < spreadOf(positions, ends.high, high) ? 1 : -1;
  const [begin, other] = inwards === 1 ? [low, ends.high] : [high, ends.low];
  const lengthsPx = positions.map((x, i) => inwards * ((other[i] ?? 0) - begin.offset - begin.slope * x));
  return {
    begin,
    inwards,
    lengths: lengthsPx.map((length, i) => length / (spacings[i] ?? 1)),
    shortestPx: percentile(lengthsPx, SHORTEST_PERCENTILE),
  };
}

/** Mean distance from a line: unlike a median it sees the few long ones. */
function spreadOf(x: readonly number[], y: Float64Array, line: RobustLine): number {
  return x.reduce((sum, at, i) => sum + Math.abs((y[i] ?? 0) - line.offset - line.slope * at), 0) / x.length;
}

interface Scale {
  readonly numbers: readonly number[];
  readonly positions: readonly number[];
  readonly ends: TracedMarks;
  readonly body: Body;
  readonly graduation: Graduation;
  /** How far beyond the darkest phase the marks lie, divisions. */
  readonly shift: number;
}

/** Marks measured once more along a line parallel to the scale, through the middle of the shortest ones. */
function measureAlong(
  codes: CodeImage,
  lut: Float32Array,
  frame: StripFrame,
  scale: Scale,
): FoundReference | undefined {
  const { numbers, positions, ends, body, graduation, shift } = scale;
  const across = (x: Px): Px =>
    body.begin.offset + body.begin.slope * x + (body.inwards * body.shortestPx) / 2;
  const crossings = positions.map((x) => pointInStrip(frame, x + across(x) * ends.leanAt(x), across(x)));
  const [first, last] = [crossings[0], crossings.at(-1)];
  if (first === undefined || last === undefined) return undefined;
  const beyond = BEYOND_DIVISIONS / (crossings.length - 1);
  const axis = stripFrame(between(first, last, -beyond), between(first, last, 1 + beyond));
  const along = ([x, y]: PointPx): Px =>
    (x - axis.origin[0]) * axis.along[0] + (y - axis.origin[1]) * axis.along[1];
  const length = Math.ceil(along(between(first, last, 1 + beyond)));
  const profile = stripProfile(codes, lut, axis, length, (FINAL_SHARE / 2) * body.shortestPx);
  const marks = settleMarks(
    shift === 0 ? profile : profile.map((value) => -value),
    crossings.map((point, i) => ({ number: numbers[i] ?? 0, position: along(point) })),
  );
  if (marks === undefined) return undefined;
  return describe(axis, marks, graduation, body);
}

function between(from: PointPx, to: PointPx, share: number): PointPx {
  return [from[0] + share * (to[0] - from[0]), from[1] + share * (to[1] - from[1])];
}

function describe(
  axis: StripFrame,
  marks: MarkSeries,
  graduation: Graduation,
  body: Body,
): FoundReference | undefined {
  const { divisionMm, centimetreMark } = graduation;
  const mmOf = (number: number): Mm => divisionMm * (number - centimetreMark);
  const [first, last] = [marks.numbers[0] ?? 0, marks.numbers.at(-1) ?? 0];
  const lengthMm = divisionMm * (last - first);
  if (lengthMm < LEAST_LENGTH_MM) return undefined;
  const perCentimetre = 10 / divisionMm;
  const chosen = [first];
  for (let number = centimetreMark; number < last; number += perCentimetre) {
    if (number > first) chosen.push(number);
  }
  chosen.push(last);
  // Three parameters over evenly spread marks: at the ends of the scale a fitted place has 9/n of a mark's variance.
  const pointSdPx = marks.markSd * Math.sqrt(9 / marks.numbers.length);
  const longestPx =
    body.shortestPx *
    Math.max(1, percentile(body.lengths, 95) / percentile(body.lengths, SHORTEST_PERCENTILE));
  const corner = (number: number, px: Px): PointPx =>
    pointInStrip(axis, positionOn(marks.line, number), body.inwards * (px - body.shortestPx / 2));
  return {
    kind: 'ruler',
    points: chosen.map((number) => ({
      px: pointInStrip(axis, positionOn(marks.line, number), 0),
      mm: [mmOf(number), 0] as const,
    })),
    pointSdPx,
    sizeRelativeSd: ALLOWED_ERROR_MM / Math.sqrt(3) / lengthMm,
    outlinePx: [corner(first, 0), corner(last, 0), corner(last, longestPx), corner(first, longestPx)],
    confidence: graduation.clarity * marks.share,
  };
}
