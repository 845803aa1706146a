import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect } from 'vitest';

const folder = (name: string) => fileURLToPath(new URL(name, import.meta.url));

/**
 * Compares a drawing with the one that was looked at and kept: one element per line, numbers cut to two
 * decimals. When they differ, the new one is written to test/output; look at it, and if it is meant, move it
 * to test/report/golden.
 * @param name - Name of the golden file without its ending.
 * @param svg - The drawing.
 */
export function expectGolden(name: string, svg: string): void {
  const drawn = `${svg.replaceAll('><', '>\n<').replaceAll(/(\d\.\d{2})\d+/g, '$1')}\n`;
  let kept: string | undefined;
  try {
    kept = readFileSync(folder(`golden/${name}.svg`), 'utf8');
  } catch {
    // Reported below like any other difference.
  }
  if (drawn === kept) return;
  mkdirSync(folder('../output'), { recursive: true });
  writeFileSync(folder(`../output/${name}-changed.svg`), drawn);
  const lines = drawn.split('\n');
  const line = (kept ?? '').split('\n').findIndex((text, i) => text !== lines[i]);
  expect.fail(
    kept === undefined
      ? `There is no test/report/golden/${name}.svg; the drawing is in test/output/${name}-changed.svg.`
      : `${name} is not drawn as it was, from line ${line + 1} on; see test/output/${name}-changed.svg.`,
  );
}

/**
 * Compares with the text that was read and kept. When they differ, the new one is written to test/output; read it,
 * and if it is meant, move it to test/report/golden.
 * @param name - Name of the golden file without its ending.
 * @param text - The text.
 */
export function expectGoldenText(name: string, text: string): void {
  const file = new URL(`golden/${name}.txt`, import.meta.url);
  let kept: string | undefined;
  try {
    kept = readFileSync(file, 'utf8');
  } catch {
    // Told below like any other difference.
  }
  if (kept !== text) {
    const output = new URL('../output/', import.meta.url);
    mkdirSync(output, { recursive: true });
    writeFileSync(new URL(`${name}.txt`, output), text);
  }
  expect(text, `${name}: see test/output/${name}.txt`).toBe(kept);
}
