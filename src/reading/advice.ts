import type { RefusalReason } from '../core/outcome.js';
import { combineRoutes, type BudgetLine } from '../band/budget.js';
import type { Suspect } from '../face/conflict.js';
import { USUAL_HZ } from '../band/decide.js';
import type { Decided } from '../band/decision.js';
import { isHumped } from '../band/nullFit.js';
import type { UnseenCause } from '../face/seenFace.js';
import type { Mm, MmPerS, Px } from '../core/units.js';
import type { Reading } from './schema.js';
import { ladderRangeHz } from '../print/ladder.js';
import type { PrintSettings } from '../print/settle.js';
import { SEARCH_HZ } from '../ripple/searchBand.js';

/** What the user has told, on which the advice depends. */
export interface AdviceFacts {
  readonly settings: Pick<PrintSettings, 'seam' | 'shaper' | 'ladder' | 'face'>;
  /** Fields of the print record that were assumed. */
  readonly assumed: ReadonlySet<string>;
  /** What is most likely wrong where sizes contradict each other; undefined where nothing singles one out. */
  readonly suspect: Suspect | undefined;
  /** What is to blame that no face is read; undefined where nothing singles it out. */
  readonly unseen?: UnseenCause['what'] | undefined;
  /** One face is likelier than not beyond doubt, and yet not read. */
  readonly seenForSure?: boolean;
  /** How far the camera was from the face, mm; undefined where the photo does not tell. */
  readonly distanceMm: Mm | undefined;
}

/** A cover is not recognised: where it hides or imitates ripples, the advice asks for none. */
const NO_COVER = 'nothing over the wall (paint, tape, a shadow)';
/** A frequency lies about within the ladder when it is no further outside it than this share of an end. */
const ABOUT = 0.1;
/** Px per ripple that a photo should have: DESIGN 5.7. */
const ADVISED_PX_PER_RIPPLE = 40;
/** Nearer than this few cameras focus (common practice, no source). */
const NEAREST_MM: Mm = 80;

const TURN_OVER =
  "Check that the tower stands upright in the photo (corners given by hand begin at its own top-left as printed), that the ladder's two ends are not swapped, that the machine carried the ladder out, and that the shaper's damping is the one that was set.";

/** What a ladder that lies within a shaper's wide band can bring about: hardly any ringing is let through. */
const NOTHING_SEEN: ReadonlySet<RefusalReason> = new Set([
  'no-ringing',
  'too-noisy',
  'fixed-pitch-only',
  'not-ringing',
]);
/** 2- and 3-hump EI let ringing through below 0.7 and above 1.7 to 2.1 times the frequency: somewhat beyond that. */
const HUMPED_LADDER = { from: 0.5, to: 2.5 } as const;
const WIDER_FOR_HUMPS =
  'Print again with a ladder from half the frequency to two and a half times it, since 2- and 3-hump EI let hardly any ringing through over a wide range; or print the test with a ZV shaper, which needs less.';

/** Whether a ladder can be wide enough for 2- and 3-hump EI, whatever the frequency. */
function showsBothSides(ladder: PrintSettings['ladder']): boolean {
  const range = ladderRangeHz(ladder);
  return range !== undefined && range.highHz / range.lowHz >= HUMPED_LADDER.to / HUMPED_LADDER.from;
}

/**
 * The one change that would help most, in the order new photo, other light, other print.
 * @param reason - Why nothing can be proposed.
 * @param decision - What was found; the advice depends on it.
 * @param facts - What the user has told or left out.
 * @returns One sentence.
 */
