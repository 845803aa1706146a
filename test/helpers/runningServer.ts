import { spawn } from 'node:child_process';
import { createInterface } from 'node:readline';
import { BIN } from './runTool.js';

/** A server that runs as a process of its own. */
export interface RunningTool {
  /** The first line on standard output. */
  readonly address: string;
  readonly pid: number;
  /** What it said on standard error so far. */
  readonly stderr: () => string;
  /**
   * Sends it a signal and waits until it has ended.
   * @param signal - The signal.
   * @returns Its exit code.
   */
  readonly stop: (signal?: NodeJS.Signals) => Promise<number>;
}

/**
 * Starts the built command `serve` as a process.
 * @param args - Its arguments after `serve`.
 * @param cwd - Folder to run in.
 * @param env - Environment beside PATH.
 * @returns The process, once it has told its address.
 */
export async function startServer(
  args: readonly string[],
  cwd?: string,
  env: Readonly<Record<string, string>> = {},
): Promise<RunningTool> {
  const child = spawn(process.execPath, [BIN, 'serve', ...args], {
    cwd,
    env: { PATH: process.env['PATH'], ...env },
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let stderr = '';
  child.stderr.on('data', (text: Buffer) => (stderr += text.toString()));
  const ended = new Promise<number>((resolve) => {
    child.on('close', (code, signal) => {
      resolve(code ?? (signal === null ? -1 : -2));
    });
  });
  const lines = createInterface(child.stdout);
  const address = await Promise.race([
    new Promise<string>((resolve) => lines.once('line', resolve)),
    ended.then((code) => Promise.reject(new Error(`serve ended with ${String(code)}: ${stderr}`))),
  ]);
  return {
    address,
    pid: child.pid ?? 0,
    stderr: () => stderr,
    stop: (signal = 'SIGTERM') => {
      child.kill(signal);
      return ended;
    },
  };
}
