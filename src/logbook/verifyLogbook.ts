import { statSync } from 'node:fs';
import { filesOfArchive } from './archiveFiles.js';
import { filesOfFolder } from './files.js';
import type { Head } from './head.js';
import { expectLogbook } from './place.js';
import { verifyFiles, type Verification } from './verify.js';

/**
 * Looks at every byte of a logbook and names what is not as it was written.
 * @param place - The logbook's folder, or an archive that `exportArchive` wrote.
 * @param heads - Heads that were kept elsewhere, from `parseHead`. Without one, a log that was rewritten as a whole or
 * cut at its end looks intact.
 * @returns Verdicts and findings; `recomputed` is unknown.
 * @throws {InputError} `logbook-missing` or `logbook-unreadable`.
 */
export async function verifyLogbook(place: string, heads: readonly Head[] = []): Promise<Verification> {
  if (statSync(place, { throwIfNoEntry: false })?.isFile() !== true) {
    expectLogbook(place);
    return verifyFiles(filesOfFolder(place), heads);
  }
  const files = await filesOfArchive(place);
  try {
    return await verifyFiles(files, heads);
  } finally {
    files.close();
  }
}
