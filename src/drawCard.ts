import { InputError } from './core/errors.js';
import { CARD_MM, CHECK_LENGTH_MM, CHECK_LENGTHS_MM } from './core/markerCard.js';
import type { Mm, Px } from './core/units.js';
import { qrCells } from './imaging/qrCode.js';
import { cardText } from './print/cardCode.js';
import { machineOf, type PrintRecord } from './print/record.js';
import type { Drawing } from './report/drawing.js';
import { drawingPdf } from './report/drawingPdf.js';
import { drawingSvg } from './report/drawingSvg.js';
import { codeCellMm, drawMarkerCard, type CardSize } from './report/markerCard.js';

/** What a marker card is drawn for. */
export interface CardOptions {
  /** The page: A4, letter, or the card alone. @default 'a4' */
  readonly size?: CardSize;
  /** The print that the card's code tells of, so that photos with the card need no record beside them. */
  readonly record?: PrintRecord;
  /** The machine's name; wins over the record's. */
  readonly machine?: string;
  /** What the check length of an earlier print measured, mm: this one is drawn larger or smaller by as much. */
  readonly checkLengthMm?: Mm;
}

/** A marker card to be printed. */
export interface MarkerCard {
  readonly drawing: Drawing;
  /** Absent on a card without a code. */
  readonly code?: {
    readonly text: string;
    /** Fields of the record that are not in it. */
    readonly leftOut: readonly string[];
    /** Width of the card in a photo from which on the code is read. */
    readonly leastWidthPx: Px;
  };
}

/** A code is read from so many px per cell on (tried: scripts/benchCard.ts). */
const LEAST_CELL_PX = 2.5;

/**
 * Draws a marker card at true size. With a record, or a machine's name, it carries a QR code.
 * @param options - What it is drawn for.
 * @returns The page, and what its code says.
 * @throws {InputError} `record-too-long`; `usage` for a check length or a machine's name that is none.
 */
export function makeCard(options: CardOptions = {}): MarkerCard {
  const { size = 'a4', record, checkLengthMm } = options;
  const machine = options.machine ?? record?.machine;
  checkCheckLength(checkLengthMm);
  checkMachine(machine);
  const told = record ?? (machine === undefined ? undefined : {});
  const text = told === undefined ? undefined : cardText(machine === undefined ? told : { ...told, machine });
  const cells = text === undefined ? undefined : qrCells(text.text);
  const drawing = drawMarkerCard({
    size,
    ...(text === undefined || cells === undefined ? {} : { code: { cells, fields: text.fields } }),
    ...(machine === undefined ? {} : { machine }),
    ...(record === undefined ? {} : { axis: record.axis }),
    ...(checkLengthMm === undefined ? {} : { checkLengthMm }),
  });
  if (text === undefined || cells === undefined) return { drawing };
  const cellsWide = (CARD_MM.right - CARD_MM.left) / codeCellMm(cells.length);
  return {
    drawing,
    code: { text: text.text, leftOut: text.leftOut, leastWidthPx: Math.ceil(LEAST_CELL_PX * cellsWide) },
  };
}

/**
 * A card as a PDF document of its true size.
 * @param card - From `makeCard`.
 * @param createdAt - When it was made, as the document says.
 * @returns The document's bytes.
 * @throws {InputError} `usage` where the font that comes along has no sign for a letter on it.
 */
export async function cardPdf({ drawing }: MarkerCard, createdAt: Date): Promise<Uint8Array> {
  return drawingPdf([drawing], createdAt);
}

/**
 * A card as an SVG document of its true size.
 * @param card - From `makeCard`.
 * @returns The document as text.
 */
export function cardSvg({ drawing }: MarkerCard): string {
  return `${drawingSvg(drawing)}\n`;
}

function checkMachine(machine: string | undefined): void {
  if (machine === undefined || machineOf({ machine }) !== undefined) return;
  throw new InputError(
    'usage',
    'The name of the machine is empty, longer than 100 characters, or has some that cannot be printed.',
    'Give a short name on one line.',
  );
}

function checkCheckLength(checkLengthMm: Mm | undefined): void {
  const { least, most } = CHECK_LENGTHS_MM;
  if (checkLengthMm === undefined || (checkLengthMm >= least && checkLengthMm <= most)) return;
  throw new InputError(
    'usage',
    `The check length is given as ${checkLengthMm} mm, but is drawn as ${CHECK_LENGTH_MM} mm.`,
    `Give what calipers show between the two marks of a card that was printed before, in mm, like ${0.997 * CHECK_LENGTH_MM}.`,
  );
}
