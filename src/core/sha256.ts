import { createHash } from 'node:crypto';

/**
 * SHA-256 (FIPS 180-4).
 * @param data - Bytes, not modified, or text, taken as UTF-8.
 * @returns The hash in lower-case hexadecimal, 64 digits.
 */
export function sha256Hex(data: string | Uint8Array): string {
  return createHash('sha256').update(data).digest('hex');
}

/** SHA-256 (FIPS 180-4) of what comes piece by piece. */
export class Sha256 {
  readonly #hash = createHash('sha256');

  /**
   * Adds a piece.
   * @param data - Bytes, not modified.
   */
  add(data: Uint8Array): void {
    this.#hash.update(data);
  }

  /**
   * Ends it.
   * @returns The hash in lower-case hexadecimal, 64 digits.
   */
  hex(): string {
    return this.#hash.digest('hex');
  }
}
