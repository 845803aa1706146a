import { createHash } from 'node:crypto';

/**
 * SHA-256 (FIPS 180-4).
 * @param data - Bytes, not modified, or text, taken as UTF-8.
 * @returns The hash in lower-case hexadecimal, 64 digits.
 */
export function sha256Hex(data: string | Uint8Array): string {
  return createHash('sha256').update(data).digest('hex');
}
