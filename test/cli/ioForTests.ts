import type { Io } from '../../src/cli/io.js';
import { run } from '../../src/cli/run.js';

/** What a run of the command line came to. */
export interface RunResult {
  readonly exitCode: number;
  readonly out: string;
  readonly err: string;
  /** What went to standard output, piece by piece, bytes as bytes. */
  readonly pieces: readonly (string | Uint8Array)[];
}

/**
 * Runs the command line without a process.
 * @param argv - Arguments.
 * @param colour - Whether standard output shows colours.
 * @returns Exit code and what was written.
 */
export async function runCli(argv: readonly string[], colour = false): Promise<RunResult> {
  const pieces: (string | Uint8Array)[] = [];
  let err = '';
  const io: Io = {
    out: (text) => void pieces.push(text),
    err: (text) => {
      err += text;
    },
    colour,
  };
  const exitCode = await run(argv, io);
  return { exitCode, out: pieces.map((piece) => Buffer.from(piece).toString()).join(''), err, pieces };
}
