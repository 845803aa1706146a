import { describe, expect, test } from 'vitest';
import { bridge, findGlare } from '../../src/profiles/glare.js';
import { drawnCase, measurePlaced } from '../helpers/drawn.js';
import { expectClose } from '../helpers/closeTo.js';
import { populationCase } from '../synth/population.js';
import { truthOf } from '../synth/truth.js';

/** Half as bright as white, 60 slices of 0.2 mm and 320 bins of 0.25 mm, with white cells where told. */
function slices(isWhite: (xMm: number, upMm: number) => boolean) {
  const rows = Array.from({ length: 60 }, (_, i) =>
    Float64Array.from({ length: 320 }, (_value, k) =>
      isWhite((k + 0.5) * 0.25, (i + 0.5) * 0.2) ? Math.log(0.99) : Math.log(0.5),
    ),
  );
  return { rows, sliceMm: 0.2, stepMm: 0.25 };
}

describe('findGlare', () => {
  test('a patch is told where it lies, and left out with a margin', () => {
    const { patches, mask } = findGlare(slices((x, up) => x > 20 && x < 30 && up > 4 && up < 6));
    expect(patches).toHaveLength(1);
    const { fromMm, toMm, lowMm, highMm } = patches[0]!;
    expect([fromMm, toMm, lowMm, highMm].map((mm) => Number(mm.toFixed(2)))).toEqual([20, 30, 4, 6]);
    // 1 mm aside and 0.6 mm above and below: 12 mm of wall by 3.2 mm of height.
    const hidden = mask!.reduce((sum, row) => sum + row.reduce((all, is) => all + is, 0), 0);
    expectClose(hidden * 0.25 * 0.2, 12 * 3.2, { abs: 1e-9, why: 'whole bins and slices' });
  });

  test('crests of ripples that burn out are no patch, and neither is a white scratch', () => {
    expect(findGlare(slices((x) => x % 3 < 1.5)).patches).toEqual([]);
    expect(findGlare(slices((x) => x > 20 && x < 23.5)).patches).toEqual([]);
  });

  test('what hangs together is one patch, two apart are two', () => {
    const two = slices((x, up) => up < 6 && ((x > 10 && x < 16) || (x > 40 && x < 46)));
    expect(findGlare(two).patches).toHaveLength(2);
    const one = slices((x, up) => (up < 6 && x > 10 && x < 16) || (up < 3 && x >= 16 && x < 46));
    expect(findGlare(one).patches).toHaveLength(1);
  });
});

test('a bridge runs straight from rim to rim, and level from an end', () => {
  const values = Float64Array.from({ length: 12 }, (_, i) => i);
  const missing = Uint8Array.from([1, 1, 0, 0, 0, 1, 1, 1, 0, 0, 0, 1]);
  bridge(values, missing, 1);
  expect([...values]).toEqual([2, 2, 2, 3, 4, 5, 6, 7, 8, 9, 10, 10]);
});

describe('on a drawn face', () => {
  const clear = populationCase('main', 2016);
  const measure = async (glare?: {
    xMm: number;
    heightMm: number;
    halfWidthMm: number;
    halfHeightMm: number;
  }) => {
    const flaws = {
      ...clear.recipe.flaws,
      ...(glare === undefined ? {} : { glare: { ...glare, light: 15 } }),
    };
    const { decision, evidence } = measurePlaced(
      await drawnCase({ ...clear, recipe: { ...clear.recipe, flaws } }),
    );
    if (decision.proposal.state !== 'proposed') throw new Error(JSON.stringify(decision.proposal));
    return { hz: decision.proposal.combined, glare: evidence.profiles?.glare ?? [] };
  };

  test('a patch on the corner, where ripples are strongest, takes its heights out and imitates no null', async () => {
    const without = await measure();
    const { hz } = await measure({ xMm: 5, heightMm: 38, halfWidthMm: 8, halfHeightMm: 6 });
    expect(Math.abs(hz.value - without.hz.value)).toBeLessThan(without.hz.high95 - without.hz.value);
  });

  test.each([
    { xMm: 14, heightMm: 20, halfWidthMm: 7, halfHeightMm: 4 },
    { xMm: 8, heightMm: 34, halfWidthMm: 5, halfHeightMm: 5 },
  ])(
    'a patch $xMm mm behind the corner, $heightMm mm up, moves the result by less than its ±',
    async (patch) => {
      const without = await measure();
      const { hz, glare } = await measure(patch);
      expect(without.glare).toEqual([]);
      expect(glare).toHaveLength(1);
      expect(Math.abs((glare[0]!.lowMm + glare[0]!.highMm) / 2 - patch.heightMm)).toBeLessThan(1);
      expect(Math.abs(hz.value - without.hz.value)).toBeLessThan(without.hz.high95 - without.hz.value);
      const { nullHz } = truthOf(clear.recipe);
      expect(nullHz).toBeGreaterThan(hz.low95);
      expect(nullHz).toBeLessThan(hz.high95);
    },
  );
});
