import type { Io } from './io.js';

/** A user's mistake as it is told: what an `InputError` carries. */
export interface Problem {
  /** Stable code, for scripts. */
  readonly code: string;
  /** One plain sentence. */
  readonly message: string;
  /** What to do next, one sentence. */
  readonly advice: string;
  /** The field of the print record it is about. */
  readonly field?: string | undefined;
}

/**
 * Tells a mistake in three lines on standard error, or as an object on standard output.
 * @param problem - What is wrong.
 * @param json - Whether JSON was asked for.
 * @param io - The outside world.
 */
export function tellProblem({ code, message, advice, field }: Problem, json: boolean, io: Io): void {
  if (json) io.out(`${JSON.stringify({ error: { code, message, advice, field } })}\n`);
  else io.err(`stillband: ${message}\n${advice}\n(${code})\n`);
}
