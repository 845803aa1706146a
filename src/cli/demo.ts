import type { Command } from 'commander';
import { fileURLToPath } from 'node:url';
import { measureForPicture, parsePrintRecord } from '../index.js';
import type { Io } from './io.js';
import { read, writeResults } from './measure.js';
import { checkExtension, isStandardOutput } from './targets.js';
import { withErrors } from './outcome.js';

/** The bundled photo and its print record, from this file as built and as in the source tree. */
const PHOTO = fileURLToPath(new URL('../../testimages/white-card.jpg', import.meta.url));
const RECORD = fileURLToPath(new URL('../../testimages/white-card.print.json', import.meta.url));
const PICTURE = 'stillband-demo.png';

/**
 * Adds `demo`'s option and action.
 * @param command - The command to fill.
 * @param io - The outside world.
 * @param done - Takes the exit code.
 */
export function define(command: Command, io: Io, done: (exitCode: number) => void): void {
  command
    .option('--out <file>', 'where to write the picture', PICTURE)
    .addHelpText('after', '\nExample:\n  $ stillband demo')
    .action(async ({ out }: { readonly out: string }) => {
      done(await withErrors(io, false, () => demo(out, io)));
    });
}

async function demo(out: string, io: Io): Promise<number> {
  checkExtension('--out', out, 'PNG');
  const record = parsePrintRecord(new TextDecoder().decode(await read(RECORD, 'print record')));
  const measurement = await measureForPicture(await read(PHOTO, 'photo'), record);
  const exitCode = await writeResults(measurement, { png: out }, io);
  const where = isStandardOutput(out) ? 'on standard output' : `in ${out}`;
  io.err(`\nThe photo is ${PHOTO}, a picture made by calculation.\nThe result's picture is ${where}\n`);
  return exitCode;
}
