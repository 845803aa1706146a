import { InputError } from '../index.js';
import { writeAll, type FileProblem, type NewFile } from './files.js';
import type { Io } from './io.js';
import { isStandardOutput } from './targets.js';

/** A result and where it goes: a path, or `-` for standard output. */
export type Result = NewFile;

/**
 * Writes results that are all made, so that no part is left behind when another fails. One that goes to standard output
 * stands there in place of the report.
 * @param results - What is to be written.
 * @param report - What is printed where nothing else is.
 * @param io - The outside world.
 * @throws {InputError} `cannot-write`.
 */
export async function deliver(results: readonly Result[], report: string, io: Io): Promise<void> {
  const problem = await writeAll(results.filter(({ path }) => !isStandardOutput(path)));
  if (problem !== undefined) throw cannotWrite(problem);
  const shown = results.find(({ path }) => isStandardOutput(path))?.data ?? report;
  if (typeof shown === 'string' || shown instanceof Uint8Array) io.out(shown);
  else for await (const piece of shown) io.out(piece);
}

function cannotWrite({ path, detail }: FileProblem): InputError {
  return new InputError(
    'cannot-write',
    `The result cannot be written to ${path}: ${detail}.`,
    'Name a file in a folder that exists and that you may write to.',
  );
}
