import { combineRoutes } from '../../src/band/budget.js';
import type { Estimate } from '../../src/core/estimate.js';
import { drawnCase, measurePlaced } from '../../test/helpers/drawn.js';
import { populationCase, type FaceKind } from '../../test/synth/population.js';
import { truthOf, type Truth } from '../../test/synth/truth.js';
import { limitOf, type Limit } from './limit.js';
import { plainScript } from '../plainScript.js';

/** What became of one drawn face. Plain data. */
export interface FaceOutcome {
  readonly kind: FaceKind;
  readonly seed: number;
  readonly truth: Truth;
  /** DESIGN §10, from the truth. */
  readonly signalToNoise: number;
  /** `proposed`, or the reason why not. */
  readonly state: string;
  /** Ladder frequency of the null by both routes and by both together; only of a proposal. */
  readonly fromNull?: Estimate;
  readonly fromSpacing?: Estimate;
  readonly combined?: Estimate;
  /** By both routes together, if the print speed were known exactly: what its 2 % in the budget costs. */
  readonly atKnownSpeed?: Estimate;
  /** Damped frequency by spacing, and damping ratio; of a refusal too, where they could be measured. */
  readonly dampedHz?: Estimate;
  readonly dampingRatio?: Estimate;
  /** The least that the errors can be, rms; absent without a ladder. */
  readonly limit?: Limit;
  /** A wrong speed is told to be the likely cause of what does not fit. */
  readonly speedNamed: boolean;
  /** Of a face that swings at two frequencies: the other one's truth, and what is told of it. */
  readonly second?: { readonly truth: Truth; readonly dampedHz?: Estimate };
  /** Ripples were read from both ends of the wall. */
  readonly bothEnds: boolean;
  /** What the plain script says. */
  readonly plain: { readonly nullHz: number | undefined; readonly spacingHz: number };
  /** Milliseconds. */
  readonly ms: { readonly draw: number; readonly ours: number; readonly plain: number };
}

/**
 * Draws one face of the population, and lets stillband and the plain script measure it.
 * @param kind - Kind of face.
 * @param seed - Which one.
 */
export async function measureSeed(kind: FaceKind, seed: number): Promise<FaceOutcome> {
  const one = populationCase(kind, seed);
  const start = performance.now();
  const drawn = await drawnCase(one);
  const drew = performance.now();
  const { decision, ripples } = measurePlaced(drawn);
  const measured = performance.now();
  const plain = plainScript(drawn.face, drawn.settings);
  const done = performance.now();
  const { proposal, ringing, budget } = decision;
  const limit = limitOf(one.recipe, drawn.signal.bands);
  const only = ({ value, sd }: Estimate): Estimate => ({ value, sd });
  const { second } = one.recipe;
  const told = ringing?.second?.frequencyHz;
  return {
    kind: one.kind,
    seed: one.seed,
    truth: truthOf(one.recipe),
    signalToNoise: drawn.signal.signalToNoise,
    ...(limit === undefined ? {} : { limit }),
    state: proposal.state === 'refused' ? proposal.reason : proposal.state,
    ...(proposal.state === 'proposed'
      ? {
          fromNull: only(proposal.fromNull),
          fromSpacing: only(proposal.fromSpacing),
          combined: only(proposal.combined),
          atKnownSpeed: combineRoutes(
            proposal.fromNull.value,
            proposal.fromSpacing.value,
            budget.filter((line) => line.cause !== 'speed'),
          ).combined,
        }
      : {}),
    ...(ringing === undefined
      ? {}
      : { dampedHz: only(ringing.frequencyHz), dampingRatio: only(ringing.dampingRatio) }),
    speedNamed: decision.spacingCheck.explanation?.cause === 'speed',
    ...(second === undefined
      ? {}
      : {
          second: {
            truth: truthOf({ ...one.recipe, ...second }),
            ...(told === undefined ? {} : { dampedHz: only(told) }),
          },
        }),
    bothEnds: ripples?.bothEnds ?? false,
    plain: { nullHz: plain.ladderHz, spacingHz: plain.spacingHz },
    ms: { draw: drew - start, ours: measured - drew, plain: done - measured },
  };
}
