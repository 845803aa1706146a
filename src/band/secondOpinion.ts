import {
  combineSd,
  COVERAGE_95,
  interval95,
  type Estimate,
  type Interval,
  RECTANGULAR,
} from '../core/estimate.js';
import type { Hz, Mm } from '../core/units.js';
import { residualSize } from '../physics/residual.js';
import { shaperImpulses } from '../physics/shapers.js';
import { ladderHzAt, ladderSlopeHzPerMm } from '../print/ladder.js';
import type { PrintSettings } from '../print/settle.js';
import type { PenLine } from '../profiles/penLine.js';
import type { Profiles } from '../profiles/makeProfiles.js';
import type { Decision, Proposed, SeenGeometry } from './decision.js';
import { CLEAN_SHARE } from './judgeNull.js';

/** A height that somebody chose by eye, with the frequency that they would enter for it. */
export interface Mark {
  /** Above the bed, mm. */
  readonly heightMm: Interval;
  /** The ladder's frequency there; absent where it has none. */
  readonly frequencyHz?: Interval;
  /** What is uncertain of the height alone, and not of all heights on this photo alike, mm. */
  readonly ownSdMm: Mm;
}

/** A mark that is a line on the photo. */
export interface LineMark extends Mark {
  readonly line: PenLine;
}

/** What was marked by eye. */
export interface Marks {
  /** Lines found in the photo: that of the typed height first, then the likeliest. */
  readonly lines: readonly LineMark[];
  /** The height typed. */
  readonly typed?: Mark & {
    /** How much higher it is than the first line; absent where no line is found. */
    readonly fromPhotoMm?: Interval;
    /** That lies outside both their uncertainties. */
    readonly contradicts: boolean;
  };
}

/** What may be said of a mark. */
export type Verdict =
  | {
      /**
       * - `agrees`: it and ours lie within the 95 % half-width of their difference.
       * - `keep`: they do not, but at most 5 % of the ringing would be left, or a fifth more than ours leaves.
       * - `worth-changing`: more would be left.
       */
      readonly code: 'agrees' | 'keep' | 'worth-changing';
      /** How much higher the mark is than ours; of several ladders, than the nearest. */
      readonly apartMm: Interval;
      readonly apartHz: Interval;
      /** Ringing that a shaper set to the mark's frequency leaves ÷ the unshaped; its range over 95 % of `apartHz`. */
      readonly left: { readonly value: number; readonly low95: number; readonly high95: number };
      /** The same of a shaper set to ours. */
      readonly leftAtOurs: number;
    }
  | {
      /** Nothing is proposed that it could be held against, or the ladder has no frequency there. */
      readonly code: 'no-opinion';
      readonly because: 'nothing-proposed' | 'off-ladder';
    };

/**
 * Maximum permissible error of calipers up to 200 mm read to 0.05 mm, ± 0.05 mm: ISO 13385-1 leaves it to the maker, and
 * DIN 862 states it so (both from memory).
 */
const CALIPER_ERROR_MM: Mm = 0.05;
/** Width of a pen's line where none is seen: fine markers draw 0.4 to 1 mm (common practice, no source). */
const USUAL_LINE_MM: Mm = 0.8;
/** A printed foot is pressed and rounded, and bulges by as much: half of 0.3 mm, as for the outline of a face. */
const FOOT_SD_MM: Mm = 0.15;
/** Calipers measure what cooled and shrank: 0.2 to 0.8 % less than was commanded, DESIGN 2; known to no better. */
const SHRUNK_RELATIVE_SD = 0.003;
/** Where a shaper's damping setting leaves more than it should anyhow, so much more of it is no matter. */
const LITTLE_MORE = 1.2;
/** Steps in which the range of what is left is looked through. */
const STEPS = 40;

/**
 * Gathers the lines found in the photo and the height typed.
 * @param profiles - With the lines found; undefined where no face is read.
 * @param settings - Ladder, typed height.
 * @param geometry - Where the face is; undefined where none is read.
 * @returns The marks; neither where nothing was drawn or typed.
 */
export function marksOf(
  profiles: Pick<Profiles, 'penLines'> | undefined,
  settings: PrintSettings,
  geometry: SeenGeometry | undefined,
): Marks {
  const lines =
    geometry === undefined
      ? []
      : (profiles?.penLines ?? []).map((line): LineMark => ({ ...lineMark(line, settings, geometry), line }));
  const { penLineMm } = settings;
  if (penLineMm === undefined) return { lines };
  const typedBy = (line: LineMark | undefined) => typedMark(penLineMm, settings, line?.line.widthMm);
  const offOf = (line: LineMark) => Math.abs(line.heightMm.value - penLineMm);
  const [nearest] = lines.toSorted((a, b) => offOf(a) - offOf(b));
  // Of several lines that one is meant which was measured.
  const meant = nearest !== undefined && !differ(typedBy(nearest), nearest) ? nearest : lines[0];
  const typed = typedBy(meant);
  if (meant === undefined) return { lines, typed: { ...typed, contradicts: false } };
  const fromPhotoMm = between(typed, meant);
  return {
    lines: [meant, ...lines.filter((line) => line !== meant)],
    typed: { ...typed, fromPhotoMm, contradicts: differ(typed, meant) },
  };
}

/**
 * Holds a mark against what is proposed.
 * @param mark - The mark.
 * @param decision - What was decided, with the fit along the ladder.
 * @param shaper - The shaper whose frequency is to be entered.
 * @returns The verdict.
 * @see `residualFactor` for what is left, by published theory.
 */
