/**
 * Advance widths by groups of letters, em: each group by its widest in DejaVu Sans (read from the font);
 * Verdana, of the same design, differs by a few percent.
 */
const WIDTHS: readonly (readonly [letters: RegExp, em: number])[] = [
  [/[\u2009]/, 0.2],
  [/[ijlI' ]/, 0.32],
  [/[.,:;|/\\]/, 0.34],
  [/[ftJ()[\]-]/, 0.4],
  [/[r]/, 0.42],
  [/[szcL°]/, 0.56],
  [/[kvxyFPTY]/, 0.62],
  [/[abdeghnopquES0-9]/, 0.64],
  [/[ABCKRVXZ]/, 0.7],
  [/[DGHNOQU]/, 0.79],
  [/[w±−+=<>×]/, 0.84],
];
/** Wide letters, and all that is not listed. */
const WIDEST_EM = 1;
const BOLD = 1.13;
/** Where a line may end. */
const BREAK = /(?<!±) (?!±|(?<=\d )(?:mm|Hz|px|ms|%)(?![a-z]))/;

/**
 * Estimates how wide a line of text will be, without the font.
 * @param text - One line.
 * @param sizePx - Font size.
 * @param bold - Whether it is bold. @default false
 * @returns Width in px, on the generous side.
 */
export function textWidth(text: string, sizePx: number, bold = false): number {
  let em = 0;
  for (const letter of text) em += WIDTHS.find(([letters]) => letters.test(letter))?.[1] ?? WIDEST_EM;
  return em * sizePx * (bold ? BOLD : 1);
}

/**
 * Breaks text into lines that fit a width, between words; a ± stays with both its numbers, a unit with its
 * number, and a word that is too long for a line of its own is broken inside.
 * @param text - Text of any length.
 * @param widthPx - Width to fit.
 * @param sizePx - Font size.
 * @param bold - Whether it is bold. @default false
 * @returns Lines, at least one for a text with words in it.
 */
export function wrapText(text: string, widthPx: number, sizePx: number, bold = false): readonly string[] {
  const fits = (line: string) => textWidth(line, sizePx, bold) <= widthPx;
  const lines: string[] = [];
  let line = '';
  const words = text
    .replaceAll(/[ \t\n]+/g, ' ')
    .split(BREAK)
    .filter((word) => word !== '');
  for (const word of words.flatMap((whole) => (fits(whole) ? [whole] : breakWord(whole, fits)))) {
    const longer = line === '' ? word : `${line} ${word}`;
    if (line === '' || fits(longer)) {
      line = longer;
    } else {
      lines.push(line);
      line = word;
    }
  }
  return line === '' ? lines : [...lines, line];
}

function breakWord(word: string, fits: (part: string) => boolean): readonly string[] {
  const parts: string[] = [];
  let part = '';
  for (const letter of word) {
    if (part !== '' && !fits(part + letter)) {
      parts.push(part);
      part = '';
    }
    part += letter;
  }
  return [...parts, part];
}
