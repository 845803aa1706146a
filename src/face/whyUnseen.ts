import type { CodeImage, CornersPx, PartialCornersPx } from '../core/image.js';
import type { Px } from '../core/units.js';
import { distanceOf } from '../core/vector.js';
import { applyHomography, homographyFromSquare } from '../imaging/homography.js';
import { clickReachPx, findWholeFace, type FaceSearch, type FoundFace } from './findFace.js';
import { otherShape } from './otherShape.js';
import { BURNT_CODE, photoFault, type PhotoFault } from './photoFault.js';
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
  const cause = causeOf(state, guesses, search);
  return { how: state, guesses: cause?.guesses ?? guesses, cause };
}

function causeOf(
  how: UnseenFace['how'],
  guesses: UnseenFace['guesses'],
  search: FaceSearch,
): UnseenCause | undefined {
  const fault = photoFault(search.codes, search.lut);
  const photo = fault && toBlame(fault);
  if (fault?.isGrave === true) return photo;
  // Too little light makes other faces of some, and lets a frame seem to cut what it does not.
  const isDark = fault?.reason === 'too-dark';
  const told = strayClick(search) ?? (isDark ? undefined : otherShape(search));
  if (told !== undefined || how !== 'cut-off' || isDark) return told ?? photo;
  // A face that the frame cuts has been seen all the same, unless that is what is burnt out.
  const seen = guesses[0];
  return fault?.reason === 'glare' && seen && burntShare(search.codes, seen.cornersPx) > MOST_BURNT
    ? photo
    : undefined;
}

function toBlame({ reason, quantity, value, limit }: PhotoFault): UnseenCause {
  return { what: 'photo', reason, quantity, value, limit };
}

/** Of what seems to be a face so much may be burnt out. */
const MOST_BURNT = 0.2;
/** Places across and up at which that is looked at. */
const PLACES = 40;

/** Share of a quadrilateral that is burnt out, as far as it lies in the photo. */
function burntShare(codes: CodeImage, cornersPx: CornersPx): number {
  const h = homographyFromSquare(cornersPx);
  const [rows = 0, columns = 0] = codes.shape;
  let [looked, burnt] = [0, 0];
  for (let i = 0; i < PLACES; i += 1) {
    for (let j = 0; j < PLACES; j += 1) {
      const [x, y] = applyHomography(h, (i + 0.5) / PLACES, (j + 0.5) / PLACES);
      if (x < 0 || y < 0 || x >= columns || y >= rows) continue;
      looked += 1;
      if (codes.get(Math.floor(y), Math.floor(x)) >= BURNT_CODE) burnt += 1;
    }
  }
  return looked === 0 ? 0 : burnt / looked;
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
