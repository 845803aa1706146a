import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, beforeEach } from 'vitest';

/**
 * An empty folder to write into, made anew for each test or once for all tests around, and removed afterwards. Call it
 * where hooks may stand: at the top of a file or of a `describe`.
 * @param each - What the folder is for.
 * @returns The path of a name in the folder, of the folder itself without one; to be asked in hooks and tests only.
 */
export function tempFolder(each: 'test' | 'file'): (...names: readonly string[]) => string {
  const [before, after] = each === 'test' ? [beforeEach, afterEach] : [beforeAll, afterAll];
  let folder = '';
  before(() => {
    folder = mkdtempSync(join(tmpdir(), 'stillband-'));
  });
  after(() => {
    rmSync(folder, { recursive: true });
  });
  return (...names) => join(folder, ...names);
}
