import type { Stroke } from './flaws.js';
import { populationCase } from './population.js';
import { seeded, type Random } from './random.js';
import type { FaceRecipe } from './recipe.js';

/** A face with pen lines, the first of them the boldest; or with all that might be taken for one. */
export interface PennedFace {
  readonly recipe: FaceRecipe;
  readonly strokes: readonly Stroke[];
}

/** Distance of one seed's faces from those of `population.ts`. */
const OTHER_NUMBERS = 7919;

/**
 * A usual face with one or two lines drawn by hand: dark or light, level or slanted up to 5°, whole or broken.
 * @param seed - Which one.
 * @returns The face and what was drawn on it.
 */
export function facePenned(seed: number): PennedFace {
  const random = seeded(seed * OTHER_NUMBERS + 1);
  const recipe = withoutLines(seed);
  const { heightMm } = recipe;
  const first = strokeOf(recipe, random, random.even(0.15, 0.85) * heightMm);
  const away = first.heightMm + (first.heightMm > heightMm / 2 ? -1 : 1) * random.even(0.25, 0.35) * heightMm;
  const strokes = random.chance(0.25) ? [first, strokeOf(recipe, random, away)] : [first];
  return { recipe: { ...recipe, flaws: { ...recipe.flaws, penLines: strokes } }, strokes };
}

/**
 * A usual face without a line, and with what may be taken for one: scratches, strings and blobs, a seam on the corner,
 * layers that lie beside the others, layers of another brightness, the edge of a shadow.
 * @param seed - Which one.
 * @returns The face.
 */
export function faceUnpenned(seed: number): PennedFace {
  const random = seeded(seed * OTHER_NUMBERS + 2);
  const { even, logEven, pick, chance } = random;
  const recipe = withoutLines(seed);
  const { widthMm, heightMm } = recipe;
  const many = <T>(most: number, make: () => T): T[] =>
    Array.from({ length: Math.ceil(even(0, most)) }, make);
  const scratches = [
    ...many(10, () => ({
      xMm: even(0, widthMm),
      heightMm: even(0, heightMm),
      lengthMm: even(5, 40),
      angleDeg: even(10, 170),
      widthMm: even(0.1, 0.4),
      depth: even(0.2, 0.6) * pick([-1, 1]),
    })),
    // Strings lie nearly level, and are short and thin.
    ...many(10, () => ({
      xMm: even(0, widthMm),
      heightMm: even(0, heightMm),
      lengthMm: even(3, 0.35 * widthMm),
      angleDeg: even(0.5, 12) * pick([-1, 1]),
      widthMm: even(0.05, 0.2),
      depth: even(0.1, 0.6),
    })),
  ];
  const stains = many(30, () => ({
    xMm: pick([even(0, 6), even(0, widthMm)]),
    heightMm: even(0, heightMm),
    radiusMm: logEven(0.3, 4),
    depth: even(0.1, 0.5) * pick([-1, 1]),
  }));
  const flaws = {
    ...recipe.flaws,
    scratches,
    stains,
    ...(chance(0.5) ? { seam: even(0.05, 0.3) } : {}),
    ...(chance(0.5)
      ? { shift: { heightMm: even(0.1, 0.9) * heightMm, byMm: logEven(0.05, 0.5) * pick([-1, 1]) } }
      : {}),
    ...(chance(0.5) ? { brimMm: even(0.2, 0.8) } : {}),
    weakLayers: many(6, () => ({ heightMm: even(0, heightMm), depth: even(0.03, 0.18) * pick([-1, 1]) })),
    ...(chance(0.3)
      ? { shadow: { heightMm: even(0.1, 0.9) * heightMm, depth: -even(0.1, 0.7), softMm: logEven(0.2, 20) } }
      : {}),
  };
  return { recipe: { ...recipe, flaws }, strokes: [] };
}

function withoutLines(seed: number): FaceRecipe {
  const { recipe } = populationCase('main', seed);
  return { ...recipe, flaws: { ...recipe.flaws, penLines: [] } };
}

/** Ink that lets at most two thirds of the light through, or reflects half as much again. */
function strokeOf({ widthMm }: FaceRecipe, random: Random, heightMm: number): Stroke {
  const { even, logEven, chance } = random;
  return {
    heightMm,
    widthMm: logEven(0.3, 2),
    slantDeg: chance(0.3) ? 0 : even(-1, 1) * logEven(0.3, 5),
    ink: chance(0.7) ? logEven(0.1, 0.65) : logEven(1.5, 3),
    wobbleMm: chance(0.5) ? even(0, 0.15) : 0,
    gaps: chance(0.4) ? gapsOf(widthMm, random) : [],
  };
}

/** Dashes: a third of the wall at most stays without ink. */
function gapsOf(widthMm: number, { even }: Random): (readonly [number, number])[] {
  const gaps: (readonly [number, number])[] = [];
  const share = even(0.1, 0.33);
  for (let x = even(0, 15); x < widthMm;) {
    const gap = even(3, 12) * share;
    gaps.push([x, x + gap]);
    x += gap / share;
  }
  return gaps;
}
