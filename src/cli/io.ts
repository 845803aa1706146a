/** The outside world as a command sees it, so that tests need no process. */
export interface Io {
  /** Writes to standard output: results only. */
  readonly out: (text: string | Uint8Array) => void;
  /** Writes to standard error: everything that is not a result. */
  readonly err: (text: string) => void;
  /** Standard output is a terminal that shows colours. */
  readonly colour: boolean;
}

/** Exit codes of all commands (the numbers above 63 after the BSD convention sysexits.h, from memory). */
export const EXIT = {
  done: 0,
  difference: 1,
  refused: 3,
  usage: 64,
  badInput: 65,
  noFile: 66,
  internal: 70,
  cannotWrite: 73,
  interrupted: 130,
} as const;
