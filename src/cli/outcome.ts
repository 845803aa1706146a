import pc from 'picocolors';
import { InputError } from '../logbookIndex.js';
import { EXIT, type Io } from './io.js';
import { tellProblem } from './problem.js';

/**
 * Runs an action and turns a user's mistake into its message and exit code.
 * @param io - The outside world.
 * @param json - Errors go to standard output as JSON.
 * @param action - What to do; returns the exit code.
 * @returns The exit code.
 */
export async function withErrors(io: Io, json: boolean, action: () => Promise<number>): Promise<number> {
  try {
    return await action();
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    tellProblem(error, json, io);
    return exitCodeOf(error);
  }
}

/**
 * The verdict in bold; the labels stay plain, so that the text reads the same without colour.
 * @param text - The report; its first line is the verdict.
 * @param io - The outside world.
 * @returns The text for it.
 */
export function inColour(text: string, io: Io): string {
  const colours = pc.createColors(io.colour);
  const end = text.indexOf('\n');
  return colours.bold(text.slice(0, end)) + text.slice(end);
}

function exitCodeOf(error: InputError): number {
  switch (error.code) {
    case 'usage':
    case 'head-mistyped':
    case 'pattern-invalid':
    case 'template-invalid':
    case 'limit-missing':
      return EXIT.usage;
    case 'file-not-found':
    case 'logbook-missing':
    case 'entry-missing':
      return EXIT.noFile;
    case 'cannot-write':
    case 'logbook-locked':
      return EXIT.cannotWrite;
    default:
      return EXIT.badInput;
  }
}
