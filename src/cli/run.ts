import { Command, CommanderError } from 'commander';
import { EXIT, type Io } from './io.js';
import { tellProblem } from './problem.js';

/** A command's options and what it does; loaded only when it is called, so that `--help` stays quick. */
export interface CommandModule {
  /**
   * Adds arguments and options, and the action, which returns an exit code through `done`.
   * @param command - The command to fill.
   * @param io - The outside world.
   * @param done - Takes the exit code.
   */
  readonly define: (command: Command, io: Io, done: (exitCode: number) => void) => void;
}

const COMMANDS: readonly {
  readonly name: string;
  readonly summary: string;
  readonly load: () => Promise<CommandModule>;
}[] = [
  {
    name: 'measure',
    summary: "measure the ringing on a photo of a test tower's face",
    load: () => import('./measure.js'),
  },
  {
    name: 'check',
    summary: 'say whether a photo will do, and what to change, without measuring it',
    load: () => import('./check.js'),
  },
  {
    name: 'plan',
    summary: 'plan a test tower, and say how well the frequency will be known, before it is printed',
    load: () => import('./plan.js'),
  },
  {
    name: 'tower',
    summary: 'draw the test tower of a print record as STL, to be sliced',
    load: () => import('./tower.js'),
  },
  {
    name: 'card',
    summary: 'draw the marker card that is held beside a tower, as PDF or SVG at true size',
    load: () => import('./card.js'),
  },
  {
    name: 'job',
    summary: "read what the machine's own job file commands, and fill the print record from it",
    load: () => import('./job.js'),
  },
  {
    name: 'weave',
    summary: 'put your own line for the frequency into a copy of the job file, layer by layer',
    load: () => import('./weave.js'),
  },
  {
    name: 'compare',
    summary: 'set readings before a change beside readings after it',
    load: () => import('./compare.js'),
  },
  {
    name: 'decide',
    summary: 'choose a shaper for each axis by its reading and your limits, and tell what it costs',
    load: () => import('./decide.js'),
  },
  {
    name: 'after',
    summary: 'tell what to enter where, how to prove it with a print, and when to measure again',
    load: () => import('./after.js'),
  },
  {
    name: 'logbook',
    summary: 'list, show and verify the readings that were saved',
    load: () => import('./logbook.js'),
  },
  {
    name: 'serve',
    summary: 'serve the page: photo to verdict in a browser, also from a phone',
    load: () => import('./serve.js'),
  },
  {
    name: 'demo',
    summary: 'measure a bundled photo and draw its picture; nothing to type',
    load: () => import('./demo.js'),
  },
];

const CAUTION = `
Mind the machine: parts move and are hot, never raise accelerations unattended, and your machine's
limits and local rules come first.`;

/**
 * Runs the command line.
 * @param argv - Arguments without the program's own name.
 * @param io - The outside world.
 * @returns The exit code.
 */
export async function run(argv: readonly string[], io: Io): Promise<number> {
  let exitCode: number = EXIT.done;
  const program = new Command('stillband')
    .description(
      'Measures the ringing on a photographed 3D-print test tower and proposes the frequency for the input shaper, with an honest uncertainty.',
    )
    .addHelpText('after', `\nExample:\n  $ stillband demo\n${CAUTION}`);
  program.version(await versionFor(argv), '-V, --version', 'print the version');
  for (const { name, summary, load } of COMMANDS) {
    const command = program.command(name).summary(summary).description(summary);
    if (argv[0] === name || (argv[0] === 'help' && argv[1] === name)) {
      (await load()).define(command, io, (code) => (exitCode = code));
    }
  }
  for (const command of [program, ...program.commands, ...program.commands.flatMap((one) => one.commands)]) {
    command.exitOverride().configureOutput({
      writeOut: io.out,
      writeErr: io.err,
      // Told below, in the form of every other mistake.
      outputError: () => undefined,
    });
  }
  const json = argv.includes('--json');
  if (argv.length === 0) {
    tellUsage('no command is given', io, json, commandOf(argv));
    return EXIT.usage;
  }
  try {
    await program.parseAsync([...argv], { from: 'user' });
    return exitCode;
  } catch (error) {
    if (!(error instanceof CommanderError)) throw error;
    if (error.exitCode === 0) return EXIT.done;
    // `help NAME` of a command that there is not: its message is no sentence.
    const isHelp = error.code === 'commander.help';
    tellUsage(isHelp ? 'no such command' : error.message.replace(/^error: /, ''), io, json, commandOf(argv));
    return EXIT.usage;
  }
}

/** The version is asked for rarely, and knowing it means loading everything. */
async function versionFor(argv: readonly string[]): Promise<string> {
  const asked = argv.includes('-V') || argv.includes('--version');
  return asked ? (await import('../index.js')).VERSION : '';
}

/** The command that was called, or the one that most call. */
function commandOf(argv: readonly string[]): string {
  return COMMANDS.some(({ name }) => name === argv[0]) ? (argv[0] ?? '') : 'measure';
}

/** The parser adds a guess on a line of its own: "(Did you mean --speed?)". */
function tellUsage(found: string, io: Io, json: boolean, command: string): void {
  const [what = '', guess] = found.split(/\n\((.*)\)$/s);
  const message = `${what.charAt(0).toUpperCase()}${what.slice(1).replace(/\.$/, '')}.`;
  const advice =
    guess ?? `Look up what can be given with "stillband --help" or "stillband ${command} --help".`;
  tellProblem({ code: 'usage', message, advice }, json, io);
}
