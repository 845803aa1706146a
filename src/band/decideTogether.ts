import { combineSd, type Estimate } from '../core/estimate.js';
import type { RefusalReason } from '../core/outcome.js';
import type { Hz } from '../core/units.js';
import { ladderRangeHz } from '../print/ladder.js';
import { fuseRipples, fuseSecond } from '../ripple/fuseRipples.js';
import { spacingMm, type Ripples } from '../ripple/measureRipples.js';
import { LEAST_DAMPING } from '../ripple/searchBand.js';
import type { BudgetLine } from './budget.js';
import { unfitRipples, turnOver } from './decide.js';
import { refusal, type Proposal, type Decision, type Evidence } from './decision.js';
import { judgeNull, outsideLadder } from './judgeNull.js';
import {
  makeBudget,
  spacingShares,
  ringingWithBudget,
  signedAmplitudes,
  questionOf,
  expectedNullHz,
  cornerPhase,
} from './makeBudget.js';
import { fitNull, LEAST_HEIGHTS, tryNull } from './nullFit.js';
import { fitNullTogether, togetherAbove, type SharedNull } from './nullTogether.js';
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
  /** Of the ripples of all that are used together. */
  readonly signalToNoise?: number;
  readonly budget: readonly BudgetLine[];
  readonly nullFit?: SharedNull;
  readonly fromNull?: Estimate;
  /** How far null and spacing lie apart, in standard uncertainties of their difference. */
  readonly strain?: number;
}

/** What one photo shows too faintly, several may show well enough. */
const FAINT: ReadonlySet<RefusalReason> = new Set([
  'too-noisy',
  'one-sided',
  'no-reversal',
  'spacing-disagrees',
  'ladder-reversed',
  'too-uncertain',
]);
/** Two values this many standard uncertainties of their difference apart contradict each other: 1 in 1,000 do so by chance. */
const CONTRADICTION = 3.3;
/** 75th percentile of amplitude ÷ standard error where there is nothing but noise: √(2 ln 4), of a Rayleigh distribution. */
const NOISE_RATIO = Math.sqrt(2 * Math.log(4));
/** What belongs to each photo and not to the print: told apart where photos are held against each other. */
const OWN_CAUSES: ReadonlySet<BudgetLine['cause']> = new Set([
  'scatter-null',
  'scale-along-height',
  'scale-from-reference',
  'layer-origin',
  'near-pattern',
  'taken-second',
  'faint-second',
]);

/** What is told apart between the walls of one photo: all else is the same for them. */
const OWN_OF_A_WALL: ReadonlySet<BudgetLine['cause']> = new Set([
  'scatter-null',
  'near-pattern',
  'faint-second',
]);

/**
 * Decides on several photos of one axis together: of one face, of both walls, or of a print made again. Frequency and
 * damping ratio are fitted to all of them at once. Of what is uncertain of print, record and scale, each photo's own
 * effect counts by the photo's weight and as the same in all of them, so that only scatter shrinks with their number.
 * @param photos - Each measured by itself; axis, shaper and ladder are the same. Undefined: its face is not read.
 * @param are - Photos, or the walls of one photo, which share its scale and heights.
 * @returns The joint proposal or refusal, and what each photo is to it.
 */
export function decideTogether(
  photos: readonly (SinglePhoto | undefined)[],
  are: 'photos' | 'walls' = 'photos',
): JointDecision {
  const fit = photos.map((photo) => photo !== undefined && isFit(photo));
  const { odd, agree } = oddOnes(photos, fit, are);
  const uses = photos.map((_, i): PhotoUse =>
    fit[i] === true ? (odd.has(i) ? 'odd-one-out' : 'used') : 'refused',
  );
  const used = photos.flatMap((photo, i) => (photo !== undefined && uses[i] === 'used' ? [photo] : []));
  const none = { uses, spacingCheck: { state: 'not-measurable' }, budget: [] } as const;
  const [first, ...others] = used;
  if (first === undefined) return { ...none, proposal: undefined };
  if (!agree)
    return { ...none, proposal: refusal('photos-disagree', APART, farthest(used, are), CONTRADICTION) };
  // One alone is what it is alone, with all that was asked of it.
  if (others.length === 0) {
    const signalToNoise = first.evidence.ripples?.signalToNoise;
    return { ...first.decision, uses, ...(signalToNoise === undefined ? {} : { signalToNoise }) };
  }
  return { uses, ...decideOnUsed([first, ...others]) };
}

/**
 * Whether a photo's ripples may count together with others': proposed, or refused for what others could make up for.
 * @param photo - One photo by itself.
 * @returns True where they may.
 */
export function isFit({ evidence, decision: { proposal } }: SinglePhoto): boolean {
  const fits = proposal.state === 'proposed' || (proposal.state === 'refused' && FAINT.has(proposal.reason));
  return fits && evidence.ripples !== undefined && evidence.profiles !== undefined;
}

