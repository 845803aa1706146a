import { expect, test } from 'vitest';
import { differencesOf } from '../../src/logbook/differences.js';
import { proposedReading } from '../report/fixtures.js';

const reading = proposedReading();

test('versions, and the hash of a photo without its position, are no difference', () => {
  const photos = [{ ...reading.photos[0]!, sha256: '0'.repeat(64), bytes: 7 }];
  expect(differencesOf({ ...reading, versions: { stillband: '0.0.1' }, photos }, reading)).toEqual([]);
  const [photo] = photos;
  expect(differencesOf({ ...reading, photos: [{ ...photo, widthPx: 3999 }] }, reading)).toEqual([
    { path: 'photos[0].widthPx', was: 3999, now: 4000 },
  ]);
});

test('numbers may differ by 1e-9 and not by more; words, absent and added parts are named', () => {
  const at = (factor: number) => ({
    ...reading,
    ringing: { ...reading.ringing!, signalToNoise: reading.ringing!.signalToNoise * factor },
  });
  expect(differencesOf(at(1 + 0.9e-9), reading)).toEqual([]);
  expect(differencesOf(at(1 + 1.1e-9), reading)).toMatchObject([{ path: 'ringing.signalToNoise' }]);
  const { layerLines, ...without } = reading;
  expect(differencesOf(without, reading)).toEqual([{ path: 'layerLines', now: layerLines }]);
  expect(differencesOf({ ...reading, old: 1 }, reading)).toEqual([{ path: 'old', was: 1 }]);
  expect(differencesOf(null, reading)).toHaveLength(1);
});
