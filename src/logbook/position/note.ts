/** Takes down what was removed, in words; telling it twice is telling it once. */
export type Note = (what: string) => void;

/**
 * Cleans a JPEG file inside something else, in place.
 * Returns false when it is not understood.
 */
export type CleanInner = (data: Buffer, note: Note) => boolean;
