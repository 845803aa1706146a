/** Where a result was written. */
export interface WrittenFile {
  readonly file: string;
  /** A file of that name was there, and is no more. */
  readonly replaced: boolean;
}

/**
 * What is said where a result took the place of a file.
 * @param written - The result.
 * @returns The end of a sentence; empty where nothing was replaced.
 */
export function replacedWords({ replaced }: WrittenFile): string {
  return replaced ? ', in place of the file of that name' : '';
}
