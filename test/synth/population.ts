import type { Flaws } from './flaws.js';
import type { Lighting } from './light.js';
import { PRINT_KINDS, printedFace } from './prints.js';
import { seeded, type Random } from './random.js';
import { layerCount, type FaceRecipe, type Picture } from './recipe.js';
import { truthOf } from './truth.js';

/** Kinds on which nothing may be proposed. */
const REFUSED_KINDS = [
  'no-ringing',
  'fixed-pitch',
  'flat',
  'below',
  'above',
  'second-null',
  'one-sided',
  'frontal',
] as const;

/** Kinds whose record, light or pattern is wrong in one way that happens every day. */
const WRONG_KINDS = [
  'damping-told',
  'acceleration-told',
  'corner-speed-told',
  'corner-off',
  'speed-told',
  'speed-far',
  'along-wall-told',
  'lit',
  'near-pitch',
] as const;

/**
 * What a face is drawn for.
 *
 * - `main`: a face with a null on its ladder, print record right.
 * - `record`: the same with the errors in the record that the uncertainty budget expects.
 * - `zvd`, `ei`: as main with another shaper.
 * - `2-hump`, `3-hump`: as record with another shaper and a ladder wide enough for it.
 * - `damping-told` to `near-pitch`: as record, with one thing more wrong: the shaper's damping told as any of 0 to 0.2;
 *   the acceleration off by 20 %; the corner speed by half; the leading corner clicked 0.3 mm off; the speed off by 3 %,
 *   or by 10 %; the move along the wall told as shaped where it is not, or the other way round; a lamp anywhere from 3°
 *   to 85°; a fixed pitch within 5 % of the ripples' spacing.
 * - `second-mode` to `slots`: as record, with one thing more that a print does to a wall (prints.ts).
 * - The others must be refused: no ringing; stripes of fixed pitch only; a ladder that the machine did not carry
 *   out; a null below or above the ladder; only the null at a third of the frequency; a null at the very end of
 *   the ladder; light so frontal that only the ripples' square shows.
 */
// New kinds come last: a face is drawn by its kind's place in this list.
export const FACE_KINDS = [
  'main',
  'record',
  'zvd',
  'ei',
  ...REFUSED_KINDS,
  '2-hump',
  '3-hump',
  ...WRONG_KINDS,
  ...PRINT_KINDS,
] as const;
export type FaceKind = (typeof FACE_KINDS)[number];

export const MUST_REFUSE: readonly FaceKind[] = REFUSED_KINDS;

/** Kinds with one thing wrong that happens every day, or with what a print does to a wall. */
export const WRONG_SETTINGS: readonly FaceKind[] = [...WRONG_KINDS, ...PRINT_KINDS];

/** A face to draw with what its user would tell. */
export interface Case {
  readonly kind: FaceKind;
  readonly seed: number;
  readonly recipe: FaceRecipe;
  /** Fields of the print record that differ from the recipe, as JSON. */
  readonly told: Readonly<Record<string, unknown>>;
  /** Quality of the JPEG file; undefined: not compressed. */
  readonly jpegQuality: number | undefined;
}

/** Errors of the record by the budget: speed 2 %, commanded length 0.3 %, lower edge 0.15 mm (DESIGN 5.5, 5.8). */
const SPEED_SD = 0.02;
const LENGTH_SD = 0.003;
const EDGE_SD_MM = 0.15;
/** Distance of one seed's faces from the next's; another one would draw all faces anew. */
const SEEDS_OF_ONE = 16;
/** How well corners are clicked, px for each coordinate. */
export const CLICK_SD_PX = 1.5;
/** How much a lens bows an edge, mm. */
export const BOW_SD_MM = 0.1;

/**
 * One face of the population. Ranges are those of the project's study of the estimator and wider.
 * @param kind - What it is drawn for.
 * @param seed - Which one; seeds of tuning and of testing must not overlap.
 * @returns The face and its record.
 */
