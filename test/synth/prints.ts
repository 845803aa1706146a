import { cornerResponse, rateAtCorner } from './motion.js';
import type { Random } from './random.js';
import { ladderHz, layerCount, type FaceRecipe } from './recipe.js';
import type { Impulse } from './shapers.js';
import type { Slot } from './slot.js';

/**
 * What a print may do to a wall, on faces whose record has the errors that the budget expects.
 *
 * - `second-mode`: the axis swings at a second frequency, 0.6 to 1.6 times the first, 0.2 to 0.8 times as strongly.
 * - `alternating`: odd layers are printed from the other corner, and the record says so; `alternating-untold`: it does not.
 * - `steps`: the ladder climbs in 8 to 24 steps; `rounded`: the machine knows whole hertz only, and the record says that it
 *   climbs evenly; `table`: straight pieces between five to nine heights, more and more steeply.
 * - `two-ladders`: the usual ladder over the lower part of the height, and above it another from 0.5 to 0.8 times the axis's
 *   frequency to 1.25 to 1.7 times it.
 * - `spoilt`: the seam lies on the leading corner, all layers from some height on lie beside the others, and the wall has
 *   blobs, strings and a brim.
 * - `slots`: a slot parts the wall, told to 0.2 mm; on half of the faces it closes low on the tower.
 */
export const PRINT_KINDS = [
  'second-mode',
  'alternating',
  'alternating-untold',
  'steps',
  'rounded',
  'table',
  'spoilt',
  'two-ladders',
  'slots',
] as const;
export type PrintKind = (typeof PRINT_KINDS)[number];

/** A face with the fields of its record that differ from it. */
export interface PrintedFace {
  readonly recipe: FaceRecipe;
  readonly told: Readonly<Record<string, unknown>>;
}

/**
 * A usual face with one thing more that a print may do to it.
 * @param kind - What.
 * @param usual - The face.
 * @param random - Where its numbers come from.
 * @returns The face, and what its record says of it.
 */
export function printedFace(kind: PrintKind, usual: FaceRecipe, random: Random): PrintedFace {
  const { even } = random;
  const ladder = usual.ladder!;
  switch (kind) {
    case 'second-mode':
      return { recipe: { ...usual, second: secondOf(usual, random) }, told: {} };
    case 'alternating':
      return { recipe: { ...usual, alternates: true }, told: { direction: 'alternates' } };
    case 'alternating-untold':
      return { recipe: { ...usual, alternates: true }, told: {} };
    case 'steps': {
      const steps = Math.round(even(8, 24));
      return {
        recipe: { ...usual, ladder: { ...ladder, steps } },
        told: { ladder: { kind: 'stepped', bands: toldSteps(usual, steps) } },
      };
    }
    case 'rounded':
      return { recipe: { ...usual, ladder: { ...ladder, roundedHz: 1 } }, told: {} };
    case 'table': {
      const count = Math.round(even(5, 9));
      const table = Array.from({ length: count }, (_, i) => ({
        share: i / (count - 1),
        hz: Math.round(ladder.fromHz * (ladder.toHz / ladder.fromHz) ** (i / (count - 1))),
      }));
      const points = table.map(({ share, hz }) => ({ mm: share * usual.heightMm, hz }));
      return {
        recipe: { ...usual, ladder: { ...ladder, table } },
        told: { ladder: { kind: 'table', points } },
      };
    }
    case 'two-ladders': {
      const layers = layerCount(usual);
      const { fromHz, toHz } = ladder;
      const middle = Math.round(layers * even(0.4, 0.6));
      const parts = [
        { untilLayer: middle, fromHz, toHz },
        {
          untilLayer: layers,
          fromHz: usual.naturalHz * even(0.5, 0.8),
          toHz: usual.naturalHz * even(1.25, 1.7),
        },
      ];
      return { recipe: { ...usual, ladder: { ...ladder, parts } }, told: { ladder: toldParts(parts) } };
    }
    case 'slots': {
      const slot = slotOf(usual, random);
      const flaws = { ...usual.flaws };
      // The dark stripe of a usual face kicks nothing.
      delete flaws.slot;
      const told = {
        centreFromLeadingCornerMm: slot.fromMm + slot.widthMm / 2 + 0.2 * random.normal(),
        widthMm: slot.widthMm,
      };
      return { recipe: { ...usual, flaws, slot }, told: { slots: [told] } };
    }
    case 'spoilt':
      return { recipe: { ...usual, flaws: { ...usual.flaws, ...spoiltBy(usual, random) } }, told: {} };
  }
}

