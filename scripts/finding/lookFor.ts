import { seeFace, SHRUNK_PX } from '../../src/face/seeFace.js';
import type { SeenFace, UnseenFace } from '../../src/face/seenFace.js';
import { decodeShrunk, decodeWhole, inspectPhoto } from '../../src/photo/decode.js';
import { checkPrintRecord } from '../../src/print/record.js';
import { settlePrint } from '../../src/print/settle.js';

/** What was found in a photo, and how long that took. */
export interface Looked {
  readonly search: SeenFace | UnseenFace;
  /** Milliseconds of the search for face and references, without any decoding. */
  readonly ms: number;
}

/**
 * The product's search on one photo: the only place of this bench that knows how it is called.
 * @param bytes - The photo.
 * @param record - Its print record, as JSON.
 */
export async function lookFor(bytes: Uint8Array, record: Readonly<Record<string, unknown>>): Promise<Looked> {
  const info = await inspectPhoto(bytes);
  const codes = await decodeWhole(bytes, info);
  const shrunk = await decodeShrunk(bytes, info, SHRUNK_PX);
  const { settings } = settlePrint(checkPrintRecord(record));
  const start = performance.now();
  const search = await seeFace({ info, codes, shrunk: () => Promise.resolve(shrunk) }, settings);
  return { search, ms: performance.now() - start };
}
