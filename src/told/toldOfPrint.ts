import { partlyTold } from '../checkPhoto.js';
import { InputError } from '../core/errors.js';
import type { CardRead } from '../print/cardRead.js';
import { readPrintRecord } from '../print/readPrintRecord.js';
import type { PrintRecord, RecordUse } from '../print/record.js';

/** What somebody tells of a print, in the ways there are. */
export interface TellingOfPrint {
  /** A print record as JSON text; absent: none is given. */
  readonly text?: string | undefined;
  /** Arguments of flags by option name, which win over the record. */
  readonly given: Readonly<Record<string, string>>;
  /** What the marker card in the photo says; asked only where no record is given. */
  readonly card: () => Promise<CardRead>;
}

/** What is told of a print, for a measurement. */
export interface ToldToMeasure {
  readonly record: PrintRecord;
  /** The record was taken from the card's code. */
  readonly recordFromCard: boolean;
  /** What the card says, where it was asked. */
  readonly cardRead?: CardRead;
}

/** What is told of a print, for a check: no record where nothing is told. */
export interface ToldToCheck {
  readonly record?: PrintRecord;
  readonly recordFromCard?: boolean;
  readonly cardRead?: CardRead;
  /** What stands in the record beside the face's size may be a guess. */
  readonly guessed?: boolean;
}

/**
 * The print record for a measurement: the one that is given, else that of the card in the photo; flags win over both.
 * @param telling - What is told.
 * @param use - What the record is read for.
 * @returns The record, and where it comes from.
 * @throws {InputError} As `readPrintRecord`, and `usage` where nothing is told at all.
 */
export async function toldToMeasure(telling: TellingOfPrint, use: RecordUse): Promise<ToldToMeasure> {
  const { text, given } = telling;
  if (text !== undefined) return { record: readPrintRecord(text, given, use), recordFromCard: false };
  const card = await telling.card();
  const recordFromCard = tellsPrint(card);
  if (!recordFromCard && Object.keys(given).length === 0) throw nothingTold(card.state, use);
  return { record: recordByCard(card, given, use), recordFromCard, cardRead: card };
}

/** Flags without which a record is none; without one of them the others are taken, and the rest is guessed. */
const NEEDED = ['axis', 'speed', 'layerHeight', 'leadingCorner'];

/**
 * The same for a check, which may know less: what is not told is guessed, or there is no record at all.
 * @param telling - What is told.
 * @returns The record, and where it comes from.
 * @throws {InputError} As `readPrintRecord`.
 */
export async function toldToCheck(telling: TellingOfPrint): Promise<ToldToCheck> {
  const { text, given } = telling;
  // No ladder is needed to look at a photo.
  const use = { spacingOnly: true };
  if (text !== undefined) return { record: readPrintRecord(text, given, use) };
  const card = await telling.card();
  if (tellsPrint(card)) return { record: recordByCard(card, given, use), recordFromCard: true };
  if (Object.keys(given).length === 0) return { cardRead: card };
  return NEEDED.every((name) => given[name] !== undefined)
    ? { record: recordByCard(card, given, use), cardRead: card }
    : { record: partlyTold(given), cardRead: card, guessed: true };
}

/** Whether a card's code tells of a print: that of a machine alone does not. */
function tellsPrint(card: CardRead): boolean {
  return card.state === 'read' && card.record['axis'] !== undefined;
}

/** The print record where no file tells it. */
function recordByCard(card: CardRead, given: TellingOfPrint['given'], use: RecordUse): PrintRecord {
  return readPrintRecord(card.state === 'read' ? JSON.stringify(card.record) : undefined, given, use);
}

/** What the photo shows instead of a record. */
const INSTEAD: Readonly<Record<CardRead['state'], string>> = {
  read: 'the code on the marker card in the photo names only its machine',
  mirrored:
    'the photo is mirrored, so that the code on its marker card is not read: it names the leading corner as seen otherwise',
  'no-card': 'the photo shows no marker card whose code could tell it',
  'no-code': 'no code could be read on the marker card in the photo',
  newer: 'the code on the marker card was written by a later version of stillband',
  damaged: 'the code on the marker card is damaged',
  foreign: 'the code between the squares is not that of a marker card',
};

function nothingTold(state: CardRead['state'], { spacingOnly = false }: RecordUse): InputError {
  return new InputError(
    'usage',
    `Nothing is told of the print: there is neither a print record nor a flag in its place, and ${INSTEAD[state]}.`,
    `Add --print FILE, or at least --axis, --speed, --layer-height, --leading-corner, ${spacingOnly ? '' : '--ladder, '}--face-width and --face-height.`,
  );
}
