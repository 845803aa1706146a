import type { RefusalReason } from '../core/outcome.js';
import type { Decision } from '../band/decide.js';

const TURN_OVER =
  'The photo looks upside down: give the corners starting at the top-left of the tower as printed.';

/**
 * The one change that would help most, in the order new photo, other light, other print.
 * @param reason - Why nothing can be proposed.
 * @param decision - What was found; the advice depends on it.
 * @returns One sentence.
 */
export function adviceFor(reason: RefusalReason, decision: Decision): string {
  const cause = decision.spacingCheck.explanation?.cause;
  switch (reason) {
    case 'scales-disagree':
      return 'Check the sliced size of the face and the distance between the two points, then measure again.';
    case 'too-coarse':
      return 'Take a new photo from nearer, so that the face fills the picture.';
    case 'no-ringing':
      return 'Take a new photo with the lamp level with the tower and far to one side, so that light rakes along the wall.';
    case 'too-noisy':
      return 'Take a new photo from nearer with the lamp further to the side; if the wall looks smooth by eye, print with a higher acceleration within the limits of your machine.';
    case 'fixed-pitch-only':
      return 'What repeats here comes from the drive, not from ringing: print at another speed, at which the two differ.';
    case 'not-ringing':
      return 'Check which corner of the face the nozzle reaches first (--leading-corner) and the print speed.';
    case 'below-ladder':
      return 'Print again with a ladder that starts lower, so that the frequency lies well inside it.';
    case 'above-ladder':
      return 'Print again with a ladder that ends higher, so that the frequency lies well inside it.';
    case 'ladder-has-no-range':
      return 'Print a tower whose shaper frequency climbs with height, or ask for the frequency by spacing with --spacing-only.';
    case 'two-bands-possible':
      return 'Print the test with a ZV shaper, which has a single null, or ask for the frequency by spacing with --spacing-only.';
    case 'one-sided':
      return 'Take a new photo in which the whole height is lit alike; if the ripples are missing on one side by eye as well, print with a wider ladder.';
    case 'no-reversal':
      return 'Check that the machine carried the ladder out, then take a new photo with raking light.';
    case 'spacing-disagrees':
      return cause === 'reversed-ladder'
        ? TURN_OVER
        : 'Check the speed that was really reached on this face, the axis, and the ladder in the print record.';
    case 'ladder-reversed':
      return TURN_OVER;
    case 'too-uncertain':
      return 'Take a new photo from nearer with raking light; a second print with a narrower ladder would help most.';
  }
}
