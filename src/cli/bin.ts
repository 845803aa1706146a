#!/usr/bin/env node
import { isatty } from 'node:tty';
import { EXIT, type Io } from './io.js';
import { internalProblem, tellProblem } from './problem.js';
import { run } from './run.js';

const io: Io = {
  out: (text) => void process.stdout.write(text),
  err: (text) => void process.stderr.write(text),
  // Asked of the descriptor: `process.stdout.isTTY` is undefined in a pipe, and undefined lets picocolors decide.
  colour: isatty(1) && process.env['NO_COLOR'] === undefined,
};
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  // A reader that closes the pipe early (`| head`) is not an error.
  if (error.code === 'EPIPE') return;
  const message = `The result cannot be written to standard output (${String(error.code)}).`;
  tellProblem({ code: 'cannot-write', message, advice: 'Send it to a place with room for it.' }, false, io);
  process.exit(EXIT.cannotWrite);
});

try {
  process.exitCode = await run(process.argv.slice(2), io);
} catch (error) {
  tellProblem(internalProblem(error), process.argv.includes('--json'), io);
  process.exitCode = EXIT.internal;
}
