#!/usr/bin/env node
import { EXIT, type Io } from './io.js';
import { run } from './run.js';

const io: Io = {
  out: (text) => void process.stdout.write(text),
  err: (text) => void process.stderr.write(text),
  colour: process.stdout.isTTY && process.env['NO_COLOR'] === undefined,
};
// A reader that closes the pipe early (`| head`) is not an error.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (error.code !== 'EPIPE') throw error;
});

try {
  process.exitCode = await run(process.argv.slice(2), io);
} catch (error) {
  io.err(
    `stillband: something went wrong inside: ${error instanceof Error ? error.message : String(error)}\n`,
  );
  io.err('Please report it with the command you typed; your photo and record were not changed.\n');
  process.exitCode = EXIT.internal;
}
