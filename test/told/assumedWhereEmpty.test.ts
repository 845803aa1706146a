import { expect, test } from 'vitest';
import { assumedWhereEmpty } from '../../src/told/assumedWhereEmpty.js';

test('what a form leaves empty is assumed as a reading says it', () => {
  // Source: DESIGN 3 for the damping ratio (customary, no source); the others are the project's own.
  expect(assumedWhereEmpty()).toEqual({
    acceleration: '4000 mm/s²',
    cornerSpeed: '7 mm/s',
    shaper: 'ZV',
    damping: '0.15',
    hzMeans: 'natural',
    alongWall: 'as-ladder',
  });
});
