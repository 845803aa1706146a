/** Names in a logbook's folder. */
export const NAMES = {
  readme: 'README.txt',
  log: 'log.jsonl',
  entries: 'entries',
  lock: '.lock',
  entry: 'entry.json',
  reading: 'reading.json',
} as const;

/** What is being written carries this at the beginning of its name; nobody reads it. */
export const PART = '.part-';

/** Files that file managers leave in every folder that they show; they are passed over. */
const OF_FILE_MANAGERS = ['.DS_Store', 'Thumbs.db', 'desktop.ini'];

/**
 * Whether a name means nothing to the logbook: what a file manager left.
 * @param name - Name of a file.
 * @returns True when it is to be passed over.
 */
export function isOfFileManager(name: string): boolean {
  return OF_FILE_MANAGERS.includes(name);
}

/**
 * The number that the name of an entry's folder begins with.
 * @param name - Name of a folder.
 * @returns Its number, or undefined when the name is not of that form.
 */
export function numberOf(name: string): number | undefined {
  const digits = /^(\d{6,9})(?:-|$)/.exec(name)?.[1];
  return digits === undefined || (digits.length > 6 && digits.startsWith('0')) || Number(digits) === 0
    ? undefined
    : Number(digits);
}

/** What stands in README.txt of every logbook. */
export const README = `This folder is a logbook of stillband: readings of test towers, with their photos.

entries/NNNNNN-date-machine-axis/   one entry each; it never changes once it is written
    entry.json      what the entry is: machine, axis, what was changed, hashes of the files beside it
    reading.json    the complete reading, or the reading of several photos
    <SHA-256>.jpg   the photo, named by the SHA-256 of the file; its position data was removed
log.jsonl           one line for each entry, in order: its hash and what a list shows

The photos can be looked at with anything, and their names be checked with any program for SHA-256.

Nothing in here is to be edited, renamed or removed. Something that turned out later is added as a note:
    stillband logbook note "..." --about 12 --logbook FOLDER
Whether all is as it was saved tells:
    stillband logbook verify --logbook FOLDER --head "HEAD KEPT ELSEWHERE"

How it is made sure of: the bytes of entry.json are a leaf of a hash tree (RFC 6962, SHA-256), and all JSON is in the
form of RFC 8785. entry.json names the SHA-256 of reading.json and of each photo, and the root hash of all earlier
entries. A head is the number of entries, the root hash of the tree, and four check letters against slips.
Who keeps a head elsewhere, as on a printed sheet, can notice every later change to the entries it covers. Without one,
a log that was rewritten as a whole, or cut off at its end, looks intact. No head shows when an entry was written, or
that what was typed of the print is true.
`;
