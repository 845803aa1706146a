import { ACCENT, DARK_TONE, HAIRLINE, INK, LIGHT_TONE, NOISE_GREY, PAPER, SOFT_INK } from './ink.js';

/** Paper and ink on a dark screen: the same order of lightness the other way round; 7 to 1 for second-rank text. */
const DARK: Readonly<Record<string, string>> = {
  [PAPER]: '#16191f',
  [INK]: '#e9e7df',
  [SOFT_INK]: '#a8adb6',
  [HAIRLINE]: '#454a54',
  [DARK_TONE]: '#9fb0c6',
  [LIGHT_TONE]: '#4a5666',
  [NOISE_GREY]: '#7b7d82',
  [ACCENT]: '#e58ab5',
};
const COLOURS = [
  ['paper', PAPER],
  ['ink', INK],
  ['soft', SOFT_INK],
  ['hairline', HAIRLINE],
  ['dark', DARK_TONE],
  ['light', LIGHT_TONE],
  ['noise', NOISE_GREY],
  ['accent', ACCENT],
] as const;

/**
 * The colours as custom properties (`--paper`, `--ink`, `--soft`, `--hairline`, `--dark`, `--light`, `--noise`,
 * `--accent`), light or dark as the reader's system is, and the rules that turn charts with them: a chart has its colours
 * in its attributes, and the same names turn them dark.
 * @returns The beginning of a style sheet.
 */
export function inkStyle(): string {
  const named = (of: (colour: string) => string) =>
    COLOURS.map(([name, colour]) => `--${name}:${of(colour)}`).join(';');
  const inCharts = COLOURS.flatMap(([name, colour]) => [
    `svg [fill="${colour}"]{fill:var(--${name})}`,
    `svg [stroke="${colour}"]{stroke:var(--${name})}`,
  ]).join('\n');
  return `:root{color-scheme:light dark;${named((colour) => colour)}}
@media screen and (prefers-color-scheme:dark){:root{${named((colour) => DARK[colour] ?? colour)}}}
${inCharts}`;
}
