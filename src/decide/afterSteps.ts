import type { Mm } from '../core/units.js';
import type { ChosenAxis, ShaperDecision, UndecidedAxis } from './decideShapers.js';
import { proofLadder, type ProofLadder } from './proofLadder.js';

/** What is left to do once shapers are chosen: enter, prove, compare, and measure again when something changes. */
export interface AfterSteps {
  readonly decision: ShaperDecision;
  /** Axes with a shaper that holds: what is to be entered. */
  readonly enter: readonly ChosenAxis[];
  /** Axes without: nothing is to be entered for them yet. */
  readonly notYet: readonly (ChosenAxis | UndecidedAxis)[];
  readonly proof:
    | ({ readonly state: 'planned' } & ProofLadder)
    /** What must be known first. */
    | {
        readonly state: 'not-planned';
        readonly why: 'nothing-to-enter' | 'no-limit' | 'no-height' | 'too-low';
      };
}

/**
 * What to do after a decision.
 * @param decision - The decision.
 * @returns The axes with something to enter and those without, and a proof print for the former: one tower as high as the test
 * tower proves both.
 */
export function afterSteps(decision: ShaperDecision): AfterSteps {
  const enter = decision.axes.filter((one) => one.state === 'chosen').filter(({ choice }) => choice.holds);
  const notYet = decision.axes.filter((one) => !(one.state === 'chosen' && one.choice.holds));
  return { decision, enter, notYet, proof: planProof(enter, decision) };
}

function planProof(chosen: readonly ChosenAxis[], { limits, speeds }: ShaperDecision): AfterSteps['proof'] {
  const highest = limits.maxAccelerationMmPerS2;
  if (chosen.length === 0 || speeds === undefined) return { state: 'not-planned', why: 'nothing-to-enter' };
  if (highest === undefined) return { state: 'not-planned', why: 'no-limit' };
  const faces = chosen.flatMap(({ mode }) => mode.print.face ?? []);
  if (faces.length === 0) return { state: 'not-planned', why: 'no-height' };
  const least = (of: (face: (typeof faces)[number]) => Mm) => Math.min(...faces.map(of));
  const ladder = proofLadder({
    bottomMm: Math.max(...faces.map(({ bottomMm }) => bottomMm)),
    topMm: least(({ bottomMm, heightMm }) => bottomMm + heightMm),
    highestMmPerS2: highest,
    ...speeds,
    naturalHz: chosen.map(({ mode }) => mode.naturalHz.value),
  });
  return ladder === undefined ? { state: 'not-planned', why: 'too-low' } : { state: 'planned', ...ladder };
}
