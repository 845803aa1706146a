import { combineSd, type Estimate } from '../core/estimate.js';
import type { RefusalReason } from '../core/outcome.js';
import { ladderRangeHz } from '../print/ladder.js';
import { fuseRipples } from '../ripple/fuseRipples.js';
import { LEAST_DAMPING, type Ripples } from '../ripple/measureRipples.js';
import { refusal, type Decision, type Evidence, type Proposal } from './decision.js';
import { judgeNull, outsideLadder } from './judgeNull.js';
import {
  cornerPhase,
  expectedNullHz,
  makeBudget,
  questionOf,
  ringingWithBudget,
  signedAmplitudes,
  spacingShares,
} from './makeBudget.js';
import { fitNullTogether, type SharedNull } from './nullTogether.js';
import type { BudgetLine } from './budget.js';
import type { SpacingCheck } from './spacingCheck.js';

/** One photo by itself. */
export interface SinglePhoto {
  readonly evidence: Evidence;
  readonly decision: Decision;
}

/**
 * What a photo is to the joint result.
 *
 * - `used`: fitted together with the others.
 * - `refused`: its own refusal is not one that other photos could make up for.
 * - `odd-one-out`: its frequency or its null contradicts the others, which agree.
 */
export type PhotoUse = 'used' | 'refused' | 'odd-one-out';

/** Several photos of one axis decided on together. */
export interface JointDecision {
  /** Undefined where no photo is used. */
  readonly proposal: Proposal | undefined;
  /** One for each photo, in their order. */
  readonly uses: readonly PhotoUse[];
  readonly spacingCheck: SpacingCheck;
  readonly ringing?: { readonly frequencyHz: Estimate; readonly dampingRatio: Estimate };
  readonly budget: readonly BudgetLine[];
  readonly nullFit?: SharedNull;
  readonly fromNull?: Estimate;
}

/** What one photo shows too faintly, several may show well enough. */
const FAINT: ReadonlySet<RefusalReason> = new Set([
  'too-noisy',
  'one-sided',
  'no-reversal',
  'spacing-disagrees',
  'too-uncertain',
]);
/** Two values this many standard uncertainties of their difference apart contradict each other: 1 in 1,000 do so by chance. */
const CONTRADICTION = 3.3;

/**
 * Decides on several photos of one axis together: of one face, of both walls, or of a print made again. Frequency and
 * damping ratio are fitted to all of them at once. What is uncertain of print and record counts as the same in all of
 * them, so that only scatter shrinks with their number.
 * @param photos - Each measured by itself; axis, shaper and ladder are the same. Undefined: its face is not read.
 * @returns The joint proposal or refusal, and what each photo is to it.
 */
export function decideTogether(photos: readonly (SinglePhoto | undefined)[]): JointDecision {
  const fit = photos.map((photo) => {
    if (photo === undefined) return false;
    const { evidence, decision } = photo;
    const { proposal } = decision;
    const faint = proposal.state !== 'refused' || FAINT.has(proposal.reason);
    return faint && evidence.ripples !== undefined && evidence.profiles !== undefined;
  });
  const { odd, agree } = oddOnes(photos, fit);
  const uses = photos.map((_, i): PhotoUse =>
    fit[i] === true ? (odd.has(i) ? 'odd-one-out' : 'used') : 'refused',
  );
  const used = photos.flatMap((photo, i) => (photo !== undefined && uses[i] === 'used' ? [photo] : []));
  const none = { uses, spacingCheck: { state: 'not-measurable' }, budget: [] } as const;
  const [first] = used;
  if (first === undefined) return { ...none, proposal: undefined };
  if (!agree) return { ...none, proposal: refusal('photos-disagree', APART, farthest(used), CONTRADICTION) };
  return { uses, ...decideOnUsed(used, first) };
}

const APART = 'photos apart, standard uncertainties of their difference';

