import type { Reading } from '../../reading/schema.js';
import { decimals, withUnit } from '../format.js';
import type { Row } from '../recordRows.js';

/** Where a reading is kept. */
export interface LogbookPlace {
  /** Name of its entry. */
  readonly entry: string;
  /** The logbook's head when the sheet was made. */
  readonly head: string;
}

/** Where the pictures on the sheet of a stored reading come from. */
export type PicturesFrom =
  /** Its photo was measured again, and gives the same or other numbers. */
  | { readonly state: 'equal' | 'different' }
  /** There are none. */
  | { readonly state: 'none'; readonly why: string };

/** What a reading was made of and by. */
export interface Provenance {
  readonly schema: string;
  readonly version: string;
  readonly photos: Reading['photos'];
  /** What to call the photos, one for each. */
  readonly names: readonly string[];
  readonly logbook?: LogbookPlace | undefined;
  /** Absent: the pictures were made when the reading was. */
  readonly picturesFrom?: PicturesFrom | undefined;
}

/**
 * What somebody needs who wants to check a sheet later.
 * @param provenance - What the reading was made of and by.
 * @returns Rows: photos with their hashes, versions, how to measure again, and the logbook.
 */
export function provenanceRows(provenance: Provenance): readonly Row[] {
  const { schema, version, photos, names, logbook, picturesFrom } = provenance;
  const several = photos.length > 1;
  return [
    ...photos.flatMap((photo, i): Row[] => {
      const number = several ? ` ${String(i + 1)}` : '';
      return [
        [`photo${number}`, photoWords(photo, names[i])],
        ['SHA-256', photo.sha256],
      ];
    }),
    ['made by', `stillband ${version}, schema ${schema}`],
    [
      'measure again',
      `the same version gives the same numbers from ${several ? 'photos with these hashes' : 'a photo with this hash'} and what was told: stillband measure ${several ? 'PHOTOS' : 'PHOTO'} --print RECORD --json`,
    ],
    ...(picturesFrom === undefined ? [] : [['pictures', pictureWords(picturesFrom)] as const]),
    ...logbookRows(logbook),
  ];
}

function photoWords(photo: Reading['photos'][number], name: string | undefined): string {
  const { format, widthPx, heightPx, bytes, takenAt } = photo;
  const taken =
    takenAt === undefined ? 'its file does not say when it was taken' : `taken ${clockWords(takenAt)}`;
  return [
    name,
    `${format.toUpperCase()}, ${String(widthPx)} × ${withUnit(String(heightPx), 'px')}`,
    withUnit(decimals(bytes / 1e6, 2), 'MB'),
    taken,
  ]
    .filter((part) => part !== undefined)
    .join(', ');
}

/**
 * Where the pictures of a stored reading's sheet come from.
 * @param from - Where.
 * @returns A clause.
 */
export function pictureWords(from: PicturesFrom): string {
  switch (from.state) {
    case 'equal':
      return 'the stored photo, measured again: the same numbers came out';
    case 'different':
      return 'the stored photo, measured again: other numbers came out, which "stillband logbook replay" lists; those on this sheet are as they were saved';
    case 'none':
      return `none, since the stored photo cannot be measured again: ${from.why}`;
  }
}

function clockWords(takenAt: string): string {
  return `${takenAt.replace('T', ' ')} by the camera's clock`;
}

function logbookRows(logbook: LogbookPlace | undefined): readonly Row[] {
  return logbook === undefined
    ? [['logbook', 'not in one: nothing here shows whether photo, record or sheet was changed since']]
    : [
        ['logbook entry', logbook.entry],
        ['logbook head', logbook.head],
        [
          'what it shows',
          'a logbook that is verified against this head shows whether this entry or any before it was changed, taken out or moved since this sheet was made; what came later it does not cover, and whether an entry was true when it was written it cannot tell',
        ],
      ];
}
