import type { Io } from './io.js';

/** What went wrong as it is told: what an `InputError` carries, or `internal`. */
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
 * What is told of an error that no user can be blamed for.
 * @param error - What was thrown.
 * @returns A problem of code `internal`: the error's first line, without where in the code it happened.
 */
export function internalProblem(error: unknown): Problem {
  const [what = ''] = (error instanceof Error ? error.message : String(error)).split('\n');
  return {
    code: 'internal',
    message: `Something went wrong inside: ${what.replace(/\.$/, '')}.`,
    advice:
      'Please report it with this message and the command you typed; your photo and record were not changed.',
  };
}

/**
 * Tells a problem in three lines on standard error, or as an object on standard output.
 * @param problem - What is wrong.
 * @param json - Whether JSON was asked for.
 * @param io - The outside world.
 */
export function tellProblem({ code, message, advice, field }: Problem, json: boolean, io: Io): void {
  const told = { code, message: visible(message), advice: visible(advice), field };
  if (json) io.out(`${JSON.stringify({ error: told })}\n`);
  else io.err(`stillband: ${told.message}\n${told.advice}\n(${code})\n`);
}

/**
 * Messages quote what was given. A character that moves the cursor, breaks the line or turns the direction of
 * the text (Unicode: Cc, Zl, Zp, Bidi_Control) is shown by its number instead.
 */
function visible(text: string): string {
  return text.replaceAll(
    /[\p{Cc}\p{Zl}\p{Zp}\p{Bidi_Control}]/gu,
    (character) => `\\u${character.charCodeAt(0).toString(16).padStart(4, '0')}`,
  );
}
