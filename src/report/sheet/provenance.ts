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

/** What a reading was made of and by. */
export interface Provenance {
  readonly schema: string;
  readonly version: string;
  readonly photos: Reading['photos'];
  /** What to call the photos, one for each. */
  readonly names: readonly string[];
  readonly logbook?: LogbookPlace | undefined;
}

/**
 * What somebody needs who wants to check a sheet later.
 * @param provenance - What the reading was made of and by.
 * @returns Rows: photos with their hashes, versions, how to measure again, and the logbook.
 */
export function provenanceRows({ schema, version, photos, names, logbook }: Provenance): readonly Row[] {
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
