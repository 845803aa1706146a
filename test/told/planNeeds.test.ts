import { expect, test } from 'vitest';
import { planNeeds } from '../../src/told/planNeeds.js';
import { syncInputErrorOf } from '../helpers/thrown.js';

const TOLD = { maxAcceleration: '6000', maxSpeed: '200', layerHeight: '0.2', nozzle: '0.4', bed: '220x220' };

test.each([
  // 200 mm/s are 12000 mm/min: 60 s in a minute.
  [{ maxSpeed: '12000' }, /^--max-speed is given as "12000", which looks like mm\/min .*200 mm\/s/],
  [{ maxAcceleration: '1.500' }, /^--max-acceleration is given as "1.500", which looks like m\/s² .*1500/],
  [{ idea: '40,0.042' }, /^--idea is given as "0.042", which looks like kHz .*42 Hz/],
  [{ slot: '0' }, /^--slot is given as "0"/],
  [{ nozzle: '-0.4' }, /^--nozzle is given as "-0.4"/],
  [{ bed: '220x-220' }, /^--bed is given as "-220"/],
  [{ layerHeight: '0,2' }, /^--layer-height is given as "0,2", which is no number/],
  [{ axes: 'X,Y,Z' }, /^--axes is given as "X,Y,Z", which names 3 axes/],
  [{ axes: 'X,X' }, /the same axis twice/],
  [{ axes: 'x,X' }, /the same axis twice/],
  [{ axes: 'left motor,Y' }, /has a space in it/],
])('%j is a mistake that is named', (typed, message) => {
  const error = syncInputErrorOf(() => planNeeds({ ...TOLD, ...typed }));
  expect(error).toMatchObject({ code: 'usage' });
  expect(error.message).toMatch(message);
});

test('what is told is taken as it stands', () => {
  expect(planNeeds({ ...TOLD, axes: 'X, bed', cornerSpeed: '0', idea: '42,36' })).toMatchObject({
    axes: ['X', 'bed'],
    maxSpeedMmPerS: 200,
    bedMm: [220, 220],
    cornerSpeedMmPerS: 0,
    ideaHz: [42, 36],
  });
});
