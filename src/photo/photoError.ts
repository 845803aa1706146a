import { InputError } from '../core/errors.js';

const FORMATS = 'JPEG, PNG, WebP, TIFF, AVIF or HEIC';

/**
 * The error of a file that is no photo of a kind that is read.
 * @param what - One sentence on what was found.
 * @returns The error.
 */
export function formatError(what: string): InputError {
  return new InputError('photo-format', what, `Give a photo as ${FORMATS}.`);
}

/**
 * The error of a photo whose data is damaged.
 * @param error - What the decoder threw or said; its first line is told.
 * @returns The error.
 */
export function damagedError(error: unknown): InputError {
  const text = error instanceof Error ? error.message : typeof error === 'string' ? error : '';
  const detail = text.split('\n')[0]?.replace(/\.$/, '') ?? '';
  return new InputError(
    'photo-damaged',
    `The photo breaks off or is damaged${detail === '' ? '' : ` (${detail})`}.`,
    'Copy it from the camera again; if the copy is damaged as well, take a new photo.',
  );
}
