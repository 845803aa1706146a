import { expect, test } from 'vitest';
import { readWas } from '../../src/told/readWas.js';
import { syncInputErrorOf } from '../helpers/thrown.js';

test.each([
  ['41.0', { hz: 41 }],
  ['41', { hz: 41 }],
  ['.5', { hz: 0.5 }],
  ['41.0+-0.4', { hz: 41, plusMinusHz: 0.4 }],
  ['41.0+/-0.4', { hz: 41, plusMinusHz: 0.4 }],
  // As the report prints it.
  ['41.0 Hz ± 0.4', { hz: 41, plusMinusHz: 0.4 }],
  ['41.0 ± 0.4 Hz', { hz: 41, plusMinusHz: 0.4 }],
] as const)('%s', (text, wanted) => {
  expect(readWas(text, true)).toEqual(wanted);
});

test.each(['', 'fast', '0', '-41', '41-0.4', '41+-', '41 0.4', '41,0', '41e3'])(
  '"%s" is a mistake',
  (text) => {
    const error = syncInputErrorOf(() => readWas(text, true));
    expect(error).toMatchObject({ code: 'usage' });
  },
);

test('without --spacing-only there is nothing to hold it against', () => {
  expect(syncInputErrorOf(() => readWas('41', false))).toMatchObject({ code: 'usage' });
  expect(readWas(undefined, false)).toBeUndefined();
});