export function adviceFor(
  reason: RefusalReason,
  decision: Decided,
  { settings, assumed, suspect, distanceMm, unseen, seenForSure = false }: AdviceFacts,
): string {
  if (settings.seam === 'leading-corner' && (reason === 'no-ringing' || reason === 'too-noisy')) {
    return 'Print again with the seam on another face: at this corner the nozzle starts from rest, which hardly excites ringing.';
  }
  if (NOTHING_SEEN.has(reason) && isHumped(settings.shaper.family) && !showsBothSides(settings.ladder)) {
    return WIDER_FOR_HUMPS;
  }
  const { explanation } = decision.spacingCheck;
  switch (reason) {
    case 'face-not-found':
      return 'Take a new photo in which the whole face is seen upright, sharp and neither dark nor burnt out, against a background of another colour; or give its corners (--face).';
    case 'face-unclear':
      if (unseen === 'shape') return shapeAdvice(decision, settings.face);
      return unseen === 'click'
        ? 'Check the corners that were given (--face): without them a face is found, marked in the picture, which has none of its corners there; leave them away where it is the right one, else give all four.'
        : seenForSure
          ? "The face is seen, but not where exactly its edges lie: use the camera's own file, since a copy without its capture data tells less of the view, or give all four corners (--face)."
          : 'Check the width and height that were told, and that the photo stands upright and no edge of the face is hidden; else give the corners of the face (--face), opposite ones first.';
    case 'face-cut-off':
      return 'Take a new photo from a little further away, so that the whole face is in it with some room on all sides, and bright enough.';
    case 'scale-missing':
      return "Tell the face's width and height as sliced, or take a new photo with the whole reference in it, flush with the face.";
    case 'scales-disagree':
      return suspect === undefined ? CHECK_SCALES : accuse(suspect);
    case 'too-dark':
      return 'Take a new photo with more light: a stronger lamp or one nearer by, or a longer exposure with the camera set down.';
    case 'glare':
      return 'Take a new photo with less exposure or a weaker lamp, so that no part of the face is plain white in it.';
    case 'wall-too-short':
      return "Check that the face's size is told in mm; if it is, print a wider face, or put its slot further from the corner.";
    case 'too-coarse':
      return fromNearer(decision, distanceMm);
    case 'blurred':
      return 'Take a new photo: tap to focus on the wall, wipe the lens, and set the camera down or hold it against something; more light helps.';
    case 'no-ringing':
      return 'Take a new photo with the lamp level with the tower and far to one side, so that light rakes along the wall; if it looks smooth by eye too, print with another acceleration, since at some a corner excites nothing.';
    case 'too-noisy':
      return `Take a new photo from nearer with the lamp further to the side and ${NO_COVER}; if the wall looks smooth by eye, print with a higher acceleration within the limits of your machine.`;
    case 'fixed-pitch-only':
      return 'If something covers part of the wall (paint, tape, a shadow), clear it away and take a new photo; otherwise print at another speed, at which ringing and the pattern of the drive differ.';
    case 'not-ringing':
      return `Check that the tower stands upright in the photo, which corner of the face the nozzle reaches first (--leading-corner) and the print speed, and that there is ${NO_COVER} behind it.`;
    case 'acceleration-disagrees':
      if (assumed.has('accelerationMmPerS2')) {
        return 'Tell the acceleration (mm/s²) that applied to this wall (--acceleration), which was assumed.';
      }
      return 'Check the acceleration (mm/s²) and the speed that applied to this wall; if they are right, take a new photo, sharp and without a shadow near the corner, and check the corners.';
    case 'two-frequencies':
      return 'Check that this face is perpendicular to an axis that the shaper works on, that belts that work together are equally tight, and that nothing is loose; then print the tower again.';
    case 'light-from-front':
      return 'Take a new photo with the lamp level with the tower and moved to its side, 60 to 75° from straight in front, so that light rakes along the wall; room lights and flash off.';
    case 'below-ladder':
      return 'Print again with a ladder that starts lower, so that the frequency lies well inside it.';
    case 'above-ladder':
      return halfIsOnLadder(decision, settings)
        ? `Take a new photo with the lamp far to one side first, since light from the front shows ripples at twice their frequency; if they stay where they are, print again ${HIGHER}`
        : `Print again ${HIGHER}`;
    case 'ladder-has-no-range':
      return 'Print a tower whose shaper frequency climbs with height, or ask for the frequency by spacing with --spacing-only.';
    case 'two-bands-possible':
      return 'Print with a ladder that passes each frequency once, or ask for the frequency by spacing with --spacing-only.';
    case 'ladders-disagree':
      return 'Check that the machine carried every ladder out, and at what heights each begins and ends; then measure again with the right ones, or print a tower with one ladder.';
    case 'one-sided':
      if (decision.proposal.state === 'refused' && decision.proposal.criterion?.value === 0) {
        return isHumped(settings.shaper.family)
          ? WIDER_FOR_HUMPS
          : 'Print again with a wider ladder, since this one ends before the shaper lets ringing through again.';
      }
      return `Take a new photo in which the whole height is lit alike, with ${NO_COVER}; if the ripples are missing on one side by eye as well, print with a wider ladder.`;
    case 'no-reversal':
      return `${
        assumed.has('shaper.family') || assumed.has('shaper.dampingRatio')
          ? "Tell the shaper's family and damping (--shaper, --damping) as they were set, not as they were assumed"
          : "Check the shaper's family and damping that were set"
      }, and check that the machine carried the ladder out; then take a new photo with raking light and ${NO_COVER}.`;
    case 'spacing-disagrees':
      return explanation?.cause === 'reversed-ladder'
        ? TURN_OVER
        : speedAdvice(explanation?.impliedSpeedMmPerS);
    case 'ladder-reversed':
      return TURN_OVER;
    case 'photos-disagree':
      return 'Check that all photos show the same axis of the same machine, printed with the same settings, and measure each by itself.';
    case 'too-uncertain':
      return UNCERTAIN[largestCause(decision)];
  }
}

