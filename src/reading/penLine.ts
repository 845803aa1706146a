import type { Decision, SeenGeometry } from '../band/decision.js';
import { marksOf, opinionOf, type LineMark, type Mark, type Verdict } from '../band/secondOpinion.js';
import type { PrintSettings } from '../print/settle.js';
import type { Profiles } from '../profiles/makeProfiles.js';
import type { Reading } from './schema.js';

type Told = NonNullable<Reading['penLine']>;

/** What a second opinion is given on, and by. */
export interface OpinionFacts {
  readonly profiles: Profiles | undefined;
  readonly settings: PrintSettings;
  readonly geometry: SeenGeometry | undefined;
  readonly decision: Decision;
}

/**
 * The second opinion on a pen line or a typed height, as it is kept.
 * @param facts - What was found, told and decided.
 * @returns The part of a reading; nothing where no line was drawn or typed.
 */
export function penLineOf({
  profiles,
  settings,
  geometry,
  decision,
}: OpinionFacts): Pick<Reading, 'penLine'> {
  const { lines, typed } = marksOf(profiles, settings, geometry);
  const verdictOf = (mark: Mark): Verdict => opinionOf(mark, decision, settings.shaper);
  const [first, ...others] = lines;
  if (first === undefined) {
    if (typed === undefined) return {};
    return {
      penLine: { source: 'calipers', ...placeOf(typed), others: [], verdict: verdictOf(typed) },
    };
  }
  return {
    penLine: {
      source: 'photo',
      ...lineOf(first),
      others: others.map(lineOf),
      verdict: verdictOf(first),
      ...(typed?.fromPhotoMm === undefined
        ? {}
        : {
            typed: {
              ...placeOf(typed),
              fromPhotoMm: typed.fromPhotoMm,
              contradicts: typed.contradicts,
              verdict: verdictOf(typed),
            },
          }),
    },
  };
}

function placeOf({ heightMm, frequencyHz }: Mark): Pick<Told, 'heightMm' | 'frequencyHz'> {
  return { heightMm, ...(frequencyHz === undefined ? {} : { frequencyHz }) };
}

function lineOf(mark: LineMark): Told['others'][number] {
  const { widthMm, slantRad, ink, confidence } = mark.line;
  return { ...placeOf(mark), widthMm, slantDeg: (slantRad * 180) / Math.PI, ink, confidence };
}
