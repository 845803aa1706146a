import { decideTogether } from '../../src/band/decideTogether.js';
import type { Estimate } from '../../src/core/estimate.js';
import { drawnCase, measurePlaced } from '../../test/helpers/drawn.js';
import { BOW_SD_MM, CLICK_SD_PX, populationCase } from '../../test/synth/population.js';
import { seeded, type Random } from '../../test/synth/random.js';
import type { FaceRecipe } from '../../test/synth/recipe.js';
import { truthOf } from '../../test/synth/truth.js';

/**
 * What is measured together.
 *
 * - `photos`: three photos of one print, the lamp moved and the corners clicked anew between them.
 * - `prints`: three prints of one job.
 * - `odd`: five photos of which one shows another axis, a tenth faster or slower.
 */
export const FUSIONS = ['photos', 'prints', 'odd'] as const;
export type Fusion = (typeof FUSIONS)[number];

/** What became of several photos together. Plain data. */
export interface FusionOutcome {
  readonly fusion: Fusion;
  readonly seed: number;
  /** Ladder frequency less the truth, of each photo that is proposed by itself; by the null, and by both routes. */
  readonly alone: readonly { readonly nullHz: number; readonly combinedHz: number }[];
  /** The same of all together; absent where nothing is proposed. */
  readonly together?: {
    readonly nullHz: number;
    readonly combinedHz: number;
    /** Truth inside the 95 % interval. */
    readonly inside: boolean;
  };
  /** Photos that were fitted together. */
  readonly used: number;
  /** Of `odd`: whether the odd one could be measured by itself, and what became of it. */
  readonly odd?: { readonly measurable: boolean; readonly named: boolean; readonly others: number };
}

const ODD_PLACE = 2;
const ODD_FACTORS = [0.9, 1.1] as const;

/**
 * Draws several photos of one axis and measures them together.
 * @param fusion - What they have in common.
 * @param seed - Which face of the population.
 * @returns What became of them.
 */
export async function measureFusion(fusion: Fusion, seed: number): Promise<FusionOutcome> {
  const one = populationCase('main', seed);
  const truth = truthOf(one.recipe);
  const random = seeded(seed * 131 + 7);
  const factor = random.pick([...ODD_FACTORS]);
  const photos = [];
  for (let k = 0; k < (fusion === 'odd' ? 5 : 3); k += 1) {
    const seen = k === 0 ? one.recipe : anotherPhoto(one.recipe, k, random);
    const print = fusion === 'prints' ? { ...seen, seed: one.recipe.seed + 1009 * k } : seen;
    const isOdd = fusion === 'odd' && k === ODD_PLACE;
    const recipe = isOdd ? { ...print, naturalHz: factor * print.naturalHz } : print;
    photos.push(measurePlaced(await drawnCase({ ...one, recipe })));
  }
  const { proposal, uses } = decideTogether(photos);
  const off = (estimate: Estimate) => estimate.value - truth.nullHz;
  const alone = photos.flatMap(({ decision }, k) => {
    const own = decision.proposal;
    if (own.state !== 'proposed' || (fusion === 'odd' && k === ODD_PLACE)) return [];
    return [{ nullHz: off(own.fromNull), combinedHz: off(own.combined) }];
  });
  const odd = photos[ODD_PLACE]!.decision.proposal;
  return {
    fusion,
    seed,
    alone,
    ...(proposal?.state === 'proposed'
      ? {
          together: {
            nullHz: off(proposal.fromNull),
            combinedHz: off(proposal.combined),
            inside: truth.nullHz >= proposal.combined.low95 && truth.nullHz <= proposal.combined.high95,
          },
        }
      : {}),
    used: uses.filter((use) => use === 'used').length,
    ...(fusion === 'odd'
      ? {
          odd: {
            measurable: odd.state === 'proposed',
            named:
              uses[ODD_PLACE] === 'odd-one-out' && uses.filter((use) => use === 'odd-one-out').length === 1,
            others: alone.length,
          },
        }
      : {}),
  };
}

/** Another photo of the same face: lamp elsewhere at the side, corners clicked anew, noise of its own. */
function anotherPhoto(recipe: FaceRecipe, shot: number, { even, normal, pick }: Random): FaceRecipe {
  const click = (): readonly [number, number] => [CLICK_SD_PX * normal(), CLICK_SD_PX * normal()];
  const { lighting, picture } = recipe;
  const lamp = {
    ...lighting!.lamp,
    azimuthDeg: even(20, 75) * pick([-1, 1]),
    elevationDeg: even(-10, 50),
  };
  return {
    ...recipe,
    shot,
    lighting: { ...lighting!, lamp },
    picture: { ...picture!, clicksPx: [click(), click(), click(), click()], bowMm: BOW_SD_MM * normal() },
  };
}
