import { describe, expect, test } from 'vitest';
import { makeProfiles, slicesOf } from '../../src/profiles/makeProfiles.js';
import { findPenLines, paintOver, type PenLine } from '../../src/profiles/penLine.js';
import { expectClose } from '../helpers/closeTo.js';
import { drawn, measurePlaced, RECIPE } from '../helpers/drawn.js';
import type { Flaws, Stroke } from '../synth/flaws.js';
import { faceUnpenned, facePenned } from '../synth/penned.js';
import type { FaceRecipe } from '../synth/recipe.js';

/** A clear face, 12 px per mm; its ripples vanish about 22 mm up. */
const FACE: FaceRecipe = {
  ...RECIPE,
  pxPerMm: 12,
  noise: 0.03,
  texture: { widthSlope: 0.003, widthMm: 0.6, layerJitter: 0.03, grain: 0.004, grooves: 0.15 },
};
const withFlaws = (flaws: Flaws): FaceRecipe => ({ ...FACE, flaws });
const linesOn = (recipe: FaceRecipe): readonly PenLine[] => {
  const { face, settings } = drawn(recipe);
  return makeProfiles(face, settings).penLines;
};
const gaps = [0, 1, 2, 3, 4, 5].map((i) => [3 + 14 * i, 7 + 14 * i] as const);

/** Source of all places: where the line was drawn. */
describe('a line drawn by hand', () => {
  test.each<[string, Stroke, Partial<FaceRecipe>]>([
    ['dark', { heightMm: 22.4, widthMm: 0.7 }, {}],
    ['light', { heightMm: 31.1, widthMm: 0.9, ink: 1.9 }, {}],
    ['faint', { heightMm: 12.3, widthMm: 0.8, ink: 0.62 }, {}],
    ['thin', { heightMm: 40.2, widthMm: 0.3, ink: 0.3 }, {}],
    ['broad', { heightMm: 17.7, widthMm: 2, ink: 0.4 }, {}],
    ['rising', { heightMm: 25, widthMm: 0.6, slantDeg: 3 }, {}],
    ['falling steeply', { heightMm: 25, widthMm: 0.8, slantDeg: -5 }, {}],
    ['broken', { heightMm: 22.9, widthMm: 0.6, gaps }, {}],
    ['wavering', { heightMm: 22.9, widthMm: 0.6, wobbleMm: 0.12, slantDeg: 0.8 }, {}],
    ['broken, slanted and light', { heightMm: 35, widthMm: 0.8, ink: 1.8, slantDeg: -1.5, gaps }, {}],
    ['on a noisy face', { heightMm: 20, widthMm: 0.7, slantDeg: 1 }, { noise: 0.12 }],
  ])('that is %s is found', (_, stroke, change) => {
    const lines = linesOn({ ...withFlaws({ penLines: [stroke] }), ...change });
    expect(lines).toHaveLength(1);
    const { heightMm, heightSdMm, widthMm, slantRad, ink, confidence } = lines[0]!;
    expectClose(heightMm, stroke.heightMm, { abs: 0.12, why: 'half a layer of 0.25 mm' });
    expect(heightSdMm).toBeLessThan(0.15);
    expectClose(widthMm, stroke.widthMm, { abs: 0.25, why: 'a layer' });
    expectClose((slantRad * 180) / Math.PI, stroke.slantDeg ?? 0, { abs: 0.15, why: '0.2 mm over the wall' });
    expect(ink).toBe((stroke.ink ?? 0.2) < 1 ? 'dark' : 'light');
    expect(confidence).toBeGreaterThan(0.9);
  });

  test('several are told, the surest first', () => {
    const bold = { heightMm: 14, widthMm: 0.9, slantDeg: 1 };
    const faint = { heightMm: 33, widthMm: 0.5, ink: 0.72 };
    const lines = linesOn(withFlaws({ penLines: [faint, bold] }));
    expect(lines).toHaveLength(2);
    expectClose(lines[0]!.heightMm, 14, { abs: 0.12, why: 'half a layer' });
    expectClose(lines[1]!.heightMm, 33, { abs: 0.12, why: 'half a layer' });
    expect(lines[1]!.confidence).toBeLessThan(lines[0]!.confidence);
  });

  test('six alike are a pattern, and none of them is told', () => {
    const penLines = [8, 15, 22, 29, 36, 43].map((heightMm) => ({ heightMm, widthMm: 0.7 }));
    expect(linesOn(withFlaws({ penLines }))).toEqual([]);
  });
});