function decideOnUsed(used: readonly SinglePhoto[], first: SinglePhoto): Omit<JointDecision, 'uses'> {
  const own = used.flatMap(({ evidence }) => (evidence.ripples === undefined ? [] : [evidence.ripples]));
  const fused = fuseRipples(own);
  const before = first.evidence.ripples;
  if (fused === undefined || before === undefined) {
    return {
      proposal: first.decision.proposal,
      spacingCheck: first.decision.spacingCheck,
      budget: first.decision.budget,
    };
  }
  const shared = own.map((one, i): Ripples => ({
    ...one,
    frequencyHz: fused.frequencyHz,
    dampingRatio: fused.dampingRatio,
    amplitudes: fused.amplitudes[i] ?? [],
  }));
  const ripples = shared[0] ?? before;
  const { evidence } = first;
  const { settings, geometry } = evidence;
  const ringing = ringingWithBudget(ripples, spacingShares(ripples, settings, geometry));
  const expectedHz = expectedNullHz(settings.shaper, ripples.frequencyHz.value, ripples.dampingRatio.value);
  const expected = {
    value: expectedHz,
    sd: (expectedHz / ripples.frequencyHz.value) * ringing.frequencyHz.sd,
  };
  const spacingCheck: SpacingCheck = {
    ...first.decision.spacingCheck,
    state: 'not-measurable',
    frequencyHz: ringing.frequencyHz,
    expectedNullHz: expected,
  };
  const found = { ringing, spacingCheck, budget: [] };
  const zeta = ripples.dampingRatio.value;
  if (zeta < LEAST_DAMPING) {
    return { ...found, proposal: refusal('fixed-pitch-only', 'damping ratio', zeta, LEAST_DAMPING) };
  }
  const range = ladderRangeHz(settings.ladder);
  if (range === undefined) return { ...found, proposal: first.decision.proposal };
  const outside = outsideLadder(expected, range);
  if (outside !== undefined) return { ...found, proposal: outside };
  const sets = used.map((photo, i) => {
    const own = shared[i] ?? ripples;
    return {
      amplitudes: signedAmplitudes(photo.evidence.profiles, own),
      cornerPhaseRad: cornerPhase(photo.evidence, own),
    };
  });
  const question = questionOf(evidence, ripples, ringing);
  const nullFit = fitNullTogether(sets, question);
  if (nullFit === undefined) return { ...found, proposal: first.decision.proposal };
  const budget = makeBudget(
    evidence,
    ripples,
    ringing,
    sets[0]?.amplitudes ?? [],
    question,
    nullFit,
    expectedHz,
  );
  // Each photo has been held upside down by itself.
  const turned = { misfit: Infinity, nullHz: 0 };
  const judged = judgeNull({ settings, fit: nullFit, expectedHz, budget, turned, range });
  return {
    proposal: judged.proposal,
    spacingCheck: { ...spacingCheck, ...judged.spacingCheck },
    ringing,
    budget,
    nullFit,
    fromNull: judged.routes.fromNull,
  };
}

/** A photo's own frequency by spacing and its own null, as far as they do not depend on what all photos share. */
function ownValues({ evidence, decision }: SinglePhoto): readonly (Estimate | undefined)[] {
  const { ripples, geometry } = evidence;
  const { nullFit } = decision;
  const spacing = ripples && {
    value: ripples.frequencyHz.value,
    sd: combineSd(ripples.frequencyHz.sd, geometry.lengthRelativeSd * ripples.frequencyHz.value),
  };
  return [spacing, nullFit && { value: nullFit.nullHz, sd: nullFit.nullSdHz }];
}

/** Which photos contradict the others, and whether those that are left agree. */
function oddOnes(
  photos: readonly (SinglePhoto | undefined)[],
  fit: readonly boolean[],
): { readonly odd: ReadonlySet<number>; readonly agree: boolean } {
  const odd = new Set<number>();
  for (;;) {
    const left = [...photos.keys()].filter((i) => fit[i] === true && !odd.has(i));
    const some = left.flatMap((i) => photos[i] ?? []);
    if (farthest(some) <= CONTRADICTION) return { odd, agree: true };
    // Of two that contradict each other nobody can tell which is wrong.
    if (left.length < 3) return { odd: new Set(), agree: false };
    const without = left.map((_, k) => farthest(some.filter((_photo, i) => i !== k)));
    const worst = without.indexOf(Math.min(...without));
    const index = left[worst];
    if (index === undefined) return { odd: new Set(), agree: false };
    // The majority must be left, or the odd ones are the others.
    if (left.length - 1 <= odd.size + 1) return { odd: new Set(), agree: false };
    odd.add(index);
  }
}

/** Largest difference of two photos' values, in standard uncertainties of the difference. */
function farthest(photos: readonly SinglePhoto[]): number {
  const values = photos.map(ownValues);
  let most = 0;
  for (const [i, a] of values.entries()) {
    for (const b of values.slice(i + 1)) {
      for (const [k, one] of a.entries()) {
        const other = b[k];
        if (one === undefined || other === undefined) continue;
        most = Math.max(most, Math.abs(one.value - other.value) / combineSd(one.sd, other.sd));
      }
    }
  }
  return most;
}