const APART = 'photos apart, standard uncertainties of their difference';

type Used = readonly [SinglePhoto, ...SinglePhoto[]];

function decideOnUsed(used: Used): Omit<JointDecision, 'uses'> {
  const [first] = used;
  const own = used.flatMap(({ evidence }) => (evidence.ripples === undefined ? [] : [evidence.ripples]));
  const fused = fuseRipples(own);
  if (fused === undefined) return first.decision;
  const dampingRatio = fused.dampingRatio;
  const second = fuseSecond(own);
  const shared = own.map((one, i): Ripples => ({
    ...one,
    second,
    frequencyHz: fused.frequencyHz,
    dampingRatio,
    undamped: dampingRatio.value < LEAST_DAMPING,
    amplitudes: fused.amplitudes[i] ?? [],
  }));
  const [ripples] = shared;
  if (ripples === undefined) return first.decision;
  const { settings } = first.evidence;
  const frequencyHz = fused.frequencyHz.value;
  // The poorest scale of all counts for the frequency by spacing, as long as no null weighs the photos.
  const ringings = used.map(({ evidence }) =>
    ringingWithBudget(ripples, spacingShares(ripples, settings, evidence.geometry)),
  );
  const ringing = ringings.reduce((a, b) => (b.frequencyHz.sd > a.frequencyHz.sd ? b : a));
  const expectedHz = expectedNullHz(settings.shaper, frequencyHz, dampingRatio.value);
  const expected = { value: expectedHz, sd: (expectedHz / frequencyHz) * ringing.frequencyHz.sd };
  const spacing = spacingMm(settings.speedMmPerS.value, frequencyHz);
  const lengthSd = Math.max(...used.map(({ evidence }) => evidence.geometry.lengthRelativeSd));
  const spacingCheck: SpacingCheck = {
    state: 'not-measurable',
    spacingMm: { value: spacing, sd: spacing * combineSd(fused.frequencyHz.sd / frequencyHz, lengthSd) },
    frequencyHz: ringing.frequencyHz,
    expectedNullHz: expected,
  };
  const signalToNoise = togetherAbove(
    own.map((one) => one.signalToNoise),
    NOISE_RATIO,
  );
  const found = { ringing, signalToNoise, spacingCheck, budget: [] };
  const pxPerRipple = spacing * Math.min(...used.map(({ evidence }) => evidence.geometry.pxPerMm.alongWall));
  const unfit = unfitRipples({ ripples, ringing, pxPerRipple, signalToNoise });
  if (unfit !== undefined) return { ...found, proposal: unfit };
  const range = ladderRangeHz(settings.ladder);
  if (range === undefined) return { ...found, proposal: first.decision.proposal };
  const outside = outsideLadder(expected, range);
  if (outside !== undefined) return { ...found, proposal: outside };
  const sets = used.map(({ evidence }, i) => {
    const one = shared[i] ?? ripples;
    return {
      evidence,
      ripples: one,
      amplitudes: signedAmplitudes(evidence.profiles, one),
      cornerPhaseRad: cornerPhase(evidence, one),
    };
  });
  const question = questionOf(first.evidence, ripples, ringing);
  const nullFit = fitNullTogether(sets, question);
  const budgets = used.map(ownBudget).filter((one) => one !== undefined);
  if (nullFit === undefined || budgets.length === 0) {
    const heights = Math.max(...sets.map(({ amplitudes }) => amplitudes.length));
    return {
      ...found,
      proposal: refusal('one-sided', 'bands of height on the ladder', heights, LEAST_HEIGHTS),
    };
  }
  const budget = jointBudget(budgets, nullFit, expectedHz, fused.frequencyHz);
  const turns = sets.map((set) => {
    const asked = { ...question, cornerPhaseRad: set.cornerPhaseRad };
    return turnOver(set.evidence, set.ripples, set.amplitudes, asked, tryNull(set.amplitudes, asked));
  });
  // Each in units of its own misfit as told, so that their mean is that of all together.
  const turned = {
    misfit: turns.reduce((sum, { misfit }) => sum + misfit, 0) / turns.length,
    nullHz: turns[0]?.nullHz ?? 0,
  };
  const judged = judgeNull({ settings, fit: nullFit, expectedHz, budget, turned });
  return {
    ...found,
    proposal: judged.proposal,
    spacingCheck: { ...spacingCheck, ...judged.spacingCheck },
    budget,
    nullFit,
    fromNull: judged.routes.fromNull,
    strain: judged.routes.strain,
  };
}

