import type { CornersPx, PointPx } from '../../src/core/image.js';
import { locateFace, type FaceGeometry } from '../../src/face/rectifyFace.js';
import { givenFace } from '../../src/face/seeFace.js';
import type { PhotoInfo } from '../../src/photo/decode.js';
import { checkPrintRecord } from '../../src/print/record.js';
import { settlePrint, type PrintSettings } from '../../src/print/settle.js';

/**
 * Settings of a print, of which a test says what matters to it.
 * @param told - Fields of the print record that differ from an ordinary one without sizes and corners.
 * @returns The settled record.
 */
export function settingsOf(told: Readonly<Record<string, unknown>>): PrintSettings {
  const record = checkPrintRecord({
    schema: 'stillband/print-record@1',
    axis: 'Y',
    speedMmPerS: 110,
    layerHeightMm: 0.2,
    face: { leadingCorner: 'left' },
    ladder: { kind: 'off' },
    ...told,
  });
  return settlePrint(record).settings;
}

/**
 * Header of a photo.
 * @param told - What differs from a PNG of 4000 × 3000 px without capture data.
 * @returns The header.
 */
export function infoOf(told: Partial<PhotoInfo> = {}): PhotoInfo {
  return { format: 'png', widthPx: 4000, heightPx: 3000, orientation: 1, bits: 8, capture: {}, ...told };
}

/**
 * The geometry of a face whose four corners are told.
 * @param info - The photo's header.
 * @param settings - Settings with all four corners.
 */
export function locateGiven(info: PhotoInfo, settings: PrintSettings): FaceGeometry {
  const located = locateFace(info, settings, givenFace(settings.facePx as CornersPx, info));
  if (located.state === 'no-size') throw new Error('Expected a size for the face.');
  return located.geometry;
}

/** Corners of an upright rectangle, clockwise from the top left. */
export function box(
  left: number,
  top: number,
  width: number,
  height: number,
): [PointPx, PointPx, PointPx, PointPx] {
  return [
    [left, top],
    [left + width, top],
    [left + width, top + height],
    [left, top + height],
  ];
}
