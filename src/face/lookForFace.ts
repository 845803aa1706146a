import { once } from '../core/once.js';
import type { ColourImage } from '../core/image.js';
import type { Photo } from '../photo/openPhoto.js';
import { checkScanTag } from '../photo/scanTag.js';
import type { PrintSettings } from '../print/settle.js';
import { readFace, type ReadFace } from './readFace.js';
import { seeFace, SHRUNK_PX } from './seeFace.js';
import type { SeenFace, UnseenFace } from './seenFace.js';

/** What a photo shows of a tower. */
export interface LookedAt {
  readonly search: SeenFace | UnseenFace;
  /** Undefined where no face is found, or nothing tells its size. */
  readonly read: ReadFace | undefined;
  /** The shrunk copy that was searched; decoded when it is first asked for. */
  readonly shrunk: () => Promise<ColourImage>;
}

/**
 * Decodes a photo, finds face and references in it, and flattens the face.
 * @param photo - The photo.
 * @param settings - The print's settings.
 * @returns What is found.
 * @throws {InputError} When the photo, its corners or its resolution tag cannot be used.
 */
export async function lookForFace(photo: Photo, settings: PrintSettings): Promise<LookedAt> {
  const { info } = photo;
  checkScanTag(info, settings.references);
  const codes = await photo.codes();
  const shrunk = once(() => photo.shrunk(SHRUNK_PX));
  const search = await seeFace({ info, codes, shrunk }, settings);
  const read = 'cornersPx' in search ? readFace(codes, info, settings, search) : undefined;
  return { search, read: read?.state === 'read' ? read : undefined, shrunk };
}
