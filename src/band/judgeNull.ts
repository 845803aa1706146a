import { combineSd, COVERAGE_95, interval95, relativeU95, type Estimate } from '../core/estimate.js';
import { REVERSAL_F, SHAPER_TOLERANCE } from '../core/outcome.js';
import type { Hz, Mm } from '../core/units.js';
import { residualSize } from '../physics/residual.js';
import { shaperImpulses } from '../physics/shapers.js';
import {
  ladderHeightsAt,
  ladderHzAt,
  ladderRangeHz,
  laddersOf,
  ladderSlopeHzPerMm,
  type Ladder,
} from '../print/ladder.js';
import type { PrintSettings } from '../print/settle.js';
import { combineRoutes, type BudgetLine, type CombinedRoutes } from './budget.js';
import {
  firstFailing,
  refusal,
  type BestHeight,
  type Proposed,
  type Refused,
  type Proposal,
} from './decision.js';
import { isHumped } from './nullFit.js';
import type { SharedNull } from './nullTogether.js';
import { compareRoutes, type SpacingCheck, type SpacingConflict } from './spacingCheck.js';

const SIDE_SIGNAL = 2;

/** A null this far from where the spacing expects it is no null of this axis, however uncertain it is. */
export const FAR_APART = 0.1;

/** Misfits this near are told apart by nothing but chance. */
const NO_WORSE = 1.2;

/** Residual ringing that counts as clean, share of the unshaped. */
export const CLEAN_SHARE = 0.05;

/** Where the shaper's damping setting does not fit the axis, ringing never falls to that share: then up to
 * this many times the least counts as clean. */
const CLEAN_OVER_LEAST = Math.SQRT2;

/** Of 2- and 3-hump EI what is left this far off is part of the band: their inner humps, whose tops lie at 1 and 1.2. */
const HUMP_TOP = 1.2;

const UPSIDE_DOWN = 'misfit upside down ÷ misfit as told';

const BETWEEN_ROUTES = 'null and frequency by spacing apart, Hz';

/** A null that was found, what the spacing says of it, and what is known of both. */
export interface FoundNull {
  readonly settings: PrintSettings;
  readonly fit: SharedNull;
  /** The null that the spacing predicts. */
  readonly expectedHz: Hz;
  readonly budget: readonly BudgetLine[];
  /** The null with the face turned upside down. */
  readonly turned: TurnedOver;
}

/** Lowest and highest frequency of a ladder. */
type Range = NonNullable<ReturnType<typeof ladderRangeHz>>;

/** What became of a null. */
export interface JudgedNull {
  readonly proposal: Proposal;
  readonly spacingCheck: Pick<SpacingCheck, 'expectedNullHz' | 'state' | 'explanation'>;
  readonly routes: CombinedRoutes;
}

/** The null with the face turned upside down. */
export interface TurnedOver {
  /** Its misfit ÷ that as told, over the heights that the ladder covers both ways; Infinity where they are too few. */
  readonly misfit: number;
  readonly nullHz: Hz;
}

/**
 * Holds a null against the spacing, the ladder and its own uncertainty.
 * @param found - The null, and what is known of it.
 * @returns The proposal or the refusal with its reason.
 */
