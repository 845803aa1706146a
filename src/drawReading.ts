import { encodeFace, encodePhoto, renderPng } from './imaging/encode.js';
import type { Measurement } from './measurePhoto.js';
import { drawPicture } from './report/picture.js';

/** Width up to which the face is kept in the picture, px: twice its size there, for a sharp screen. */
const FACE_WIDTH_PX = 1200;

/**
 * Draws the picture of a measurement: face, band, waist, rule and spacing at one vertical scale, and the photo with what
 * was found in it.
 * @param measurement - Reading and view from `measureForPicture`.
 * @returns An SVG document with the face inside.
 */
export async function drawReading({ reading, view }: Measurement): Promise<string> {
  const { face, photo, marks, strongest, best } = view;
  return drawPicture(reading, {
    ...(strongest === undefined ? {} : { strongest }),
    ...(best === undefined ? {} : { best }),
    ...(face === undefined ? {} : { faceDataUri: await encodeFace(face, FACE_WIDTH_PX) }),
    found: { dataUri: await encodePhoto(await photo()), ...(marks === undefined ? {} : { marks }) },
  });
}

/**
 * Turns a drawn picture into PNG; the fonts come along, so that it looks the same everywhere.
 * @param svg - From `drawReading`.
 * @returns PNG bytes.
 */
export async function pictureOf(svg: string): Promise<Uint8Array> {
  return renderPng(svg);
}