/** A speed is the likeliest mistake, and all that moves the frequency by spacing or the height comes after it. */
function speedAdvice(mmPerS: MmPerS | undefined): string {
  const fitting = mmPerS === undefined ? '' : `: at about ${mmPerS.toFixed(0)} mm/s all would fit`;
  return `Look up the speed that was really reached on this face${fitting}; then check the face's size and corners, the axis, and the ladder in the print record.`;
}

const HIGHER = 'with a ladder that ends higher, so that the frequency lies well inside it.';
const CHECK_SCALES =
  'Check the sliced width and height of the face, its corners, and the reference with its distance behind the face if there is one (of a marker card also its --check-length), then measure again.';

const SUSPECTS = { width: 'width', height: 'height', 'layer-height': 'layer height' } as const;
const THINGS = { 'id1-card': 'card', ruler: 'ruler', 'marker-card': 'marker card' } as const;

/** A cover over the top or the foot makes the face look higher or lower, as another height of face or layer would. */
const COVERED_EDGE =
  '; if it is right, part of the face is hidden or a cover was taken for part of it, so clear its edges or give its corners (--face)';

/** A printer that fits the page to its paper makes the card too small; the finder cannot tell that from a card further away. */
const MAY_BE_SCALED =
  ', or was not printed at true size, which calipers show: tell what its check length measures (--check-length)';

/** What to check first, with the number that would fit. */
function accuse(suspect: Suspect): string {
  switch (suspect.what) {
    case 'size':
      return 'Check the sliced width and height of the face: the layer lines and the reference agree with each other, and not with them.';
    case 'reference': {
      const mm = Math.round(Math.abs(suspect.behindMm.value));
      const where = suspect.behindMm.value < 0 ? 'in front of' : 'behind';
      return `Hold the ${THINGS[suspect.kind]} flush with the face, or tell how far behind it lies (--behind-face): it looks as large as if it lay about ${mm} mm ${where} the face${suspect.kind === 'marker-card' ? MAY_BE_SCALED : ''}.`;
    }
    default: {
      const mm = Number(suspect.mm.value.toPrecision(suspect.what === 'layer-height' ? 2 : 3));
      const covered = suspect.what !== 'width' && suspect.orCovered ? COVERED_EDGE : '';
      return `Check the ${SUSPECTS[suspect.what]} that was told: about ${mm} mm would fit what the photo shows${covered}.`;
    }
  }
}

/** What to check where the clearest face has another shape than was told. */
function shapeAdvice({ proposal }: Decided, { widthMm = 0, heightMm = 0 }: PrintSettings['face']): string {
  const seen = proposal.state === 'refused' ? (proposal.criterion?.value ?? 0) : 0;
  const [sees, says] = [seen, heightMm / widthMm].map((ratio) => ratio.toFixed(3));
  return `Check the width and height that were told (--face-width, --face-height): the clearest face has height ÷ width ${String(sees)}, the record says ${String(says)}; if they are right, give the corners of the face (--face).`;
}

/** How near. Where no ripples were seen, the criterion counts px of those of the slowest axis; usual ones are shorter. */
function fromNearer({ proposal, ringing }: Decided, distanceMm: Mm | undefined): string {
  const px = proposal.state === 'refused' ? proposal.criterion?.value : undefined;
  const usual = px !== undefined && ringing === undefined ? (px * SEARCH_HZ.low) / USUAL_HZ : px;
  return nearerAdvice(usual, distanceMm);
}

/**
 * From how near to take the photo, where that can be told: px per ripple grow as the distance shrinks.
 * @param pxPerRipple - What it has; undefined where that is not known.
 * @param distanceMm - From where it was taken; undefined where the photo does not tell.
 * @returns One sentence.
 */
export function nearerAdvice(pxPerRipple: Px | undefined, distanceMm: Mm | undefined): string {
  if (distanceMm === undefined || pxPerRipple === undefined) {
    return 'Take a new photo from nearer, so that the face fills the picture.';
  }
  const nearMm = (distanceMm * pxPerRipple) / ADVISED_PX_PER_RIPPLE;
  return nearMm < NEAREST_MM
    ? 'Take a new photo from as near as the camera focuses, at its full resolution, and with a lens for close-ups if it has one.'
    : `Take a new photo from about ${String(Math.floor(nearMm / 10))} cm instead of ${String(Math.round(distanceMm / 10))} cm.`;
}

const NEW_PHOTO =
  'Take a new photo from nearer with raking light; if that does not help, print again with a ladder that climbs more slowly around this frequency.';