export function judgeNull(found: FoundNull): JudgedNull {
  const { settings, fit, expectedHz, budget, turned } = found;
  const routes = combineRoutes(fit.nullHz, expectedHz, budget);
  const { agree, apartHz, limitHz } = compareRoutes(routes.fromNull, routes.fromSpacing, routes.covariance);
  const spacingCheck = {
    expectedNullHz: routes.fromSpacing,
    state: agree ? 'agrees' : 'disagrees',
    ...(agree && !(routes.strain > COVERAGE_95)
      ? {}
      : { explanation: explain(settings, fit, expectedHz, turned) }),
  } as const;
  const nullU95 = relativeU95(routes.fromNull);
  // Of several ladders each may pass it once.
  const passes = Math.max(
    ...laddersOf(settings.ladder).flatMap((ladder) =>
      [fit.nullHz, expectedHz].map((hz) => ladderHeightsAt(ladder, hz).length),
    ),
  );
  const weaker = Math.min(fit.signalBelow, fit.signalAbove);
  const apart = Math.abs(fit.nullHz / expectedHz - 1);
  const convincing = fit.reversalF > REVERSAL_F && weaker > SIDE_SIGNAL;
  const { lowest, highest } = wellInside(settings.ladder, fit.nullHz, 1 + routes.fromNull.sd);
  const below = fit.nullHz < lowest;
  const above = fit.nullHz > highest;
  const unfit = firstFailing([
    ['two-bands-possible', passes > 1, 'heights at which the ladder passes the frequency', passes, 1],
    // So much better turned over, that nothing else needs to be looked for.
    ['ladder-reversed', agree && turned.misfit < 1 / NO_WORSE, UPSIDE_DOWN, turned.misfit, 1 / NO_WORSE],
    ['spacing-disagrees', !agree && convincing, BETWEEN_ROUTES, apartHz, limitHz],
    // The spacing says that the frequency lies well inside the ladder, but nothing turns over there.
    ['no-reversal', apart > FAR_APART && below, 'null, Hz', fit.nullHz, lowest],
    ['no-reversal', apart > FAR_APART && above, 'null, Hz', fit.nullHz, highest],
    ['below-ladder', below, 'null, Hz', fit.nullHz, lowest],
    ['above-ladder', above, 'null, Hz', fit.nullHz, highest],
    ['one-sided', weaker <= SIDE_SIGNAL, 'signal of the weaker side ÷ noise', weaker, SIDE_SIGNAL],
    ['no-reversal', fit.reversalF <= REVERSAL_F, 'F of the sign reversal', fit.reversalF, REVERSAL_F],
    ['spacing-disagrees', !agree, BETWEEN_ROUTES, apartHz, limitHz],
    [
      'too-uncertain',
      nullU95 > SHAPER_TOLERANCE.ZVD,
      '95 % half-width ÷ frequency of the null',
      nullU95,
      SHAPER_TOLERANCE.ZVD,
    ],
    ['ladder-reversed', turned.misfit < 1, UPSIDE_DOWN, turned.misfit, 1],
  ]);
  return { proposal: unfit ?? propose(settings, fit, routes), spacingCheck, routes };
}

/** Between what frequencies a null is well inside a ladder: of several, inside the one whose ends it keeps off best. */
function wellInside(ladder: Ladder, nullHz: Hz, marginHz: Hz): { readonly lowest: Hz; readonly highest: Hz } {
  const inside = laddersOf(ladder).flatMap((one) => {
    const range = ladderRangeHz(one);
    return range === undefined ? [] : [{ lowest: range.lowHz + marginHz, highest: range.highHz - marginHz }];
  });
  const short = (one: (typeof inside)[number]) => Math.max(one.lowest - nullHz, nullHz - one.highest);
  return inside.reduce((best, one) => (short(one) < short(best) ? one : best));
}

function propose(settings: PrintSettings, fit: SharedNull, routes: CombinedRoutes): Proposal {
  const { combined } = routes;
  const relative = relativeU95(combined);
  const heights = laddersOf(settings.ladder).flatMap((ladder) => bestIn(ladder, settings, fit, combined));
  const [lowest] = heights;
  if (relative > SHAPER_TOLERANCE.ZVD || lowest === undefined) {
    return refusal('too-uncertain', '95 % half-width ÷ frequency', relative, SHAPER_TOLERANCE.ZVD);
  }
  const width = ({ bestHeightMm }: BestHeight) => bestHeightMm.high95 - bestHeightMm.low95;
  const best = heights.reduce((one, other) => (width(other) < width(one) ? other : one), lowest);
  return {
    state: 'proposed',
    frequencyHz: interval95(combined),
    fromNull: interval95(routes.fromNull),
    fromSpacing: interval95(routes.fromSpacing),
    combined: interval95(combined),
    ...best,
    ...(settings.ladder.kind === 'several' ? { bestHeights: heights } : {}),
    goodFor: relative <= SHAPER_TOLERANCE.ZV ? 'ZV' : 'ZVD',
    axis: settings.axis,
  };
}

