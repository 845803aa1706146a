import { makeProfiles } from '../../src/profiles/makeProfiles.js';
import { drawnCase, measurePlaced } from '../../test/helpers/drawn.js';
import type { Case } from '../../test/synth/population.js';
import { facePenned, faceUnpenned } from '../../test/synth/penned.js';

/** A drawn face to look for lines on. */
export interface PenJob {
  readonly kind: 'penned' | 'unpenned';
  readonly seed: number;
  /** Measure it with and without its lines as well. */
  readonly measure: boolean;
}

/** What was found. Plain data. */
export interface PenOutcome extends PenJob {
  /** How many lines were drawn, and how many of them were found within 1 mm. */
  readonly drawn: number;
  readonly found: number;
  /** Lines found where none was drawn. */
  readonly untrue: number;
  /** Found ÷ drawn height, mm, and the 95 % half-width of its own scatter. */
  readonly offMm: readonly number[];
  readonly offSds: readonly number[];
  /** The first line is the boldest of those drawn, by width times contrast; absent where fewer than two are found. */
  readonly boldestFirst?: boolean;
  /** What the lines change of the frequency proposed; absent where none is proposed with or without them. */
  readonly changeHz?: number;
  readonly sdHz?: number;
}

/** A line is found where it is nearer than this. */
const NEAR_MM = 1;
/** How much the true height may differ by the corners as they were clicked, which all heights share. */
const CLICK_SD_MM = 0.1;

/**
 * Draws a face and looks for lines on it.
 * @param job - Which face.
 */
export async function findLines(job: PenJob): Promise<PenOutcome> {
  const { recipe, strokes } = job.kind === 'penned' ? facePenned(job.seed) : faceUnpenned(job.seed);
  const one: Case = { kind: 'main', seed: job.seed, recipe, told: {}, jpegQuality: 85 };
  const withLines = await drawnCase(one);
  const { penLines } = makeProfiles(withLines.face, withLines.settings);
  const near = strokes.flatMap((stroke) => {
    const line = penLines.find(({ heightMm }) => Math.abs(heightMm - stroke.heightMm) < NEAR_MM);
    return line === undefined ? [] : [{ stroke, line }];
  });
  const boldness = ({ widthMm, ink = 0.2 }: (typeof strokes)[number]) => widthMm * Math.abs(Math.log(ink));
  const boldest = near.toSorted((a, b) => boldness(b.stroke) - boldness(a.stroke))[0];
  return {
    ...job,
    drawn: strokes.length,
    found: near.length,
    untrue: penLines.length - near.length,
    offMm: near.map(({ stroke, line }) => line.heightMm - stroke.heightMm),
    offSds: near.map(
      ({ stroke, line }) => (line.heightMm - stroke.heightMm) / Math.hypot(line.heightSdMm, CLICK_SD_MM),
    ),
    ...(near.length < 2 ? {} : { boldestFirst: penLines[0] === boldest?.line }),
    ...(job.measure ? await changeOf(one, withLines) : {}),
  };
}

async function changeOf(
  one: Case,
  withLines: Parameters<typeof measurePlaced>[0],
): Promise<Pick<PenOutcome, 'changeHz' | 'sdHz'>> {
  const flaws = { ...one.recipe.flaws, penLines: [] };
  const withoutLines = await drawnCase({ ...one, recipe: { ...one.recipe, flaws } });
  const [inked, bare] = [withLines, withoutLines].map((face) => measurePlaced(face).decision.proposal);
  if (inked?.state !== 'proposed' || bare?.state !== 'proposed') return {};
  return { changeHz: inked.frequencyHz.value - bare.frequencyHz.value, sdHz: bare.frequencyHz.sd };
}
