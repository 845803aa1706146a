import { InputError } from '../index.js';

/** What went wrong, as the page is told. The codes of `InputError` are the command line's; these are the server's own. */
export interface WebError {
  readonly code: string;
  /** One plain sentence. */
  readonly message: string;
  /** What to do next. */
  readonly advice: string;
  /** The field of the print record it is about. */
  readonly field?: string | undefined;
}

/** Why a request is not answered. */
type WebCode =
  /** It cannot be understood. */
  | 'request-invalid'
  /** There is nothing at this address, or no longer. */
  | 'not-found'
  /** It is larger than is taken. */
  | 'too-large'
  /** It took too long to arrive. */
  | 'too-slow'
  /** There is no room for more at the moment: photos, or work that waits. */
  | 'busy'
  /** It took longer than is waited for. */
  | 'timed-out'
  /** It was cancelled. */
  | 'cancelled'
  /** It cannot be done in this state: nothing measured yet, or no logbook. */
  | 'not-now'
  /** It came for an address that is not this server's. */
  | 'host-refused'
  /** It came from another page than ours. */
  | 'origin-refused'
  /** This browser was not let in by a link. */
  | 'key-needed'
  /** Our own mistake. */
  | 'internal';

/** A request that is not answered as asked, with its HTTP status. */
export class WebProblem extends Error {
  override readonly name = 'WebProblem';
  readonly status: number;
  readonly code: WebCode;
  readonly advice: string;
  /** Seconds after which trying again makes sense. */
  readonly retryAfterS: number | undefined;

  /**
   * @param status - HTTP status.
   * @param code - Stable code.
   * @param message - One plain sentence.
   * @param advice - What to do next, one sentence.
   * @param retryAfterS - When trying again makes sense, if it does.
   */
  constructor(status: number, code: WebCode, message: string, advice: string, retryAfterS?: number) {
    super(message);
    this.status = status;
    this.code = code;
    this.advice = advice;
    this.retryAfterS = retryAfterS;
  }
}

/**
 * The answer where there is no room at the moment.
 * @param message - What is full.
 * @returns Status 503, to be tried again soon.
 */
export function busy(message: string): WebProblem {
  return new WebProblem(503, 'busy', message, 'Wait a little and try again.', 5);
}

/**
 * The answer where there is nothing.
 * @param what - What was looked for.
 * @returns Status 404.
 */
export function notFound(what: string): WebProblem {
  return new WebProblem(
    404,
    'not-found',
    `There is no ${what} here.`,
    'Go back to the page and begin there.',
  );
}

/**
 * The answer to a request that cannot be understood.
 * @param message - What is wrong with it.
 * @returns Status 400.
 */
export function invalid(message: string): WebProblem {
  return new WebProblem(
    400,
    'request-invalid',
    message,
    'Reload the page and try again; a program should look at what it sent.',
  );
}

/** An error with its status, told to the one who asked. */
export interface Told {
  readonly status: number;
  readonly error: WebError;
  readonly retryAfterS?: number | undefined;
}

/**
 * How an error is told.
 * @param error - What was thrown.
 * @returns Status and words; of our own mistakes no more than that there was one.
 */
export function toldOf(error: unknown): Told {
  if (error instanceof InputError) {
    const { code, message, advice, field } = error;
    return { status: STATUS[code] ?? 400, error: { code, message, advice, field } };
  }
  if (error instanceof WebProblem) {
    const { status, code, message, advice, retryAfterS } = error;
    return { status, error: { code, message, advice }, retryAfterS };
  }
  const status = statusOf(error);
  if (status === 413) {
    const tooLarge = new WebProblem(413, 'too-large', 'What was sent is larger than is taken.', 'Send less.');
    return toldOf(tooLarge);
  }
  // What the HTTP library did not understand.
  if (status !== undefined && status >= 400 && status < 500) {
    return { ...toldOf(invalid('The request cannot be understood.')), status };
  }
  return {
    status: 500,
    error: {
      code: 'internal',
      message: 'Something went wrong inside.',
      advice: 'Please report what you did and what the terminal says; your photos were not changed.',
    },
  };
}

/** Mistakes that are no mistakes of the request itself. */
const STATUS: Readonly<Record<string, number>> = {
  'logbook-missing': 404,
  'entry-missing': 404,
  'logbook-locked': 409,
  'logbook-damaged': 409,
  'logbook-unreadable': 409,
  'cannot-write': 409,
};

function statusOf(error: unknown): number | undefined {
  const status = error instanceof Error && 'statusCode' in error ? error.statusCode : undefined;
  return typeof status === 'number' ? status : undefined;
}
