import { describe, expect, test } from 'vitest';
import { checkScanTag } from '../../src/photo/scanTag.js';
import { syncInputErrorOf } from '../helpers/thrown.js';

const scan = (dotsPerInch: number | undefined) => ({ kind: 'dpi' as const, dotsPerInch });

describe("a scan's resolution", () => {
  test('by a tag that is not there is asked for', () => {
    const error = syncInputErrorOf(() => {
      checkScanTag({}, [{ kind: 'face' }, scan(undefined)]);
    });
    expect(error).toMatchObject({ code: 'record-field', field: 'reference.dotsPerInch' });
    expect(error.advice).toMatch(/dotsPerInch \(--dpi\)/);
  });

  test.each([
    ['told', {}, [scan(600)]],
    ['tagged', { dotsPerInch: 600 }, [scan(undefined)]],
    ['not counted on', {}, [{ kind: 'face' as const }]],
  ])('is not missed when it is %s', (_, info, references) => {
    expect(() => {
      checkScanTag(info, references);
    }).not.toThrow();
  });
});
