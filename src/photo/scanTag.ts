import { InputError } from '../core/errors.js';
import type { PrintReference } from '../print/settle.js';
import type { PhotoInfo } from './decode.js';

/**
 * Checks that a scan's own resolution tag is there when the print record counts on it.
 * @param info - The photo's header.
 * @param references - References of the print record.
 * @throws {InputError} `record-field` when a scan is told without its resolution, and the file has no tag that
 * can be a scanner's.
 */
export function checkScanTag(
  info: Pick<PhotoInfo, 'dotsPerInch'>,
  references: readonly PrintReference[],
): void {
  const needsTag = references.some((one) => one.kind === 'dpi' && one.dotsPerInch === undefined);
  if (!needsTag || info.dotsPerInch !== undefined) return;
  throw new InputError(
    'record-field',
    "The scale is to come from a scan's resolution tag, but the file has none that a scanner could have written.",
    'Give the resolution of the scan in dots per inch as dotsPerInch (--dpi), or name another reference if it is a photo.',
    'reference.dotsPerInch',
  );
}
