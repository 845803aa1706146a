import { filesOfFolder } from './files.js';
import type { Head } from './head.js';
import { expectLogbook } from './place.js';
import { verifyFiles, type Verification } from './verify.js';

/**
 * Looks at every byte of a logbook and names what is not as it was written.
 * @param folder - The logbook's folder.
 * @param heads - Heads that were kept elsewhere, from `parseHead`. Without one, a log that was rewritten as a whole or
 * cut at its end looks intact.
 * @returns Verdicts and findings; `recomputed` is unknown.
 * @throws {InputError} `logbook-missing` or `logbook-unreadable`.
 */
export async function verifyLogbook(folder: string, heads: readonly Head[] = []): Promise<Verification> {
  expectLogbook(folder);
  return verifyFiles(filesOfFolder(folder), heads);
}
