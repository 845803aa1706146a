import type { CornersPx, PointPx } from '../../src/core/image.js';
import type { Face } from '../../src/face/rectifyFace.js';
import { homographyFromPoints } from '../../src/imaging/homography.js';
import { undistortPoint, type Lens } from '../../src/imaging/lens.js';
import { linearLut } from '../../src/imaging/tone.js';
import { rectify } from '../../src/imaging/warp.js';
import { decodeRegion, inspectPhoto } from '../../src/photo/decode.js';
import { photoBytes, photoTruth, type PhotoName } from './measured.js';

/** The flattened face of a photograph of testimages by its true corners, left edge as in the photo. */
export interface FlatPhoto extends Pick<Face, 'image' | 'imagePxPerMm'> {
  readonly cornersPx: CornersPx;
  readonly rows: number;
  readonly columns: number;
}

/**
 * Flattens a face by the corners of its truth file.
 * @param name - The photograph.
 * @param bent - Takes out this lens.
 * @returns The face at its native resolution.
 */
export async function flatPhoto(name: PhotoName, bent?: Lens): Promise<FlatPhoto> {
  const { W_mm: widthMm, H_mm: heightMm, face_corners_px_tl_tr_br_bl: corners } = photoTruth(name);
  const cornersPx = corners as unknown as CornersPx;
  const [tl, tr, br, bl] = cornersPx;
  const length = (a: PointPx, b: PointPx) => Math.hypot(b[0] - a[0], b[1] - a[1]);
  const columns = Math.round((length(tl, tr) + length(bl, br)) / 2);
  const rows = Math.round((length(tl, bl) + length(tr, br)) / 2);
  const bytes = photoBytes(name);
  const info = await inspectPhoto(bytes);
  const codes = await decodeRegion(bytes, info, {
    ...{ left: 0, top: 0 },
    ...{ width: info.widthPx, height: info.heightPx },
  });
  const box: PointPx[] = [
    [0, 0],
    [columns, 0],
    [columns, rows],
    [0, rows],
  ];
  const straight = cornersPx.map((corner) => (bent === undefined ? corner : undistortPoint(bent, corner)));
  const image = rectify(
    codes,
    linearLut(info.bits),
    homographyFromPoints(box, straight),
    rows,
    columns,
    bent,
  );
  return {
    ...{ image, cornersPx, rows, columns },
    imagePxPerMm: { alongWall: columns / widthMm, alongHeight: rows / heightMm },
  };
}
