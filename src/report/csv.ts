import type { Reading } from '../reading/schema.js';

type Height = Reading['heights'][number];

/** Column name with its unit, and how to read it off a height. */
const COLUMNS: readonly (readonly [name: string, read: (height: Height) => number | undefined])[] = [
  ['height_mm', (h) => h.heightMm],
  ['layer', (h) => h.layer],
  ['ladder_hz', (h) => h.ladderHz],
  ['acceleration_mm_per_s2', (h) => h.accelerationMmPerS2],
  ['spacing_mm', (h) => h.spacingMm?.value],
  ['spacing_sd_mm', (h) => h.spacingMm?.sd],
  ['frequency_hz', (h) => h.frequencyHz?.value],
  ['frequency_sd_hz', (h) => h.frequencyHz?.sd],
  ['amplitude', (h) => h.amplitude?.value],
  ['amplitude_sd', (h) => h.amplitude?.sd],
  ['signed_amplitude', (h) => h.signedAmplitude],
  ['fitted_amplitude', (h) => h.fittedAmplitude],
  ['noise', (h) => h.noise],
  ['significant', (h) => (h.significant ? 1 : 0)],
];

/**
 * One row per height, as comma-separated values after RFC 4180; a value that could not be measured is empty.
 * @param reading - The reading.
 * @returns Header and rows with CRLF line ends.
 */
export function heightsCsv(reading: Reading): string {
  const header = COLUMNS.map(([name]) => name).join(',');
  const rows = reading.heights.map((height) =>
    COLUMNS.map(([, read]) => {
      const value = read(height);
      return value === undefined ? '' : String(Number(value.toPrecision(7)));
    }).join(','),
  );
  return [header, ...rows, ''].join('\r\n');
}
