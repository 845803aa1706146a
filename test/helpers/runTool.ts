import { execFile } from 'node:child_process';
import { fileURLToPath } from 'node:url';

/** The command as it is installed: built by `npm run build`. */
export const BIN = fileURLToPath(new URL('../../dist/cli/bin.js', import.meta.url));

/** What a process came to. */
export interface ToolRun {
  readonly exitCode: number;
  readonly stdout: string;
  readonly stderr: string;
}

/**
 * Runs the built command as a process.
 * @param args - Its arguments.
 * @param options - Folder to run in, arguments for node itself, and the environment beside PATH.
 * @returns Exit code and output.
 */
export function runTool(
  args: readonly string[],
  options: {
    readonly cwd?: string;
    readonly nodeArgs?: readonly string[];
    readonly env?: Readonly<Record<string, string>>;
  } = {},
): Promise<ToolRun> {
  const { cwd, nodeArgs = [], env = {} } = options;
  return new Promise((resolve, reject) => {
    execFile(
      process.execPath,
      [...nodeArgs, BIN, ...args],
      // Nothing else is inherited: what the caller's shell or CI sets must not decide a test.
      { cwd, env: { PATH: process.env['PATH'], ...env }, maxBuffer: 64 * 2 ** 20 },
      (error, stdout, stderr) => {
        const code = error === null ? 0 : error.code;
        if (typeof code === 'number') resolve({ exitCode: code, stdout, stderr });
        else reject(new Error('the command was not run', { cause: error }));
      },
    );
  });
}
