import { qrCells } from '../index.js';

/** White cells around a code (ISO/IEC 18004: four). */
const QUIET = 4;
/** Black on white, whatever the terminal's own colours are. */
const BLACK_ON_WHITE = '\u001B[30;47m';
const PLAIN = '\u001B[0m';

/**
 * A QR code for a terminal: each character shows two cells, one above the other.
 * @param text - What it says.
 * @returns Lines with colours set, without a last line break.
 */
export function terminalCode(text: string): string {
  const rows = qrCells(text);
  const width = (rows[0]?.length ?? 0) + 2 * QUIET;
  const empty = '0'.repeat(width);
  const side = '0'.repeat(QUIET);
  const cells = [
    ...Array<string>(QUIET).fill(empty),
    ...rows.map((row) => side + row + side),
    ...Array<string>(QUIET).fill(empty),
  ];
  const lines: string[] = [];
  for (let y = 0; y < cells.length; y += 2) {
    const [upper = empty, lower = empty] = [cells[y], cells[y + 1]];
    const signs = Array.from(upper, (cell, x) => SIGNS[cell + (lower[x] ?? '0')] ?? ' ');
    lines.push(BLACK_ON_WHITE + signs.join('') + PLAIN);
  }
  return lines.join('\n');
}

const SIGNS: Readonly<Record<string, string>> = { '00': ' ', '10': '▀', '01': '▄', '11': '█' };
