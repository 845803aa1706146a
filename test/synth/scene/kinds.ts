/**
 * What a scene is drawn for.
 *
 * - `plain`: a tower, mostly with a reference.
 * - `two-towers`: two complete towers; the record describes the first.
 * - `box-not-tower`: a smooth box of about the told size stands where a tower should.
 * - `cut-by-frame`: the frame cuts the tower's face.
 * - `no-tower`: a desk with things on it.
 * - `card-partly-covered`: the reference is covered in part, by the tower or by something in front of it.
 * - `same-colour-wall`: the wall behind has the tower's colour and nearly its brightness.
 * - `mirrored`: left and right are exchanged.
 * - `upside-down`: turned by 180°, and the file does not say so.
 * - `photo-of-photo`: a screen or a print that shows a tower.
 */
export const SCENE_KINDS = [
  'plain',
  'two-towers',
  'box-not-tower',
  'cut-by-frame',
  'no-tower',
  'card-partly-covered',
  'same-colour-wall',
  'mirrored',
  'upside-down',
  'photo-of-photo',
] as const;
export type SceneKind = (typeof SCENE_KINDS)[number];

/** What a finder may do: it must find the face, it may also refuse, or it must refuse. */
export type Expected = 'found' | 'found-or-refused' | 'refused';

/**
 * What is expected of a finder. Of a mirrored or turned photo, or one of a photo, the face is a face all the same: that
 * nothing is proposed from it is a matter of later stages.
 */
export const EXPECTED: Readonly<Record<SceneKind, Expected>> = {
  plain: 'found',
  'two-towers': 'found-or-refused',
  'box-not-tower': 'refused',
  'cut-by-frame': 'refused',
  'no-tower': 'refused',
  'card-partly-covered': 'found',
  'same-colour-wall': 'found-or-refused',
  mirrored: 'found',
  'upside-down': 'found',
  'photo-of-photo': 'found-or-refused',
};
