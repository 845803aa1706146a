import type { RefusalReason } from '../core/outcome.js';
import type { BudgetLine } from '../band/budget.js';
import type { Decision } from '../band/decide.js';
import { ladderRangeHz } from '../print/ladder.js';
import type { PrintSettings } from '../print/settle.js';

/** What the user has told, on which the advice depends. */
export interface AdviceFacts {
  readonly settings: Pick<PrintSettings, 'seam' | 'ladder'>;
  /** Fields of the print record that were assumed. */
  readonly assumed: ReadonlySet<string>;
}

/** A cover is not recognised: where it hides or imitates ripples, the advice asks for none. */
const NO_COVER = 'nothing over the wall (paint, tape, a shadow)';
/** A frequency lies about within the ladder when it is no further outside it than this share of an end. */
const ABOUT = 0.1;

const TURN_OVER =
  "Begin the corners at the top-left of the tower as it was printed, also where it stands upside down in the photo, and check that the ladder's two ends are not swapped and that the shaper's damping is the one that was set.";

/**
 * The one change that would help most, in the order new photo, other light, other print.
 * @param reason - Why nothing can be proposed.
 * @param decision - What was found; the advice depends on it.
 * @param facts - What the user has told or left out.
 * @returns One sentence.
 */
export function adviceFor(
  reason: RefusalReason,
  decision: Decision,
  { settings, assumed }: AdviceFacts,
): string {
  if (settings.seam === 'leading-corner' && (reason === 'no-ringing' || reason === 'too-noisy')) {
    return 'Print again with the seam on another face: at this corner the nozzle starts from rest, which hardly excites ringing.';
  }
  const cause = decision.spacingCheck.explanation?.cause;
  switch (reason) {
    case 'scales-disagree':
      return 'Check the sliced width and height of the face, the four corners, and the distance between the two points if there are any, then measure again.';
    case 'glare':
      return 'Take a new photo with less exposure or a weaker lamp, so that no part of the face is plain white in it.';
    case 'wall-too-short':
      return "Check that the face's size is told in mm; if it is, print a wider face, or put its slot further from the corner.";
    case 'too-coarse':
      return 'Take a new photo from nearer, so that the face fills the picture.';
    case 'no-ringing':
      return 'Take a new photo with the lamp level with the tower and far to one side, so that light rakes along the wall; if it looks smooth by eye too, print with another acceleration, since at some a corner excites nothing.';
    case 'too-noisy':
      return `Take a new photo from nearer with the lamp further to the side and ${NO_COVER}; if the wall looks smooth by eye, print with a higher acceleration within the limits of your machine.`;
    case 'fixed-pitch-only':
      return 'If something covers part of the wall (paint, tape, a shadow), clear it away and take a new photo; otherwise print at another speed, at which ringing and the pattern of the drive differ.';
    case 'not-ringing':
      return `Check which corner of the face the nozzle reaches first (--leading-corner) and the print speed, and that there is ${NO_COVER} behind it.`;
    case 'acceleration-disagrees':
      if (assumed.has('accelerationMmPerS2')) {
        return 'Tell the acceleration (mm/s²) that applied to this wall (--acceleration), which was assumed.';
      }
      return 'Check the acceleration (mm/s²) and the speed that applied to this wall; if they are right, take a new photo, sharp and without a shadow near the corner, and check the corners.';
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
      return decision.proposal.state === 'refused' && decision.proposal.criterion !== undefined
        ? 'Print with a ladder that passes each frequency once, or ask for the frequency by spacing with --spacing-only.'
        : 'Print the test with a ZV shaper, which has a single null, or ask for the frequency by spacing with --spacing-only.';
    case 'one-sided':
      return `Take a new photo in which the whole height is lit alike, with ${NO_COVER}; if the ripples are missing on one side by eye as well, print with a wider ladder.`;
    case 'no-reversal':
      return `${
        assumed.has('shaper.family') || assumed.has('shaper.dampingRatio')
          ? "Tell the shaper's family and damping (--shaper, --damping) as they were set, not as they were assumed"
          : "Check the shaper's family and damping that were set"
      }, and check that the machine carried the ladder out; then take a new photo with raking light and ${NO_COVER}.`;
    case 'spacing-disagrees':
      return cause === 'reversed-ladder'
        ? TURN_OVER
        : "Check the speed that was really reached on this face, the face's size and corners, the axis, and the ladder in the print record.";
    case 'ladder-reversed':
      return TURN_OVER;
    case 'too-uncertain':
      return UNCERTAIN[largestCause(decision)];
  }
}

const HIGHER = 'with a ladder that ends higher, so that the frequency lies well inside it.';
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
  // Taken as known to 2 %, so never the largest of 14 %.
  speed: CLEARER_RIPPLES,
};

/** The cause that moves most what was refused: the null, or the frequency by spacing where no null was looked for. */
function largestCause({ budget, nullFit }: Decision): BudgetLine['cause'] {
  const size = (line: BudgetLine) => Math.abs(nullFit === undefined ? line.spacingHz : line.nullHz);
  const largest = budget.reduce<BudgetLine | undefined>(
    (most, line) => (most === undefined || size(line) > size(most) ? line : most),
    undefined,
  );
  return largest?.cause ?? 'scatter-spacing';
}

/** The frequency that the spacing says is about twice one that the ladder covers. */
function halfIsOnLadder({ spacingCheck }: Decision, { ladder }: AdviceFacts['settings']): boolean {
  const range = ladderRangeHz(ladder);
  const halfHz = (spacingCheck.expectedNullHz?.value ?? 0) / 2;
  return range !== undefined && halfHz > (1 - ABOUT) * range.lowHz && halfHz < (1 + ABOUT) * range.highHz;
}
