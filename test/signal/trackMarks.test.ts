import { describe, expect, test } from 'vitest';
import { positionOn } from '../../src/signal/projectiveLine.js';
import { trackMarks } from '../../src/signal/trackMarks.js';
import { fastNormals } from '../synth/random.js';
import { expectClose } from '../helpers/closeTo.js';

/** Dark lines a fifth of a division wide, averaged over samples, at the places of a projective map. */
function profileOf(
  at: (k: number) => number,
  samples: number,
  missing: readonly number[] = [],
): Float64Array {
  const profile = new Float64Array(samples).fill(0.6);
  for (let k = 0; at(k) < samples; k += 1) {
    if (missing.includes(k)) continue;
    const half = (at(k + 0.5) - at(k - 0.5)) / 10;
    for (let i = Math.max(0, Math.floor(at(k) - half)); i < Math.min(samples, at(k) + half); i += 1) {
      const covered = Math.min(i + 1, at(k) + half) - Math.max(i, at(k) - half);
      profile[i] = profile[i]! - 0.4 * Math.max(0, covered);
    }
  }
  // Slow light, as on a desk.
  return profile.map((value, i) => value * (1 + (0.3 * i) / samples));
}

describe('trackMarks', () => {
  // Source: closed form, the map that the profile was drawn with.
  test.each([
    ['3.4 samples, near the sampling limit', 3.4, 0],
    ['17 samples under perspective', 17, 0.0012],
    ['45 samples', 45, -0.0008],
  ])('%s', (_, spacing, c) => {
    const at = (k: number): number => (9.3 + spacing * k) / (1 + c * k);
    const marks = trackMarks(profileOf(at, 1800))!;
    expect(marks.share).toBe(1);
    expect(marks.numbers.length).toBeGreaterThan(20);
    const first = marks.numbers[0]!;
    const start = Math.round((marks.positions[0]! - 9.3) / spacing);
    expectClose(
      marks.numbers.map((k) => positionOn(marks.line, k)),
      marks.numbers.map((k) => at(start + k - first)),
      { abs: 0.06 + 0.002 * spacing, why: 'whole samples under a line of few of them; slow light' },
    );
  });

  test('three marks that are not there shift no number', () => {
    const at = (k: number): number => 12 + 11.7 * k;
    const marks = trackMarks(profileOf(at, 900, [30, 31, 32]))!;
    const missing = marks.numbers.at(-1)! - marks.numbers[0]! + 1 - marks.numbers.length;
    expect(missing).toBeGreaterThan(0);
    expectClose(
      marks.positions.at(-1)! - marks.positions[0]!,
      11.7 * (marks.numbers.at(-1)! - marks.numbers[0]!),
      {
        abs: 0.1,
        why: 'closed form',
      },
    );
  });

  test.each([
    ['nothing', new Float64Array(600)],
    ['an even slope', Float64Array.from({ length: 600 }, (_, i) => i / 600)],
    ['noise', new Float64Array(2000).map(fastNormals(12))],
    ['too little', profileOf((k) => 5 + 12 * k, 100)],
  ])('%s holds no marks', (_, profile) => {
    expect(trackMarks(profile)).toBeUndefined();
  });
});