export function populationCase(kind: FaceKind, seed: number): Case {
  // Kinds of one seed have nothing in common; the last of them share their usual face with the first of the next seeds.
  const random = seeded(seed * SEEDS_OF_ONE + FACE_KINDS.indexOf(kind) + 1);
  const usual = usualFace(random, seed);
  const { recipe, told } = shapeByKind(kind, usual, random);
  return {
    kind,
    seed,
    recipe,
    told,
    jpegQuality: random.chance(0.5) ? Math.round(random.even(60, 95)) : undefined,
  };
}

function usualFace(random: Random, seed: number): FaceRecipe {
  const { even, logEven, pick, chance } = random;
  const [widthMm, height, layerHeightMm] = [even(60, 100), even(50, 80), pick([0.2, 0.2, 0.2, 0.25, 0.3])];
  const heightMm = Math.round(height / layerHeightMm) * layerHeightMm;
  const lowLight = chance(0.15);
  return {
    widthMm,
    heightMm,
    layerHeightMm,
    pxPerMm: even(10, 30),
    speedMmPerS: even(80, 150),
    accelerationMmPerS2: logEven(1500, 7000),
    cornerSpeedMmPerS: even(2, 10),
    naturalHz: even(22, 58),
    dampingRatio: even(0.03, 0.15),
    ladder: { fromHz: even(13, 17), toHz: even(60, 66), dampingRatio: pick([0.05, 0.1, 0.15]) },
    wallShaped: chance(0.5),
    gain: logEven(0.4, 1),
    gainDrift: logEven(1, 3) > 1 ? even(-Math.log(3), Math.log(3)) : 0,
    lighting: sideLight(random),
    texture: {
      widthSlope: logEven(0.002, 0.03),
      widthMm: even(0.3, 1.5),
      layerJitter: even(0, 0.05),
      grain: logEven(0.002, 0.02),
      grooves: even(0, 0.3),
    },
    ...(chance(0.5) ? { pitch: { pitchMm: 2, amplitude: logEven(0.002, 0.03) } } : {}),
    flaws: usualFlaws(random, widthMm, heightMm),
    noise: lowLight ? logEven(0.05, 0.2) : logEven(0.003, 0.1),
    picture: usualPicture(random, lowLight),
    seed: seed * 7 + 3,
  };
}

/** A lamp at the side, near or far; a camera more or less in front. */
function sideLight({ even, logEven, chance, pick }: Random): Lighting {
  return {
    lamp: {
      azimuthDeg: even(20, 75) * pick([-1, 1]),
      elevationDeg: even(-10, 50),
      distanceWidths: logEven(1.5, 10),
    },
    camera: { azimuthDeg: even(-15, 15), elevationDeg: even(-10, 15), distanceWidths: even(2, 5) },
    surface: {
      silk: chance(0.6) ? logEven(0.1, 2) : 0,
      silkAlong: even(0.15, 0.5),
      silkAcross: even(0.5, 1.2),
    },
    ambient: even(0.05, 0.5),
  };
}

function usualFlaws({ even, chance, logEven, pick }: Random, widthMm: number, heightMm: number): Flaws {
  const some = <T>(probability: number, most: number, make: () => T): T[] =>
    chance(probability) ? Array.from({ length: Math.ceil(even(0, most)) }, make) : [];
  return {
    bulge: even(-0.2, 0.3),
    ...(chance(0.3) ? { slot: { fromMm: even(15, 50), widthMm: even(1, 3) } } : {}),
    ...(chance(0.4) ? { penLines: [{ heightMm: even(0.1, 0.9) * heightMm, widthMm: even(0.5, 1) }] } : {}),
    stains: some(0.3, 4, () => ({
      xMm: even(0, widthMm),
      heightMm: even(0, heightMm),
      radiusMm: logEven(0.7, 6),
      depth: even(0.1, 0.4) * pick([-1, -1, 1]),
    })),
    scratches: some(0.3, 4, () => ({
      xMm: even(0, widthMm),
      heightMm: even(0, heightMm),
      lengthMm: even(5, 40),
      angleDeg: even(10, 170),
      widthMm: even(0.1, 0.4),
      depth: even(0.2, 0.6) * pick([-1, 1]),
    })),
    ...(chance(0.2) ? { seam: even(0.05, 0.3) } : {}),
    ...(chance(0.2) ? { brimMm: even(0.2, 0.6) } : {}),
  };
}

