/**
 * Every mistake that a user can make, by a stable code. What each one means to them stands in `message`
 * and `advice` of the error itself; the code is for scripts and never changes its meaning.
 */
export type InputErrorCode =
  /** There is no file at the given path. */
  | 'file-not-found'
  /** The path names something that is not a regular file, or cannot be read. */
  | 'file-unreadable'
  /** The file has no bytes. */
  | 'file-empty'
  /** The bytes are not a picture in one of the formats that are read. */
  | 'photo-format'
  /** The photo is HEIC, and the optional package that reads it is not installed. */
  | 'heic-reader-missing'
  /** The picture breaks off or its data is damaged. */
  | 'photo-damaged'
  /** The picture has more pixels than are read (120 megapixels). */
  | 'photo-too-large'
  /** The four corners cross over, repeat, or are not in the stated order. */
  | 'corners-crossed'
  /** Photos that are to be measured together are the same file, or differ in what must be the same. */
  | 'photos-differ'
  /** Readings that are to be compared belong to other axes or machines. */
  | 'readings-differ'
  /** A corner lies outside the photo. */
  | 'corners-outside'
  /** The print record is not valid JSON. */
  | 'record-not-json'
  /** The print record has a key that is not known. */
  | 'record-unknown-field'
  /** The print record names one field twice, or has two values where one belongs. */
  | 'record-duplicate-field'
  /** A field of the print record is missing, of the wrong type, or impossible. */
  | 'record-field'
  /** The print record does not fit into a marker card's code. */
  | 'record-too-long'
  /** No test tower can be planned within what was told. */
  | 'plan-impossible'
  /** The job file is no plain text. */
  | 'job-not-text'
  /** A line of the job file cannot be read. */
  | 'job-line'
  /** The job file tells something in a way that is not read. */
  | 'job-unsupported'
  /** The job file prints nothing, or does not say at which height. */
  | 'job-no-layers'
  /** The job file does not print one tower from the bottom up, or it is not clear which moves print. */
  | 'job-unclear'
  /** The job file's layers are not those of the print record. */
  | 'job-differs'
  /** The lines that are to be put into the job file stand in it already. */
  | 'job-woven'
  /** The pattern for the line that sets the frequency is none, or finds something else. */
  | 'pattern-invalid'
  /** The line that is to be put into the job file cannot be filled in. */
  | 'template-invalid'
  /** A limit of the user's that must be told is not. */
  | 'limit-missing'
  /** A value lies outside the limits that the user told. */
  | 'limit-exceeded'
  /** The command line cannot be understood. */
  | 'usage'
  /** A result cannot be written where it was asked for. */
  | 'cannot-write'
  /** There is no logbook at the given place, or none can begin there. */
  | 'logbook-missing'
  /** A part of the logbook cannot be read. */
  | 'logbook-unreadable'
  /** Another process is writing the logbook. */
  | 'logbook-locked'
  /** The logbook is not as it was written, so nothing is added to it. */
  | 'logbook-damaged'
  /** The logbook has no entry of the given number. */
  | 'entry-missing'
  /** The given head of a logbook is none, or has a slip in it. */
  | 'head-mistyped'
  /** The page cannot be opened at the asked address or port. */
  | 'cannot-listen'
  /** It is not certain that all position data can be removed from the photo. */
  | 'position-unsure';

/**
 * Runs a job on one of several photos; a mistake that comes out of it says which photo it is about.
 * @param name - What the photo is called.
 * @param job - What to do.
 * @returns What the job gives.
 * @throws {InputError} The job's own, its sentence begun with the name.
 */
export async function aboutPhoto<T>(name: string, job: () => Promise<T>): Promise<T> {
  try {
    return await job();
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    const { code, message, advice, field } = error;
    throw new InputError(code, `${name}: ${message}`, advice, field);
  }
}

/** A mistake in what was given, told in one plain sentence with what to do next. */
export class InputError extends Error {
  override readonly name = 'InputError';
  /** Stable code. */
  readonly code: InputErrorCode;
  /** What to do next, one sentence. */
  readonly advice: string;
  /** The field of the print record it is about, as a path like `face.widthMm`, or the option of a limit. */
  readonly field: string | undefined;

  /**
   * @param code - Stable code.
   * @param message - One plain sentence: what was found, and what was expected.
   * @param advice - What to do next, one sentence.
   * @param field - The field of the print record it is about, if it is about one.
   */
  constructor(code: InputErrorCode, message: string, advice: string, field?: string) {
    super(message);
    this.code = code;
    this.advice = advice;
    this.field = field;
  }
}
