import { describe, expect, test } from 'vitest';
import { findingRows, timesToDecode } from '../../scripts/finding/table.js';
import type { SceneOutcome } from '../../scripts/finding/searchScene.js';
import { checkPrintRecord } from '../../src/print/record.js';
import { compose } from '../synth/scene/compose.js';
import { SCENE_KINDS } from '../synth/scene/kinds.js';
import { recordOf } from '../synth/scene/truth.js';

describe('drawn scenes', () => {
  test.each(SCENE_KINDS)('%s: its record is one that the product reads', (kind) => {
    for (const seed of [1, 2, 3]) {
      const record = recordOf(compose(seed, kind).scene, seed);
      // Source: the schema that the product publishes, schema/print-record.schema.json.
      expect(checkPrintRecord(record)).toMatchObject({ axis: record['axis'], face: record['face'] });
    }
  });
});

describe('rows of the bench', () => {
  const outcome = (more: Partial<SceneOutcome>): SceneOutcome => ({
    kind: 'plain',
    seed: 1,
    verdict: 'right',
    state: 'found',
    missing: 0,
    timeToDecode: 1,
    ...more,
  });

  test('count verdicts by kind, and take the rms over faces that are right', () => {
    const rows = findingRows([
      outcome({ corners: { rmsPx: 3, worstPx: 4 }, cornerSdPx: 1, timeToDecode: 0.5 }),
      outcome({ corners: { rmsPx: 4, worstPx: 5 }, cornerSdPx: 7, timeToDecode: 2 }),
      outcome({ verdict: 'inexact', corners: { rmsPx: 50, worstPx: 90 }, cornerSdPx: 11 }),
      outcome({ kind: 'no-tower', verdict: 'refused', state: 'not-found' }),
      outcome({ kind: 'no-tower', verdict: 'wrong' }),
    ]);
    expect(rows.map((row) => row.kind)).toEqual(['plain', 'no-tower', 'all']);
    // Source: closed form, √((3² + 4²) ÷ 2) and √2 · √((1² + 7²) ÷ 2).
    expect(rows[0]).toMatchObject({
      scenes: 3,
      right: 2,
      inexact: 1,
      // Of the first 3 > 3 · √2 · 1 does not hold, of the third 50 > 3 · √2 · 11 does.
      tooSure: 1,
      wrong: 0,
      refused: {},
      expected: 'found',
    });
    expect(rows[0]!.cornerRmsPx).toBeCloseTo(Math.sqrt(12.5), 12);
    expect(rows[0]!.claimedRmsPx).toBeCloseTo(Math.sqrt(50), 12);
    expect(rows[0]!.timeToDecode.median).toBe(1);
    expect(rows[1]).toMatchObject({ right: 0, wrong: 1, refused: { 'not-found': 1 }, expected: 'refused' });
    expect(rows[1]!.cornerRmsPx).toBeUndefined();
    expect(rows[2]).toMatchObject({ scenes: 5, right: 2, inexact: 1, wrong: 1 });
  });

  test('times of faces that were found and of refusals are told apart', () => {
    const times = [1, 2, 4].map((timeToDecode) => outcome({ timeToDecode }));
    const refusals = [3, 5, 9].map((timeToDecode) => outcome({ verdict: 'refused', timeToDecode }));
    // Source: closed form, the middle one of three, and the largest beyond the ninth tenth.
    expect(timesToDecode([...times, ...refusals])).toEqual({
      found: { median: 2, tenth: 4 },
      refused: { median: 5, tenth: 9 },
    });
    expect(timesToDecode(times)).toEqual({ found: { median: 2, tenth: 4 } });
  });
});
