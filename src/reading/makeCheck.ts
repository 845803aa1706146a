import { decideWithoutFace, type PhotoOutlook } from '../band/decide.js';
import type { Refused } from '../band/decision.js';
import type { Mm } from '../core/units.js';
import type { CountedLayers } from '../face/countLayers.js';
import { nearerAdvice } from './advice.js';
import type { PhotoCheck } from './checkSchema.js';
import { faceOf, photoOf, proposalOf, searchOf, type ReadingParts } from './makeReading.js';
import { collectWarnings, type Warning, type WarningCode } from './warnings.js';

/** What was found in a photo that is not measured. */
export interface CheckParts extends Pick<
  ReadingParts,
  | 'version'
  | 'bytes'
  | 'info'
  | 'record'
  | 'recordFromCard'
  | 'settings'
  | 'assumed'
  | 'search'
  | 'geometry'
  | 'regions'
> {
  /** Whether anything was told of the print; `settings` are guesses otherwise. */
  readonly printTold: boolean;
  readonly layerLines: CountedLayers | undefined;
  /** Layer lines may be there that the copy which was looked at is too small for. */
  readonly isReduced: boolean;
  /** Undefined where no face is read. */
  readonly outlook: PhotoOutlook | undefined;
  /** Spacing of usual ripples. */
  readonly usualSpacingMm: Mm;
}

/** Notes that rest on what was told of the print. */
const OF_PRINT: ReadonlySet<WarningCode> = new Set([
  'size-from-reference',
  'face-looks-turned',
  'face-shape-unsure',
  'face-ends-low',
  'layers-not-seen',
  'seam-on-corner',
  'alternating-walls',
  'pen-line-not-found',
  'reference-not-found',
  'card-of-another',
]);
/** Notes whose mending helps, the most helpful first. */
const HINTS: readonly WarningCode[] = [
  'few-px-per-ripple',
  'soft-focus',
  'clipped-light',
  'reference-off-plane',
  'reference-not-found',
  'reference-unsure',
  'face-shape-unsure',
];
const TELL_SIZE =
  "Tell the print's width and height as sliced (--face-width and --face-height, and --layer-height where it is not 0.2 mm; or --print FILE): with them the face is known by its shape, and how good the photo is can be told.";

/**
 * Says whether a photo will do.
 * @param parts - What was found in it.
 * @returns Plain data that survives JSON.
 */
export function makeCheck(parts: CheckParts): PhotoCheck {
  const { geometry, layerLines, outlook, usualSpacingMm } = parts;
  const notes = notesOf(parts);
  const unfit = outlook === undefined ? unread(parts) : outlook.refused;
  const untold = unfit !== undefined && isUntold(parts, unfit);
  const refused = untold ? undefined : unfit;
  const doubtful = untold ? unfit : outlook?.doubtful;
  const first = HINTS.flatMap((code) => notes.find((note) => note.code === code) ?? []).at(0);
  const hint = untold ? TELL_SIZE : hintOf(parts, refused ?? doubtful, first);
  return {
    schema: 'stillband/photo-check@1',
    versions: { stillband: parts.version },
    photo: photoOf(parts),
    printTold: parts.printTold,
    verdict: verdictOf(refused, doubtful),
    ...(hint === undefined ? {} : { hint }),
    search: {
      ...searchOf(parts),
      // Whatever may be there was looked for, and nobody said that it is.
      ...(parts.printTold ? {} : { missing: [] }),
    },
    ...(geometry === undefined ? {} : { face: faceOf(geometry, parts, usualSpacingMm) }),
    ...(layerLines === undefined ? {} : { layerLines: { ...layerLines } }),
    scales: (geometry?.scales ?? []).map((scale) => ({ ...scale })),
    // What the hint is about is not told twice.
    notes: notes.filter((note) => note !== first || (refused ?? doubtful)).map((note) => ({ ...note })),
  };
}

/** Why no face is read. */
function unread({ search, info }: CheckParts): Refused | undefined {
  const { proposal } = decideWithoutFace(search, info);
  return proposal.state === 'refused' ? proposal : undefined;
}

/** What is no fault of the photo while nothing is told of the print: its size, and a face that only its shape would tell. */
function isUntold({ printTold, settings, search }: CheckParts, { reason }: Refused): boolean {
  const { widthMm, heightMm } = settings.face;
  if (widthMm !== undefined && heightMm !== undefined) return false;
  const cause = 'cause' in search ? search.cause : undefined;
  return !printTold && (reason === 'scale-missing' || (reason === 'face-unclear' && cause === undefined));
}

function verdictOf(refused: Refused | undefined, doubtful: Refused | undefined): PhotoCheck['verdict'] {
  const told = ({ reason, criterion }: Refused) => ({ reason, ...(criterion && { criterion }) });
  if (refused !== undefined) return { state: 'will-not-do', ...told(refused) };
  return doubtful === undefined ? { state: 'will-do' } : { state: 'doubtful', ...told(doubtful) };
}

function notesOf(parts: CheckParts): readonly Warning[] {
  const { record, settings, search, geometry, layerLines, usualSpacingMm, printTold, isReduced } = parts;
  const all = collectWarnings({
    record,
    settings,
    search,
    geometry,
    layersSeen: layerLines !== undefined || isReduced,
    profiles: undefined,
    ripples: undefined,
    decision: undefined,
    usualSpacingMm,
  });
  // A pen line is looked for only when the face is measured.
  return all.filter(({ code }) => code !== 'pen-line-not-found' && (printTold || !OF_PRINT.has(code)));
}

/** What helps most: against the refusal, or the first thing that could be better. */
function hintOf(
  parts: CheckParts,
  unfit: Refused | undefined,
  first: Warning | undefined,
): string | undefined {
  const { settings, assumed, geometry, search, outlook } = parts;
  if (unfit !== undefined) {
    if (unfit === outlook?.doubtful && unfit.reason === 'too-coarse') {
      return nearerAdvice(outlook.usualPxPerRipple, geometry?.pose?.distanceMm);
    }
    const decision = { proposal: unfit, spacingCheck: { state: 'not-measurable' }, budget: [] } as const;
    const told = proposalOf({ decision, settings, assumed, geometry, search });
    return told.state === 'refused' ? told.advice : undefined;
  }
  if (first?.code === 'few-px-per-ripple') {
    return nearerAdvice(outlook?.usualPxPerRipple, geometry?.pose?.distanceMm);
  }
  return first?.text;
}
