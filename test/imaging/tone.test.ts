import fc from 'fast-check';
import { expect, test } from 'vitest';
import { linearLut, linearToSrgb, srgbToLinear } from '../../src/imaging/tone.js';
import { expectClose } from '../helpers/closeTo.js';
import { readCsv } from '../helpers/readReference.js';

// Source: IEC 61966-2-1, computed apart from this code: test/reference/srgb.csv, twelve decimals.
const rows = readCsv('srgb.csv', ['code', 'linear']);

test('srgbToLinear agrees with the standard at every 8-bit code', () => {
  expect(rows).toHaveLength(256);
  expectClose(
    rows.map(({ code }) => srgbToLinear(code / 255)),
    rows.map(({ linear }) => linear),
    { abs: 6e-13, why: 'twelve printed decimals' },
  );
});

test('linearToSrgb agrees with the standard at 18 % and 50 %', () => {
  // Source: REFERENCES §6: code 117.65 and 187.52.
  expectClose(255 * linearToSrgb(0.18), 117.65, { abs: 5e-3, why: 'printed digits' });
  expectClose(255 * linearToSrgb(0.5), 187.52, { abs: 5e-3, why: 'printed digits' });
});

test('the two are inverses', () => {
  fc.assert(
    fc.property(fc.double({ min: 0, max: 1, noNaN: true }), (code) => {
      // The standard's two branches meet to 1e-8 only.
      expectClose(linearToSrgb(srgbToLinear(code)), code, { abs: 5e-8, why: 'the standard’s rounded knee' });
    }),
  );
});

test('the tables hold every code', () => {
  expectClose(
    linearLut(8),
    rows.map(({ linear }) => linear),
    { rel: 6e-8, abs: 6e-13, why: 'float32' },
  );
  const fine = linearLut(16);
  expect(fine).toHaveLength(65536);
  // 257 · code of 16 bits is the same light as code of 8 bits.
  expectClose(
    rows.map(({ code }) => fine[257 * code]!),
    rows.map(({ linear }) => linear),
    { rel: 6e-8, abs: 6e-13, why: 'float32' },
  );
});
