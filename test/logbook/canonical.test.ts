import { expect, test } from 'vitest';
import { canonicalJson } from '../../src/logbook/canonical.js';
import { readJson } from '../helpers/readReference.js';

// Source: RFC 8785, test/reference/rfc8785.json.
const vectors = readJson('rfc8785.json') as {
  readonly numbers: readonly (readonly [bits: string, text: string | null])[];
  readonly example: string;
  readonly exampleBytes: string;
  readonly sorting: string;
  readonly sorted: readonly string[];
};

test.each(vectors.numbers)('a double of bits %s is written %s (appendix B)', (bits, text) => {
  const value = Buffer.from(bits, 'hex').readDoubleBE();
  if (text === null) expect(() => canonicalJson(value)).toThrow(/plain data/);
  else expect(canonicalJson(value)).toBe(text);
});

test('the example of section 3.2 comes out byte for byte', () => {
  const text = canonicalJson(JSON.parse(vectors.example));
  expect(Buffer.from(text).toString('hex')).toBe(vectors.exampleBytes);
});

test('names are sorted by UTF-16 units (section 3.2.3)', () => {
  const text = canonicalJson(JSON.parse(vectors.sorting));
  // Whole numbers come first in an object that is parsed; in the text they do not.
  const values = [...text.matchAll(/:"([^"]*)"/g)].map((match) => match[1]);
  expect(values).toEqual(vectors.sorted);
});

test('what JSON cannot hold is refused', () => {
  for (const value of [undefined, NaN, { a: Infinity }, '\ud800', () => 1]) {
    expect(() => canonicalJson(value)).toThrow(TypeError);
  }
  expect(canonicalJson({ b: undefined, a: 1 })).toBe('{"a":1}');
});