const CLEARER_RIPPLES =
  'Take a new photo from nearer with raking light; if that does not help, print again with a higher acceleration within the limits of your machine.';
const CHECK_SIZE = 'Tell the sliced width and height of the face, and put its corners more exactly.';

/** What to photograph, to tell or to print again, by what makes the frequency most uncertain. */
const UNCERTAIN: Readonly<Record<BudgetLine['cause'], string>> = {
  'scatter-null': NEW_PHOTO,
  'scatter-spacing': CLEARER_RIPPLES,
  'scale-along-wall': CHECK_SIZE,
  'scale-along-height': CHECK_SIZE,
  'scale-from-reference': CHECK_SIZE,
  'layer-origin':
    'Tell where the face begins above the bed (--face-bottom), and put its lower corners more exactly; a second print with a ladder that climbs more slowly around this frequency would help, too.',
  'layer-rounding':
    'Print again with a ladder that climbs more slowly around this frequency, over thinner layers.',
  'axis-damping': CLEARER_RIPPLES,
  'shaper-damping': 'Tell the damping ratio that the shaper was set to (--damping), which was assumed.',
  'near-pattern':
    'Print again at another speed, at which the ripples are not as far apart as the pattern of the drive.',
  'taken-second':
    'Look for what swings at the second frequency (a loose part, the other axis) and stop it, then print again; a new photo from nearer with raking light tells the two apart better.',
  'faint-second':
    'Take a new photo from nearer with raking light, so that a second frequency that may be there shows or does not; look for a part that is loose as well.',
  'assumed-acceleration':
    'Tell the acceleration (mm/s²) that applied to this wall (--acceleration), which was assumed.',
  'assumed-corner-speed':
    'Tell the speed that is kept through the corner (--corner-speed), which was assumed.',
  'assumed-along-wall':
    'Tell whether the move along the face is shaped as well (--along-wall), which was assumed.',
  // Taken as known to 2 %, so never the largest of 14 %.
  speed: CLEARER_RIPPLES,
};

/** What makes a proposed frequency uncertain most, and what would help. */
export interface Narrowing {
  readonly cause: string;
  /** Its share of the variance, 0 to 1. */
  readonly share: number;
  /** One sentence. */
  readonly advice: string;
}

/**
 * What would make a proposed frequency more certain.
 * @param routes - The frequency by both routes.
 * @param budget - Every cause of uncertainty.
 * @returns The largest cause of what both routes together are uncertain by; undefined where no cause is known.
 */
export function narrowingOf(
  routes: Pick<Extract<Reading['proposal'], { state: 'proposed' }>, 'fromNull' | 'fromSpacing'>,
  budget: Reading['budget'],
): Narrowing | undefined {
  const lines = budget as readonly BudgetLine[];
  const { weight } = combineRoutes(routes.fromNull.value, routes.fromSpacing.value, lines);
  const parts = lines.map((line) => ({
    cause: line.cause,
    variance: (weight * line.nullHz + (1 - weight) * line.spacingHz) ** 2,
  }));
  const total = parts.reduce((sum, { variance }) => sum + variance, 0);
  const [largest] = parts.toSorted((a, b) => b.variance - a.variance);
  if (largest === undefined || total === 0) return undefined;
  const { cause, variance } = largest;
  // A reading of another version may know other causes.
  const known: Readonly<Record<string, string>> = { ...UNCERTAIN, speed: SLOWER_LADDER };
  return { cause, share: variance / total, advice: known[cause] ?? CLEARER_RIPPLES };
}

/** The height where ringing vanishes needs no speed. */
const SLOWER_LADDER =
  'Look up the speed that was really reached on this face; a second print with a ladder that climbs more slowly around this frequency needs it less.';

/** The cause that moves most what was refused: the null, or the frequency by spacing where no null was looked for. */
function largestCause({ budget, nullFit }: Decided): BudgetLine['cause'] {
  const size = (line: BudgetLine) => Math.abs(nullFit === undefined ? line.spacingHz : line.nullHz);
  const largest = budget.reduce<BudgetLine | undefined>(
    (most, line) => (most === undefined || size(line) > size(most) ? line : most),
    undefined,
  );
  return largest?.cause ?? 'scatter-spacing';
}

/** The frequency that the spacing says is about twice one that the ladder covers. */
function halfIsOnLadder({ spacingCheck }: Decided, { ladder }: AdviceFacts['settings']): boolean {
  const range = ladderRangeHz(ladder);
  const halfHz = (spacingCheck.expectedNullHz?.value ?? 0) / 2;
  return range !== undefined && halfHz > (1 - ABOUT) * range.lowHz && halfHz < (1 + ABOUT) * range.highHz;
}