function usualPicture({ even, normal }: Random, lowLight: boolean): Picture {
  const click = (): readonly [number, number] => [CLICK_SD_PX * normal(), CLICK_SD_PX * normal()];
  return {
    clicksPx: [click(), click(), click(), click()],
    bowMm: BOW_SD_MM * normal(),
    longer: 0,
    raisedMm: 0,
    blurPx: even(0.7, 4),
    blurTilt: even(-0.5, 0.5),
    exposure: lowLight ? even(0.06, 0.3) : even(0.3, 0.9),
  };
}

/** The same face with the errors in picture and record that the uncertainty budget expects. */
function withRecordErrors(
  recipe: FaceRecipe,
  { normal }: Random,
): { readonly recipe: FaceRecipe; readonly told: Case['told'] } {
  const picture = { ...recipe.picture!, longer: LENGTH_SD * normal(), raisedMm: EDGE_SD_MM * normal() };
  const speedMmPerS = recipe.speedMmPerS / (1 + SPEED_SD * normal());
  return { recipe: { ...recipe, picture }, told: { speedMmPerS } };
}

/** The same errors, and one thing told that is further off than they are. */
function toldWrong(
  recipe: FaceRecipe,
  random: Random,
  wrong: Case['told'],
): { readonly recipe: FaceRecipe; readonly told: Case['told'] } {
  const made = withRecordErrors(recipe, random);
  return { ...made, told: { ...made.told, ...wrong } };
}

/** The shaper as told, right but for what is changed. */
function toldShaper(
  { family = 'ZV', ladder, wallShaped }: FaceRecipe,
  change: Readonly<Record<string, unknown>>,
): Readonly<Record<string, unknown>> {
  return {
    family,
    dampingRatio: ladder!.dampingRatio,
    hzMeans: 'natural',
    alongWall: wallShaped ? 'as-ladder' : 'off',
    ...change,
  };
}

