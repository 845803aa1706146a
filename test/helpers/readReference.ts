import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

/** One row of a reference table: the columns that were asked for, numbers as numbers. */
export type ReferenceRow<N extends string, T extends string> = Readonly<
  Record<N, number> & Record<T, string>
>;

/**
 * Reads a table of `test/reference`; comment lines (`#`) are skipped, the first other line names the columns.
 * @param file - Name in `test/reference`, like `windows.csv`.
 * @param numberColumns - Columns to read as numbers. The word `nan` in a cell reads NaN (not defined there).
 * @param textColumns - Columns to read as they stand.
 * @returns One object for each row with just those columns, in the order of the file.
 * @throws {RangeError} When a column is missing, a row is short or long, or a cell is not a number.
 */
export function readCsv<const N extends string, const T extends string = never>(
  file: string,
  numberColumns: readonly N[],
  textColumns: readonly T[] = [],
): readonly ReferenceRow<N, T>[] {
  return parseCsv(referenceText(file), file, numberColumns, textColumns);
}

/**
 * As `readCsv`, from text.
 * @param text - The table.
 * @param name - What to call it in an error.
 * @param numberColumns - Columns to read as numbers.
 * @param textColumns - Columns to read as they stand.
 * @returns One object for each row.
 * @throws {RangeError} When a column is missing, a row is short or long, or a cell is not a number.
 */
export function parseCsv<const N extends string, const T extends string = never>(
  text: string,
  name: string,
  numberColumns: readonly N[],
  textColumns: readonly T[] = [],
): readonly ReferenceRow<N, T>[] {
  const lines = text.split(/\r?\n/).filter((line) => line !== '' && !line.startsWith('#'));
  const header = (lines[0] ?? '').split(',');
  for (const column of [...numberColumns, ...textColumns]) {
    if (!header.includes(column)) {
      throw new RangeError(`${name}: expected a column ${column} but received ${header.join(', ')}`);
    }
  }
  return lines.slice(1).map((line, i) => {
    const cells = line.split(',');
    if (cells.length !== header.length) {
      throw new RangeError(
        `${name} row ${i + 1}: expected ${header.length} cells but received ${cells.length}`,
      );
    }
    const cell = (column: string): string => cells[header.indexOf(column)]!;
    const numbers = numberColumns.map((column) => [column, toNumber(cell(column), `${name} row ${i + 1}`)]);
    const texts = textColumns.map((column) => [column, cell(column)]);
    return Object.fromEntries([...numbers, ...texts]) as ReferenceRow<N, T>;
  });
}

/**
 * Reads a JSON file of `test/reference`. The files are fixed, so a test states the shape it uses:
 * `readJson('uncertainty.json') as { GUM_H3: … }`.
 * @param file - Name in `test/reference`, like `uncertainty.json`.
 * @returns Its content.
 */
export function readJson(file: string): unknown {
  return JSON.parse(referenceText(file));
}

/**
 * Reads a file of `test/reference` that is neither table nor JSON.
 * @param file - Name in `test/reference`, like `ENSO.dat`.
 * @returns Its text.
 */
export function referenceText(file: string): string {
  return readFileSync(fileURLToPath(new URL(`../reference/${file}`, import.meta.url)), 'utf8');
}

function toNumber(cell: string, where: string): number {
  const value = Number(cell);
  // Number('') is 0: an empty cell must not pass for a measured zero.
  if (cell.trim() === '' || (Number.isNaN(value) && cell !== 'nan')) {
    throw new RangeError(`${where}: expected a number but received "${cell}"`);
  }
  return value;
}
