import { createHash } from 'node:crypto';
import { InputError } from '../core/errors.js';
import { flagArgument } from './flagArgument.js';
import { applyOverrides, flagName, isOfKind, optionName, RECORD_FLAGS, type RawObject } from './overrides.js';
import type { PrintRecord } from './record.js';
import { isObject, valueAt } from './recordProblem.js';

/**
 * The text of a marker card's code, version 1:
 *
 *     SB1 c0de
 *     Mnorth bench 3
 *     AY
 *     v110
 *
 * The first line is the version and the first four hex digits of the SHA-256 of all that follows the line's end, so that
 * a code which is read wrong is noticed. Each further line is one field: its letter, and what its flag would be given
 * (`--machine "north bench 3" --axis Y --speed 110`). UTF-8, lines end with U+000A, the last without.
 */
const VERSION = 1;
const HEADER = /^SB([1-9]\d{0,3}) ([0-9a-f]{4})\n([\s\S]*)$/;

/**
 * The letter of each flag. A letter never changes its meaning; a field that is new gets a new one.
 * @internal
 */
export const CODE_LETTERS: Readonly<Record<string, string>> = {
  '--machine': 'M',
  '--axis': 'A',
  '--speed': 'v',
  '--acceleration': 'a',
  '--corner-speed': 'c',
  '--layer-height': 'h',
  '--first-layer-height': 'i',
  '--layers': 'n',
  '--seam': 's',
  '--direction': 'd',
  '--face-width': 'w',
  '--face-height': 't',
  '--face-bottom': 'b',
  '--leading-corner': 'l',
  '--shaper': 'S',
  '--damping': 'z',
  '--hz-means': 'm',
  '--along-wall': 'W',
  '--ladder': 'L',
  '--from-hz': 'f',
  '--to-hz': 'g',
  '--first-layer': 'j',
  '--last-layer': 'k',
  '--from-mm': 'x',
  '--to-mm': 'y',
  '--hz': 'H',
  '--bands': 'B',
  '--points': 'P',
  '--ladders': 'Q',
  '--acceleration-bands': 'R',
  '--known-pitches': 'K',
  '--pen-height': 'e',
  '--pen-plus-minus': 'u',
  '--slots': 'o',
  '--printed-on': 'D',
  '--material': 'E',
  '--title': 'T',
};

/** Fields of a record that belong to one photo or are too long for a card. */
const LEFT_OUT = ['facePx', 'photoOf', 'notes'] as const;

/** More bytes make a code whose cells are too small to be photographed: QR version 20 of medium correction has room for 666. */
const MOST_BYTES = 666;

/** What a flag's argument is told in, where that is a unit. */
const UNIT = /<(mm|mm\/s|mm\/s²|Hz)>/;

/** A print record as a card carries it. */
export interface CardText {
  readonly text: string;
  /** What it says, for people: `speed 110 mm/s`. */
  readonly fields: readonly string[];
  /** Fields of the record that are not on the card; `reference` where it names another than the card itself. */
  readonly leftOut: readonly string[];
}

/**
 * Writes a print record, or the machine alone, as the text of a card's code.
 * @param record - A checked record, or only the machine's name.
 * @returns The text, what it says, and what of the record it does not.
 * @throws {InputError} `record-too-long` when the code would have more cells than a photo can show.
 */
export function cardText(record: PrintRecord | Pick<PrintRecord, 'machine'>): CardText {
  const fields = RECORD_FLAGS.flatMap(({ flag, path }) => {
    const name = flagName(flag);
    const letter = CODE_LETTERS[name];
    const told = valueAt(path.split('.'), record);
    const value = letter === undefined ? undefined : flagArgument(path, told);
    if (letter === undefined || value === undefined) return [];
    const [, unit = ''] = UNIT.exec(flag) ?? [];
    return [
      {
        line: `${letter}${typeof told === 'string' ? told : withoutZeros(value)}`,
        said: `${name.slice(2).replaceAll('-', ' ')} ${value}${unit && ` ${unit}`}`,
      },
    ];
  });
  const body = fields.map(({ line }) => line).join('\n');
  const text = `SB${VERSION} ${digestOf(body)}\n${body}`;
  const bytes = Buffer.byteLength(text);
  if (bytes > MOST_BYTES) {
    throw new InputError(
      'record-too-long',
      `The print record takes ${bytes} bytes on the card, but its code has room for ${MOST_BYTES}.`,
      'Leave title and material away, tell the ladder in fewer steps, or print a card with --machine alone.',
    );
  }
  return {
    text,
    fields: fields.map(({ said }) => said),
    leftOut: [
      ...('reference' in record && !isOfKind(record.reference, 'marker-card') ? ['reference'] : []),
      ...LEFT_OUT.filter((name) => valueAt([name], record) !== undefined),
    ],
  };
}

/** What a card's code says. */
export type CardCode =
  /** The raw record, to be checked like one from a file; its reference is the card. */
  | { readonly state: 'read'; readonly record: RawObject }
  /** Written by a later version than this one. */
  | { readonly state: 'newer' }
  /** Ours, but not as it was written. */
  | { readonly state: 'damaged' }
  /** Not of a marker card. */
  | { readonly state: 'foreign' };

/**
 * Reads the text of a code.
 * @param text - What the code says.
 * @returns The raw record, or why there is none.
 * @throws {Error} When this program itself is at fault; no text brings it about.
 */
export function parseCardText(text: string): CardCode {
  const [, version, digest, body = ''] = HEADER.exec(text) ?? [];
  if (version === undefined) return { state: 'foreign' };
  if (Number(version) > VERSION) return { state: 'newer' };
  if (digestOf(body) !== digest) return { state: 'damaged' };
  const given: Record<string, string> = {};
  for (const line of body.split('\n')) {
    const [flag] = Object.entries(CODE_LETTERS).find(([, letter]) => letter === line.charAt(0)) ?? [];
    if (flag === undefined) return { state: 'damaged' };
    given[optionName(flag)] = line.slice(1);
  }
  try {
    const record = applyOverrides(undefined, given);
    if (!isObject(record)) return { state: 'damaged' };
    return { state: 'read', record: { ...record, reference: { kind: 'marker-card' } } };
  } catch (error) {
    if (error instanceof InputError) return { state: 'damaged' };
    throw error;
  }
}

function digestOf(body: string): string {
  return createHash('sha256').update(body).digest('hex').slice(0, 4);
}

/** Without zeros before decimal points: fewer bytes make larger cells. */
function withoutZeros(numbers: string): string {
  return numbers.replaceAll(/(?<![\d.])0(?=\.\d)/g, '');
}
