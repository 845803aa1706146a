import { expect, test } from 'vitest';
import { measured, photoPath } from '../helpers/measured.js';
import { readFileSync } from 'node:fs';

/** Ray-traced with a slot that narrows as v · 0.5 / f_s, and whose right flank is lit. */
const slotTruth = (
  JSON.parse(readFileSync(photoPath('red-ruler.truth.json'), 'utf8')) as {
    readonly slot: {
      readonly centre_from_leading_corner_mm: number;
      readonly closes_below_height_mm: number;
      readonly rows: readonly (readonly [heightMm: number, hz: number, widthMm: number])[];
    };
  }
).slot;

test('the slot of red-ruler: width over the height, where it closes, and the wall behind it', async () => {
  const { reading } = await measured('red-ruler');
  const [slot] = reading.slots!;
  // Source: truth of the ray-traced scene, testimages/README.md.
  expect(Math.abs(slot!.centreMm! - slotTruth.centre_from_leading_corner_mm)).toBeLessThan(0.2);
  const { heightMm, closed, ladderHz } = slot!.closes!;
  expect(closed).toBe('below');
  expect(Math.abs(heightMm.value - slotTruth.closes_below_height_mm)).toBeLessThan(2.6 * heightMm.sd);
  expect(ladderHz).toBeGreaterThan(18);
  const open = slot!.heights.filter(({ widthMm }) => widthMm.value > 0);
  const errors = open.map(({ heightMm: atMm, widthMm }) => {
    const near = slotTruth.rows.reduce((a, b) => (Math.abs(b[0] - atMm) < Math.abs(a[0] - atMm) ? b : a));
    return { mm: Math.abs(widthMm.value - near[2]), sds: Math.abs(widthMm.value - near[2]) / widthMm.sd };
  });
  expect(open.length).toBeGreaterThan(45);
  // At some heights the lit flank is taken for the wall.
  expect(errors.filter(({ mm }) => mm < 0.2).length).toBeGreaterThan(0.85 * open.length);
  expect(errors.filter(({ sds }) => sds < 2.6).length).toBeGreaterThan(0.85 * open.length);
  expect(reading.walls.map(({ use }) => use)).toEqual(['used', 'used']);
  expect(reading.warnings.map(({ code }) => code)).not.toContain('other-walls-unused');
});
