import type { Estimate, Interval } from '../core/estimate.js';
import type { RefusalReason } from '../core/outcome.js';
import type { Mm } from '../core/units.js';
import type { FaceGeometry } from '../face/rectifyFace.js';
import type { PrintSettings } from '../print/settle.js';
import type { Profiles } from '../profiles/makeProfiles.js';
import type { Ripples } from '../ripple/measureRipples.js';
import type { ProofRipples } from '../ripple/proofRipples.js';
import type { BudgetLine } from './budget.js';
import type { NullFit } from './nullFit.js';
import type { SharedNull } from './nullTogether.js';
import type { Proof } from './proof.js';
import type { EarlierHz, SinceThen } from './sinceThen.js';
import type { SpacingCheck } from './spacingCheck.js';

/** The number that decided, beside the limit it was held against. */
export interface Criterion {
  readonly quantity: string;
  readonly value: number;
  readonly limit: number;
}

/** Where on a ladder ringing vanishes. */
export interface BestHeight {
  /** Height above the bed. */
  readonly bestHeightMm: Interval;
  /** Heights above the bed where little ringing is left by the model: at most `mostLeft`. */
  readonly cleanBandMm: {
    readonly low: Mm;
    readonly high: Mm;
    /** Share of the unshaped ringing: 0.05, or √2 times the least (of hump shapers: their inner humps) where that is more. */
    readonly mostLeft: number;
  };
}

/** A band that can be proposed: of several ladders the one whose best height is best known. */
export interface Proposed extends BestHeight {
  readonly state: 'proposed';
  /** Ladder frequency at which this axis rings least: what to enter. */
  readonly frequencyHz: Interval;
  readonly fromNull: Interval;
  readonly fromSpacing: Interval;
  readonly combined: Interval;
  /** Of several ladders: all that have the frequency, from the bottom up. */
  readonly bestHeights?: readonly BestHeight[];
  /** What the 95 % interval is good enough for. */
  readonly goodFor: 'ZV' | 'ZVD';
  readonly axis: string;
}

/** No band can be proposed, because … */
export interface Refused {
  readonly state: 'refused';
  readonly reason: RefusalReason;
  readonly criterion?: Criterion;
}

/** Asked for the frequency by spacing only: no ladder is needed. */
export interface SpacingOnly {
  readonly state: 'spacing-only';
  /** Damped frequency of the axis. */
  readonly frequencyHz: Interval;
  readonly axis: string;
  /** Held against an earlier frequency, where one was told. */
  readonly since?: SinceThen;
}

export type Proposal = Proposed | Refused | SpacingOnly | Proof;

/** Everything that was found on the way to the decision. */
export interface Decision {
  readonly proposal: Proposal;
  readonly spacingCheck: SpacingCheck;
  /** Damped frequency and damping ratio with all causes of uncertainty; absent when nothing repeats. */
  readonly ringing?: {
    readonly frequencyHz: Estimate;
    readonly dampingRatio: Estimate;
    /** Of a second swing, with its amplitude ÷ the first's; absent where none stands out. */
    readonly second?: {
      readonly frequencyHz: Estimate;
      readonly dampingRatio: Estimate;
      readonly share: number;
    };
  };
  /** Of the null and the one that the spacing predicts; of the frequency by spacing alone where no null was looked for. */
  readonly budget: readonly BudgetLine[];
  /** The fit along the ladder, where one was possible. */
  readonly nullFit?: NullFit;
  /** Ladder frequency of its null, with all causes of uncertainty. */
  readonly fromNull?: Estimate;
  /** How far null and spacing lie apart, in standard uncertainties of their difference. */
  readonly strain?: number;
  /** What became of each wall, from the leading corner on; absent where there is one. */
  readonly walls?: readonly WallUse[];
  /** Of the ripples of all walls together; absent where the leading corner's alone count. */
  readonly signalToNoise?: number;
}

/**
 * What a wall is to the result.
 *
 * - `used`: fitted, with the others that are used.
 * - `not-seen`: the slot that was told before it shows no gap.
 * - `too-short`: too little of it is left to tell ripples.
 * - `unfit`: its own ripples are not such that other walls could make up for it, or the leading corner's are not.
 * - `contradicts`: its frequency or its null is another than the others', or no null fits it together with them.
 * - `not-tried`: a proof print, a re-check by spacing, or layers printed in alternating directions, which are read from
 *   the leading corner's wall only.
 */
export type WallUse = 'used' | 'not-seen' | 'too-short' | 'unfit' | 'contradicts' | 'not-tried';

/** The same of one photo or of several, whose null has no path over one height. */
export type Decided = Omit<Decision, 'nullFit'> & { readonly nullFit?: SharedNull };

/** Where the face is, and how much of it is burnt out once its pixels have been looked at. */
export interface SeenGeometry extends FaceGeometry {
  /** Share of the face's pixels at the brightest code. */
  readonly clippedShare?: number;
}

/** What the stages before have measured. */
export interface Evidence {
  readonly settings: PrintSettings;
  readonly geometry: SeenGeometry;
  readonly profiles: Profiles | undefined;
  readonly ripples: Ripples | undefined;
  /** Of a proof print: amplitudes by acceleration; absent where none was printed, asked for or read. */
  readonly proof?: ProofRipples;
  /** The user asked for a quick re-check by spacing only. */
  readonly spacingOnly: boolean;
  /** An earlier frequency, to hold the one by spacing against. */
  readonly was?: EarlierHz;
  /** Fields of the print record that were assumed. */
  readonly assumed: ReadonlySet<string>;
}

/** A reason, whether it applies, and the number that decides beside its limit. */
export type Gate = readonly [
  reason: RefusalReason,
  applies: boolean,
  quantity: string,
  value: number,
  limit: number,
];

/**
 * The first reason that applies.
 * @param gates - Reasons in their order.
 * @returns The refusal, or undefined where none applies.
 */
export function firstFailing(gates: readonly Gate[]): Refused | undefined {
  const gate = gates.find(([, applies]) => applies);
  return gate && refusal(gate[0], gate[2], gate[3], gate[4]);
}

/**
 * A refusal with the number that decided.
 * @param reason - The reason.
 * @param quantity - What was held against the limit.
 * @param value - Its value.
 * @param limit - The limit.
 * @returns The refusal.
 */
export function refusal(reason: RefusalReason, quantity: string, value: number, limit: number): Refused {
  return { state: 'refused', reason, criterion: { quantity, value, limit } };
}

/** What stands before a decision: all of it but the proposal. */
export type Found = Omit<Decision, 'proposal'>;
/** The same, where ripples were measured. */
export type FoundRinging = Found & { readonly ringing: NonNullable<Found['ringing']> };