/** A photo's own budget of null and spacing; undefined where no null can be fitted to it alone. */
function ownBudget({ evidence, decision }: SinglePhoto): readonly BudgetLine[] | undefined {
  if (decision.nullFit !== undefined) return decision.budget;
  const { ripples, settings, geometry } = evidence;
  if (ripples === undefined) return undefined;
  const ringing = ringingWithBudget(ripples, spacingShares(ripples, settings, geometry));
  const amplitudes = signedAmplitudes(evidence.profiles, ripples);
  const question = questionOf(evidence, ripples, ringing);
  const fit = fitNull(amplitudes, question);
  const expectedHz = expectedNullHz(settings.shaper, ripples.frequencyHz.value, ripples.dampingRatio.value);
  return fit && makeBudget(evidence, ripples, ringing, amplitudes, question, fit, expectedHz);
}

/**
 * The photos' budgets as one: scatter from the joint fit; of every other cause each photo's effect, signed and weighed
 * as the joint fit weighs the photos, by their scatter.
 */
function jointBudget(
  budgets: readonly (readonly BudgetLine[])[],
  nullFit: SharedNull,
  expectedHz: Hz,
  frequencyHz: Estimate,
): readonly BudgetLine[] {
  const scatterOf = (
    budget: readonly BudgetLine[],
    cause: BudgetLine['cause'],
    route: 'nullHz' | 'spacingHz',
  ) => Math.abs(budget.find((line) => line.cause === cause)?.[route] ?? 0);
  const weightsBy = (cause: BudgetLine['cause'], route: 'nullHz' | 'spacingHz') => {
    const all = budgets.map((budget) => 1 / Math.max(scatterOf(budget, cause, route), Number.MIN_VALUE) ** 2);
    const sum = all.reduce((total, weight) => total + weight, 0);
    // Without any scatter there is nothing to weigh by.
    return all.map((weight) => (Number.isFinite(sum) ? weight / sum : 1 / all.length));
  };
  const weights = {
    nullHz: weightsBy('scatter-null', 'nullHz'),
    spacingHz: weightsBy('scatter-spacing', 'spacingHz'),
  };
  const causes = new Map(budgets.flat().map(({ cause, type }) => [cause, type]));
  return [...causes].map(([cause, type]): BudgetLine => {
    if (cause === 'scatter-null') return { cause, type, nullHz: nullFit.nullSdHz, spacingHz: 0 };
    if (cause === 'scatter-spacing') {
      return { cause, type, nullHz: 0, spacingHz: (expectedHz * frequencyHz.sd) / frequencyHz.value };
    }
    const mean = (route: 'nullHz' | 'spacingHz') =>
      budgets.reduce((sum, budget, i) => {
        const effect = budget.find((line) => line.cause === cause)?.[route] ?? 0;
        return sum + (weights[route][i] ?? 0) * effect;
      }, 0);
    return { cause, type, nullHz: mean('nullHz'), spacingHz: mean('spacingHz') };
  });
}

/** A photo's own frequency by spacing and its own null, as far as they do not depend on what all photos share. */
function ownValues(photo: SinglePhoto, are: 'photos' | 'walls'): readonly (Estimate | undefined)[] {
  const { ripples, geometry } = photo.evidence;
  const { nullFit } = photo.decision;
  const spacing = ripples && {
    value: ripples.frequencyHz.value,
    sd: combineSd(
      ripples.frequencyHz.sd,
      are === 'walls' ? 0 : geometry.lengthRelativeSd * ripples.frequencyHz.value,
    ),
  };
  const causes = are === 'walls' ? OWN_OF_A_WALL : OWN_CAUSES;
  const own = photo.decision.budget.filter(({ cause }) => causes.has(cause));
  return [spacing, nullFit && { value: nullFit.nullHz, sd: combineSd(...own.map(({ nullHz }) => nullHz)) }];
}

/** Which photos contradict the others, and whether those that are left agree. */
function oddOnes(
  photos: readonly (SinglePhoto | undefined)[],
  fit: readonly boolean[],
  are: 'photos' | 'walls',
): { readonly odd: ReadonlySet<number>; readonly agree: boolean } {
  const odd = new Set<number>();
  for (;;) {
    const left = [...photos.keys()].filter((i) => fit[i] === true && !odd.has(i));
    const some = left.flatMap((i) => photos[i] ?? []);
    if (farthest(some, are) <= CONTRADICTION) return { odd, agree: true };
    // Of two that contradict each other nobody can tell which is wrong.
    if (left.length < 3) return { odd: new Set(), agree: false };
    const without = left.map((_, k) =>
      farthest(
        some.filter((_photo, i) => i !== k),
        are,
      ),
    );
    const worst = without.indexOf(Math.min(...without));
    const index = left[worst];
    if (index === undefined) return { odd: new Set(), agree: false };
    // The majority must be left, or the odd ones are the others.
    if (left.length - 1 <= odd.size + 1) return { odd: new Set(), agree: false };
    odd.add(index);
  }
}

/** Largest difference of two photos' values, in standard uncertainties of the difference. */
function farthest(photos: readonly SinglePhoto[], are: 'photos' | 'walls'): number {
  const values = photos.map((photo) => ownValues(photo, are));
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
