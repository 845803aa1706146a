import type { CornersPx, PartialCornersPx } from '../core/image.js';
import type { Px } from '../core/units.js';
import { distanceOf } from '../core/vector.js';
import { clickReachPx, findWholeFace, type FaceSearch, type FoundFace } from './findFace.js';
import { otherShape } from './otherShape.js';
import { photoFault } from './photoFault.js';
import type { UnseenCause, UnseenFace } from './seenFace.js';

/**
 * Where no face is found for certain, what of the photo or of what was told is to blame.
 * @param face - What the search has found instead.
 * @param search - The search.
 * @returns Why no face is read, with the likeliest ones.
 */
export function whyUnseen(
  { state, guesses }: Exclude<FoundFace, { state: 'found' }>,
  search: FaceSearch,
): Pick<UnseenFace, 'how' | 'guesses' | 'cause'> {
  const cause = causeOf(state, search);
  return { how: state, guesses: cause?.guesses ?? guesses, cause };
}

function causeOf(how: UnseenFace['how'], search: FaceSearch): UnseenCause | undefined {
  // A face that the frame cuts has been seen all the same.
  const fault = how === 'cut-off' ? undefined : photoFault(search.codes, search.lut);
  // Burnt-out surroundings do no harm where a face is found once click or shape is left aside.
  const told =
    fault === undefined || fault.reason === 'glare' ? (strayClick(search) ?? otherShape(search)) : undefined;
  return told ?? (fault && { what: 'photo', ...fault });
}

/** A corner that was clicked elsewhere than at the face which is found for certain without it. */
function strayClick(search: FaceSearch): UnseenCause | undefined {
  const { knownCorners } = search;
  if (knownCorners.every((click) => click === undefined)) return undefined;
  const freely = findWholeFace({ ...search, knownCorners: [undefined, undefined, undefined, undefined] });
  if (freely.state !== 'found') return undefined;
  const { cornersPx, confidence } = freely;
  const offPx = clicksOffPx(knownCorners, cornersPx).reduce<Px>((most, px) => Math.max(most, px ?? 0), 0);
  const limit = clickReachPx(search.codes);
  if (offPx <= limit) return undefined;
  return {
    what: 'click',
    reason: 'face-unclear',
    quantity: 'distance of a corner given from the face that is found without it, px',
    value: offPx,
    limit,
    guesses: [{ cornersPx, confidence }],
  };
}

/**
 * How far clicks lie from corners.
 * @param clicks - Corners that were clicked, px; undefined where one was not.
 * @param cornersPx - The corners, in the same order.
 * @returns A distance for each click, px; undefined where there is none.
 */
export function clicksOffPx(clicks: PartialCornersPx, cornersPx: CornersPx): readonly (Px | undefined)[] {
  return cornersPx.map((corner, i) => {
    const click = clicks[i];
    return click && distanceOf(click, corner);
  });
}