describe('what is no line', () => {
  const level = (lengthMm: number) => ({ xMm: 30, heightMm: 22.1, lengthMm, angleDeg: 2 });
  test.each<[string, Flaws]>([
    ['nothing but ripples that vanish', {}],
    ['a string', { scratches: [{ ...level(28), widthMm: 0.2, depth: 0.5 }] }],
    ['a scratch across', { scratches: [{ ...level(70), angleDeg: 14, widthMm: 0.4, depth: -0.6 }] }],
    ['a weak layer', { weakLayers: [{ heightMm: 22.1, depth: -0.2 }] }],
    ['the edge of a shadow', { shadow: { heightMm: 22, depth: -0.5, softMm: 0.4 } }],
    ['layers that lie beside the others', { shift: { heightMm: 22, byMm: 0.5 } }],
    ['a brim', { brimMm: 0.9 }],
    ['a slot', { slot: { fromMm: 40, widthMm: 3 } }],
    ['a broad band', { penLines: [{ heightMm: 22, widthMm: 3.4 }] }],
    ['less than half a line', { penLines: [{ heightMm: 22, widthMm: 0.7, gaps: [[30, 80]] }] }],
    ['a line that is too steep', { penLines: [{ heightMm: 22, widthMm: 0.7, slantDeg: 12 }] }],
  ])('%s', (_, flaws) => {
    expect(linesOn(withFlaws(flaws))).toEqual([]);
  });

  test('faces with scratches, strings, seams, stains, shadows and uneven layers have none', () => {
    // test/whole/penLine.test.ts draws a hundred; these are the first of them, at less px.
    const found = [1, 2, 3, 4].map((seed) => linesOn({ ...faceUnpenned(seed).recipe, pxPerMm: 12 }));
    expect(found).toEqual([[], [], [], []]);
    const { recipe, strokes } = facePenned(2);
    expect(linesOn({ ...recipe, pxPerMm: 12 })).toHaveLength(strokes.length);
  });
});

describe('ink and the measurement', () => {
  /** What is left out by itself changes a reading, by a share of its uncertainty: here that is small. */
  const clear = {
    ...FACE,
    noise: 0.01,
    texture: { widthSlope: 0.001, widthMm: 0.6, layerJitter: 0.03, grain: 0.002, grooves: 0.15 },
  };
  const { decision } = measurePlaced(drawn(clear));
  const bare = decision.proposal;
  if (bare.state !== 'proposed') throw new Error('the drawn face must be proposed');
  test.each<[string, Stroke]>([
    ['dark at the best height', { heightMm: bare.bestHeightMm.value, widthMm: 0.7 }],
    ['light, slanted', { heightMm: 24, widthMm: 0.8, ink: 1.8, slantDeg: 2 }],
    ['faint, falling', { heightMm: 20, widthMm: 1, ink: 0.6, slantDeg: -4 }],
    ['broken', { heightMm: 27, widthMm: 0.6, ink: 0.35, slantDeg: 0.5, gaps }],
    ['broad, wavering', { heightMm: 30, widthMm: 1.6, ink: 0.3, wobbleMm: 0.15 }],
  ])('a line that is %s changes the reading by less than 0.1 Hz', (_, stroke) => {
    const { proposal } = measurePlaced(drawn({ ...clear, flaws: { penLines: [stroke] } })).decision;
    if (proposal.state !== 'proposed') throw new Error('the drawn face must be proposed');
    const limit = { abs: 0.1, why: 'issue 8' };
    expectClose(proposal.frequencyHz.value, bare.frequencyHz.value, limit);
    expectClose(proposal.fromSpacing.value, bare.fromSpacing.value, limit);
  });

  test.each<[string, Stroke]>([
    ['dark and broken', { heightMm: 22, widthMm: 0.6, ink: 0.2, slantDeg: 1, gaps }],
    ['light and slanted', { heightMm: 24, widthMm: 1.2, ink: 2, slantDeg: -3 }],
  ])('of ink that is %s nothing is left beside what is left out', (_, stroke) => {
    const sliced = [{}, { penLines: [stroke] }].map((flaws) => {
      const { face, settings } = drawn({ ...clear, flaws });
      return slicesOf(face, settings);
    });
    const [bareSlices, inked] = sliced;
    const lines = findPenLines(inked!);
    expect(lines).toHaveLength(1);
    const [without, painted] = [bareSlices!, inked!].map((slices) => paintOver(slices, lines, false));
    let most = 0;
    for (const [k, row] of painted!.rows.entries()) {
      if (painted!.spoilt[k] === 1) continue;
      for (const [bin, value] of row.entries()) {
        most = Math.max(most, Math.abs(value - without!.rows[k]![bin]!));
      }
    }
    // Ripples that count are a percent or more.
    expect(most).toBeLessThan(0.01);
  });
});