function shapeByKind(
  kind: FaceKind,
  usual: FaceRecipe,
  random: Random,
): { readonly recipe: FaceRecipe; readonly told: Case['told'] } {
  const { even, chance, pick, logEven } = random;
  const ladder = usual.ladder!;
  const { nullHz } = truthOf(usual);
  const plain = (recipe: FaceRecipe) => ({ recipe, told: {} });
  switch (kind) {
    case 'main':
      return plain(usual);
    case 'record':
      return withRecordErrors(usual, random);
    case '2-hump':
    case '3-hump': {
      const range = { fromHz: even(12, 15), toHz: even(110, 118) };
      const wide = { ...usual, family: `${kind} EI` as const, ladder: { ...ladder, ...range } };
      return withRecordErrors(wide, random);
    }
    case 'zvd':
      return plain({ ...usual, family: 'ZVD' });
    case 'ei':
      return plain({ ...usual, family: 'EI', ladder: { ...ladder, dampingRatio: pick([0.05, 0.1]) } });
    case 'no-ringing':
      return plain({ ...usual, gain: 0 });
    case 'fixed-pitch':
      return plain({ ...usual, gain: 0, pitch: { pitchMm: even(1.2, 4.5), amplitude: logEven(0.01, 0.1) } });
    case 'flat': {
      // The machine stayed at one frequency; the record says that it climbed.
      const hz = nullHz * even(0.75, 1.4);
      const layers = layerCount(usual);
      return {
        recipe: { ...usual, ladder: { ...ladder, fromHz: hz, toHz: hz } },
        told: {
          ladder: {
            kind: 'linear',
            fromHz: ladder.fromHz,
            toHz: ladder.toHz,
            firstLayer: 0,
            lastLayer: layers - 1,
          },
        },
      };
    }
    case 'below': {
      const fromHz = nullHz * even(1.15, 1.6);
      return plain({ ...usual, ladder: { ...ladder, fromHz, toHz: fromHz + even(20, 45) } });
    }
    case 'above': {
      const toHz = nullHz * even(0.6, 0.87);
      return plain({ ...usual, ladder: { ...ladder, toHz, fromHz: Math.max(10, toHz - even(12, 30)) } });
    }
    case 'second-null': {
      const naturalHz = even(40, 58);
      const range = { fromHz: naturalHz * even(0.2, 0.28), toHz: naturalHz * even(0.55, 0.85) };
      return plain({ ...usual, naturalHz, ladder: { ...ladder, ...range } });
    }
    case 'one-sided': {
      const inside = even(0, 0.8);
      const span = even(20, 40);
      const range = chance(0.5)
        ? { fromHz: nullHz - inside, toHz: nullHz - inside + span }
        : { fromHz: Math.max(8, nullHz + inside - span), toHz: nullHz + inside };
      return plain({ ...usual, ladder: { ...ladder, ...range } });
    }
    case 'damping-told':
      return toldWrong(usual, random, { shaper: toldShaper(usual, { dampingRatio: even(0, 0.2) }) });
    case 'acceleration-told': {
      const accelerationMmPerS2 = usual.accelerationMmPerS2 * pick([0.8, 1.2]);
      return toldWrong(usual, random, { accelerationMmPerS2 });
    }
    case 'corner-speed-told':
      return toldWrong(usual, random, { cornerSpeedMmPerS: usual.cornerSpeedMmPerS * pick([0.5, 1.5]) });
    case 'corner-off': {
      const offPx = 0.3 * usual.pxPerMm * pick([-1, 1]);
      const clicksPx = usual.picture!.clicksPx.map(([x, y], corner): readonly [number, number] => [
        corner === 0 || corner === 3 ? x + offPx : x,
        y,
      ]);
      return toldWrong({ ...usual, picture: { ...usual.picture!, clicksPx } }, random, {});
    }
    case 'speed-told':
      return toldWrong(usual, random, { speedMmPerS: usual.speedMmPerS * pick([0.97, 1.03]) });
    case 'speed-far':
      return toldWrong(usual, random, { speedMmPerS: usual.speedMmPerS * pick([0.9, 1.1]) });
    case 'along-wall-told': {
      const alongWall = usual.wallShaped ? 'off' : 'as-ladder';
      return toldWrong(usual, random, { shaper: toldShaper(usual, { alongWall }) });
    }
    case 'lit': {
      const lamp = { ...usual.lighting!.lamp, azimuthDeg: even(3, 85) * pick([-1, 1]) };
      return withRecordErrors({ ...usual, lighting: { ...usual.lighting!, lamp } }, random);
    }
    case 'near-pitch': {
      const spacingMm = usual.speedMmPerS / truthOf(usual).dampedHz;
      const pitch = { pitchMm: spacingMm * even(0.95, 1.05), amplitude: logEven(0.003, 0.05) };
      return withRecordErrors({ ...usual, pitch }, random);
    }
    case 'second-mode':
    case 'alternating':
    case 'alternating-untold':
    case 'steps':
    case 'rounded':
    case 'table':
    case 'spoilt':
    case 'two-ladders':
    case 'slots': {
      const printed = printedFace(kind, usual, random);
      return toldWrong(printed.recipe, random, printed.told);
    }
    case 'frontal': {
      const ahead = { azimuthDeg: 0, elevationDeg: even(0, 20), distanceWidths: 60 };
      const lighting: Lighting = {
        lamp: ahead,
        camera: { ...ahead, elevationDeg: 0 },
        surface: { silk: logEven(0.5, 4), silkAlong: even(0.1, 0.3), silkAcross: even(0.5, 1.2) },
        ambient: even(0.05, 0.3),
      };
      return plain({ ...usual, gain: 1, lighting });
    }
  }
}
