import { symlinkSync, writeFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { beforeAll, expect } from 'vitest';
import { startServer } from './runningServer.js';
import { runTool } from './runTool.js';
import { tempFolder } from './tempFolder.js';

const root = resolve(import.meta.dirname, '../..');

/**
 * The lines of a document's shell blocks.
 * @param text - Markdown.
 */
export function shellLines(text: string): readonly string[] {
  return [...text.matchAll(/```sh\n([\s\S]*?)```/g)].flatMap((block) =>
    block[1]!.split('\n').filter((line) => line !== ''),
  );
}

/**
 * Runs commands as a document prints them, in a folder of their own where only photos and examples can be seen. Call it
 * where hooks may stand.
 * @returns `runLine` runs a printed `stillband …` line as it stands and returns what it prints; a line that was run before
 * is not run again. `at` is the path of a file in that folder.
 */
export function printedCommands(): {
  readonly runLine: (line: string) => Promise<string>;
  readonly at: (...names: readonly string[]) => string;
} {
  const at = tempFolder('file');
  beforeAll(() => {
    for (const folder of ['testimages', 'examples']) symlinkSync(join(root, folder), at(folder));
  });
  const ran = new Map<string, Promise<string>>();
  return {
    at,
    runLine: (line) => {
      const printed = ran.get(line) ?? runInFolder(line, at);
      ran.set(line, printed);
      return printed;
    },
  };
}

/** Splits a command line into words; double quotes keep spaces. */
function words(line: string): string[] {
  return [...line.matchAll(/"([^"]*)"|(\S+)/g)].map((match) => match[1] ?? match[2] ?? '');
}

async function runInFolder(line: string, at: (...names: readonly string[]) => string): Promise<string> {
  const [command = '', file] = line.split(' > ');
  const [program, ...args] = words(command);
  expect(program).toBe('stillband');
  if (args[0] === 'serve') return servedBy(args.slice(1), at());
  const { stdout, stderr, exitCode } = await runTool(args, { cwd: at() });
  expect(exitCode, `${line}\n${stderr}${stdout}`).toBe(0);
  // As a shell does: the result goes into a file, where the next command finds it.
  if (file !== undefined) writeFileSync(at(file), stdout);
  return stdout;
}

/** A server goes on until it is stopped; its usual port may be taken. */
async function servedBy(args: readonly string[], folder: string): Promise<string> {
  const server = await startServer([...args, '--port', '0'], folder);
  expect((await fetch(server.address)).status).toBe(200);
  expect(await server.stop()).toBe(0);
  return server.address + server.stderr();
}