const UNSHAPED: readonly Impulse[] = [{ share: 1, lateS: 0 }];

/** A second swing whose ripples are told by how strong they are beside the first's, as an unshaped corner excites both. */
function secondOf(usual: FaceRecipe, { even, pick }: Random): NonNullable<FaceRecipe['second']> {
  const mode = {
    naturalHz: usual.naturalHz * pick([even(0.6, 1), even(1, 1.6)]),
    dampingRatio: even(0.03, 0.15),
  };
  const rateOf = (one: typeof mode) => rateAtCorner(cornerResponse(usual, one, 0.01), one, UNSHAPED);
  return { ...mode, share: (even(0.2, 0.8) * rateOf(usual)) / rateOf(mode) };
}

/**
 * Several ladders as a record tells them.
 * @param parts - The ladders.
 * @returns The record's ladder.
 */
export function toldParts(
  parts: NonNullable<NonNullable<FaceRecipe['ladder']>['parts']>,
): Readonly<Record<string, unknown>> {
  const ladders = parts.map(({ untilLayer, fromHz, toHz }, i) => ({
    kind: 'linear',
    ...{ fromHz, toHz, firstLayer: parts[i - 1]?.untilLayer ?? 0, lastLayer: untilLayer - 1 },
  }));
  return { kind: 'several', ladders };
}

function slotOf({ heightMm }: FaceRecipe, { even, chance }: Random): Slot {
  const whole = { fromMm: even(20, 32), widthMm: even(1, 2.5), flankMm: even(8, 16) };
  const closes = { atMm: even(0.08, 0.3) * heightMm, side: 'below', overMm: even(2, 8) } as const;
  return chance(0.5) ? { ...whole, closes } : whole;
}

/** The steps of a ladder as a record tells them. */
function toldSteps(
  { ladder, heightMm, layerHeightMm }: FaceRecipe,
  steps: number,
): readonly { readonly fromMm: number; readonly toMm: number; readonly hz: number }[] {
  const layers = layerCount({ heightMm, layerHeightMm });
  const firstOf = (step: number) => Math.ceil((step * layers) / steps - 1e-9);
  return Array.from({ length: steps }, (_, step) => ({
    fromMm: firstOf(step) * layerHeightMm,
    toMm: firstOf(step + 1) * layerHeightMm,
    hz: ladderHz({ ...ladder!, steps }, firstOf(step), layers),
  }));
}

function spoiltBy(
  { widthMm, heightMm }: FaceRecipe,
  { even, logEven, pick }: Random,
): Partial<NonNullable<FaceRecipe['flaws']>> {
  const many = <T>(most: number, make: () => T): T[] =>
    Array.from({ length: Math.ceil(even(0, most)) }, make);
  return {
    seam: even(0.05, 0.3),
    brimMm: even(0.2, 0.6),
    shift: { heightMm: even(0.1, 0.9) * heightMm, byMm: logEven(0.05, 0.3) * pick([-1, 1]) },
    // Blobs stand out and shine; most lie where the nozzle stops.
    stains: many(30, () => ({
      xMm: pick([even(0, 6), even(0, widthMm)]),
      heightMm: even(0, heightMm),
      radiusMm: logEven(0.3, 1),
      depth: even(0.1, 0.5) * pick([-1, 1]),
    })),
    // Strings hang across the wall.
    scratches: many(20, () => ({
      xMm: even(0, widthMm),
      heightMm: even(0, heightMm),
      lengthMm: even(5, 40),
      angleDeg: even(10, 170),
      widthMm: even(0.05, 0.2),
      depth: even(0.1, 0.5),
    })),
  };
}