export function opinionOf(
  mark: Mark,
  { proposal, nullFit }: Pick<Decision, 'proposal' | 'nullFit'>,
  shaper: PrintSettings['shaper'],
): Verdict {
  if (proposal.state !== 'proposed' || nullFit === undefined) {
    return { code: 'no-opinion', because: 'nothing-proposed' };
  }
  if (mark.frequencyHz === undefined) return { code: 'no-opinion', because: 'off-ladder' };
  const { frequencyHz: ours } = proposal;
  const bestHeightMm = nearestBest(mark, proposal);
  // The model's null is moved to what is proposed, so that least is left there.
  const axisHz = (nullFit.naturalHz * ours.value) / nullFit.nullHz;
  const leftAt = (hz: Hz) => residualSize(shaperImpulses({ ...shaper, hz }), axisHz, nullFit.dampingRatio);
  const apartHz = interval95({
    value: mark.frequencyHz.value - ours.value,
    sd: combineSd(ours.sd, mark.frequencyHz.sd * ownShare(mark)),
  });
  const apartMm = interval95({
    value: mark.heightMm.value - bestHeightMm.value,
    sd: combineSd(bestHeightMm.sd, mark.ownSdMm),
  });
  const range = Array.from({ length: STEPS + 1 }, (_, i) => {
    const hz = ours.value + apartHz.low95 + ((apartHz.high95 - apartHz.low95) * i) / STEPS;
    return leftAt(Math.max(hz, LEAST_HZ));
  });
  const value = leftAt(mark.frequencyHz.value);
  const leftAtOurs = leftAt(ours.value);
  const little = value <= Math.max(CLEAN_SHARE, LITTLE_MORE * leftAtOurs);
  const within = Math.abs(apartHz.value) <= COVERAGE_95 * apartHz.sd;
  return {
    code: within ? 'agrees' : little ? 'keep' : 'worth-changing',
    apartMm,
    apartHz,
    left: { value, low95: Math.min(value, ...range), high95: Math.max(value, ...range) },
    leftAtOurs,
  };
}

/** Of several ladders each has a best height: that of the mark's is the nearest. */
function nearestBest({ heightMm }: Mark, { bestHeights, bestHeightMm }: Proposed): Interval {
  const off = (best: Interval) => Math.abs(best.value - heightMm.value);
  const all = bestHeights?.map((one) => one.bestHeightMm) ?? [bestHeightMm];
  return all.reduce((nearest, best) => (off(best) < off(nearest) ? best : nearest));
}

/** No axis swings as slowly; a shaper needs a frequency above 0. */
const LEAST_HZ: Hz = 1;

/**
 * A line is as uncertain as the place in it that was meant: anywhere in its width, and, where it is slanted, anywhere
 * along the wall. Where heights begin and how long they are is uncertain of ours as well.
 */
function lineMark(line: PenLine, settings: PrintSettings, geometry: SeenGeometry): Mark {
  const riseMm = Math.abs(Math.tan(line.slantRad)) * geometry.widthMm;
  const ownSdMm = combineSd(line.heightSdMm, RECTANGULAR * line.widthMm, RECTANGULAR * riseMm);
  const scaleSd = geometry.heightRelativeSd * (line.heightMm - geometry.bottomMm);
  const sd = combineSd(ownSdMm, geometry.bottomSdMm, scaleSd);
  return markAt({ value: line.heightMm, sd }, ownSdMm, settings);
}

function typedMark(heightMm: Mm, settings: PrintSettings, lineMm: Mm = USUAL_LINE_MM): Mark {
  const { penLinePlusMinusMm, face } = settings;
  const byHand =
    penLinePlusMinusMm === undefined
      ? // An error that lies anywhere within ± its limit, and jaws that are set anywhere on the line.
        combineSd(RECTANGULAR * 2 * CALIPER_ERROR_MM, RECTANGULAR * lineMm)
      : penLinePlusMinusMm / COVERAGE_95;
  const sd = combineSd(byHand, FOOT_SD_MM, SHRUNK_RELATIVE_SD * (heightMm - face.bottomMm));
  return markAt({ value: heightMm, sd }, sd, settings);
}

function markAt(heightMm: Estimate, ownSdMm: Mm, { ladder }: PrintSettings): Mark {
  const hz = ladderHzAt(ladder, heightMm.value);
  if (hz === undefined) return { heightMm: interval95(heightMm), ownSdMm };
  const sd = combineSd(hz.sd, ladderSlopeHzPerMm(ladder, heightMm.value) * heightMm.sd);
  return { heightMm: interval95(heightMm), frequencyHz: interval95({ value: hz.value, sd }), ownSdMm };
}

/** What of a mark's uncertainty is its own: the rest moves ours alike, and is counted there. */
function ownShare({ heightMm, ownSdMm }: Mark): number {
  return heightMm.sd === 0 ? 1 : ownSdMm / heightMm.sd;
}

function between(typed: Mark, line: Mark): Interval {
  return interval95({
    value: typed.heightMm.value - line.heightMm.value,
    sd: combineSd(typed.heightMm.sd, line.heightMm.sd),
  });
}

function differ(typed: Mark, line: Mark): boolean {
  const { low95, high95 } = between(typed, line);
  return low95 > 0 || high95 < 0;
}
