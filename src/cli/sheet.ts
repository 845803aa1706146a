import {
  formatHead,
  InputError,
  makeSheet,
  PAPERS,
  sheetHtml,
  sheetPdf,
  type LogbookPlace,
  type MeasuredForSheet,
  type Paper,
  type Sheet,
  type Written,
} from '../index.js';
import type { Result } from './deliver.js';
import { formatByName, oneOf } from './targets.js';

/** What was asked for. */
export interface SheetOptions {
  readonly sheet?: string;
  readonly paper?: string;
}

/** A sheet that is to be made. */
export interface SheetTarget {
  readonly path: string;
  readonly format: 'html' | 'pdf';
  readonly paper: Paper;
}

/**
 * Reads what was asked for, before anything is measured.
 * @param options - Options of the command line.
 * @returns What to make, or undefined when no sheet is asked for.
 * @throws {InputError} `usage`.
 */
export function sheetTarget(options: SheetOptions & { readonly sheet: string }): SheetTarget;
export function sheetTarget(options: SheetOptions): SheetTarget | undefined;
export function sheetTarget({ sheet, paper }: SheetOptions): SheetTarget | undefined {
  if (sheet === undefined) {
    if (paper === undefined) return undefined;
    throw new InputError(
      'usage',
      '--paper is given, but no --sheet that it is for.',
      'Add --sheet FILE with a name that ends in .html or .pdf, or leave --paper away.',
    );
  }
  return {
    path: sheet,
    format: formatByName(sheet, ['html', 'pdf'], { what: 'sheet', flag: '--sheet' }),
    paper: oneOf('--paper', paper ?? 'a4', PAPERS),
  };
}

/**
 * Makes a sheet's file.
 * @param target - What to make; undefined: nothing.
 * @param measured - The reading and its view.
 * @param written - Where it is saved; undefined: in no logbook.
 * @returns The file, or none.
 */
export async function sheetFiles(
  target: SheetTarget | undefined,
  measured: MeasuredForSheet,
  written?: Written,
): Promise<readonly Result[]> {
  if (target === undefined) return [];
  const told = written === undefined ? measured : { ...measured, logbook: placeOf(written) };
  return [await sheetFile(target, await makeSheet(told))];
}

/**
 * Writes a sheet in the format of its file.
 * @param target - What to make.
 * @param sheet - The sheet.
 * @returns The file.
 */
export async function sheetFile({ path, format, paper }: SheetTarget, sheet: Sheet): Promise<Result> {
  return {
    path,
    data: format === 'html' ? sheetHtml(sheet, paper) : await sheetPdf(sheet, paper, new Date()),
  };
}

function placeOf({ entry, head }: Written): LogbookPlace {
  return { entry: String(entry.number), head: formatHead(head) };
}
