import { isatty } from 'node:tty';
import type { Command } from 'commander';
import { InputError } from '../index.js';
import { serve } from '../web/serve.js';
import { terminalCode } from '../web/terminalCode.js';
import { EXIT, type Io } from './io.js';
import { withErrors } from './outcome.js';
import { internalProblem, tellProblem } from './problem.js';

interface Options {
  readonly port: string;
  readonly lan?: boolean;
  readonly logbook?: string;
}

const NOTES = `
Examples:
  $ stillband serve
  $ stillband serve --lan --logbook logbook

The page's address is the first line on standard output. Without --lan only this machine is answered. With --lan the page
is open to the network, for browsers that come by the link shown, also as a code to scan; each link lets one browser in,
and then the next one is shown. It is plain http: whoever can listen in on the network sees photos, results and the
logbook, and a browser that was let in may save to it. Open it only in a network that you trust, and end it when done.

Photos are kept in memory, for an hour, and reach the disk only when they are saved in the logbook.

Exit codes: 0 ended by SIGTERM, 130 ended by Ctrl+C, 64 usage, 65 the port cannot be opened, 66 no such logbook,
70 internal.`;

/** What the page listens at, so that its address can be kept. */
const PORT = 8471;

/**
 * Adds `serve`'s options and action.
 * @param command - The command to fill.
 * @param io - The outside world.
 * @param done - Takes the exit code.
 */
export function define(command: Command, io: Io, done: (exitCode: number) => void): void {
  command
    .option('--port <n>', 'port to listen at; 0 is any that is free', String(PORT))
    .option('--lan', 'open the page to the local network, for a phone')
    .option('--logbook <dir>', "the logbook's folder, to save in and to look at")
    .addHelpText('after', NOTES);
  command.action(async (options: Options) => {
    done(await withErrors(io, false, () => run(options, io)));
  });
}

async function run({ port, lan = false, logbook }: Options, io: Io): Promise<number> {
  const server = await serve({
    port: portOf(port),
    lan,
    ...(logbook === undefined ? {} : { logbook }),
    tell: (error) => {
      tellProblem(internalProblem(error), false, io);
    },
    onLinkUsed: (links) => {
      io.err(`A browser was let in. The next one:\n${links.join('\n')}\n${codeOf(links[0])}`);
    },
  });
  const links = server.links();
  const [first] = links;
  io.out(`${first ?? server.address}\n`);
  if (first !== undefined) {
    io.err(lanWords(links.slice(1), server.address));
    io.err(codeOf(first));
  }
  if (logbook === undefined) io.err('Without --logbook DIR readings can be downloaded, but not saved.\n');
  io.err('Ctrl+C ends it.\n');
  const exitCode = await untilSignal();
  await server.close();
  return exitCode;
}

/** A link as a code for a camera at the screen; in a file it is of no use. */
function codeOf(link: string | undefined): string {
  return link === undefined || !isatty(2) ? '' : `${terminalCode(link)}\n`;
}

function lanWords(others: readonly string[], address: string): string {
  const also =
    others.length === 0 ? '' : `The same in other networks of this machine:\n${others.join('\n')}\n`;
  return `Open this link on the phone, or scan the code. It lets one browser in, then the next link is shown here.
The page is open to your network, by plain http: whoever can listen in on it sees photos, results and logbook.
${also}On this machine: ${address}
`;
}

function portOf(text: string): number {
  const port = Number(text);
  if (/^\d{1,5}$/.test(text) && port <= 65_535) return port;
  throw new InputError(
    'usage',
    `--port is given as "${text}", which is no port.`,
    'Give a whole number up to 65535, or 0 for any that is free.',
  );
}

/** Waits for the signal that ends the server; a second one ends it at once. */
function untilSignal(): Promise<number> {
  return new Promise((resolve) => {
    for (const [signal, exitCode] of [
      ['SIGINT', EXIT.interrupted],
      ['SIGTERM', EXIT.done],
    ] as const) {
      process.once(signal, () => {
        process.once(signal, () => process.exit(exitCode));
        resolve(exitCode);
      });
    }
  });
}