/** The best height on a ladder that has the frequency, and the band around it. */
function bestIn(
  ladder: Ladder,
  settings: PrintSettings,
  fit: SharedNull,
  combined: Estimate,
): readonly BestHeight[] {
  const [height] = ladderHeightsAt(ladder, combined.value);
  if (height === undefined) return [];
  const slope = Math.abs(ladderSlopeHzPerMm(ladder, height.value));
  // Rounding to a layer is in the frequency's budget; rounding to a step is not.
  const rounding = ladder.kind === 'stepped' ? height.sd : 0;
  const sd = slope === 0 ? height.sd : combineSd(combined.sd / slope, rounding);
  return [
    {
      bestHeightMm: interval95({ value: height.value, sd }),
      cleanBandMm: cleanBand({ ...settings, ladder }, fit, height.value),
    },
  ];
}

/** Heights around the best one where little ringing is left, walked in steps of a tenth of a layer. */
function cleanBand(settings: PrintSettings, fit: SharedNull, bestMm: Mm): Proposed['cleanBandMm'] {
  const stepMm = settings.layerHeightMm / 10;
  // The best height is the combined one; the model's null is moved there, so that the band surrounds it.
  const atBest = ladderHzAt(settings.ladder, bestMm)?.value ?? fit.nullHz;
  const scale = fit.nullHz / atBest;
  const left = (hz: Hz) =>
    residualSize(shaperImpulses({ ...settings.shaper, hz }), fit.naturalHz, fit.dampingRatio);
  const inner = isHumped(settings.shaper.family) ? [1 / HUMP_TOP, 1, HUMP_TOP] : [1];
  const reached = Math.max(...inner.map((share) => left(share * fit.nullHz)));
  const most = Math.max(CLEAN_SHARE, CLEAN_OVER_LEAST * reached);
  const clean = (heightMm: Mm) => {
    const hz = ladderHzAt(settings.ladder, heightMm)?.value;
    return hz !== undefined && left(hz * scale) <= most;
  };
  let low = bestMm;
  let high = bestMm;
  while (clean(low - stepMm)) low -= stepMm;
  while (clean(high + stepMm)) high += stepMm;
  return { low, high, mostLeft: most };
}

/** Which single mistake would reconcile null and spacing. */
function explain(
  settings: PrintSettings,
  fit: SharedNull,
  expectedHz: Hz,
  turned: TurnedOver,
): SpacingConflict {
  const apart = (nullHz: Hz) => Math.abs(nullHz / expectedHz - 1);
  // Turned over it would agree with the spacing, and fit the ladder no worse.
  const reversed =
    turned.misfit < NO_WORSE && apart(turned.nullHz) < Math.min(FAR_APART / 2, apart(fit.nullHz));
  const height = ladderHeightsAt(settings.ladder, fit.nullHz)[0];
  return {
    cause: turned.misfit < 1 || reversed ? 'reversed-ladder' : 'speed',
    impliedSpeedMmPerS: (settings.speedMmPerS.value * fit.nullHz) / expectedHz,
    nullHz: fit.nullHz,
    ...(height === undefined ? {} : { nullHeightMm: height.value }),
  };
}

/**
 * The refusal of ripples whose null lies outside the ladder.
 * @param expectedHz - The null that the spacing predicts.
 * @param range - Frequencies of the ladder.
 * @returns The refusal, or undefined where it may lie inside.
 */
export function outsideLadder(
  { value: expectedHz, sd: expectedSd }: Estimate,
  range: Range,
): Refused | undefined {
  return firstFailing([
    [
      'below-ladder',
      expectedHz + 2 * expectedSd < range.lowHz,
      'frequency by spacing and two standard uncertainties, Hz',
      expectedHz + 2 * expectedSd,
      range.lowHz,
    ],
    [
      'above-ladder',
      expectedHz - 2 * expectedSd > range.highHz,
      'frequency by spacing less two standard uncertainties, Hz',
      expectedHz - 2 * expectedSd,
      range.highHz,
    ],
  ]);
}
