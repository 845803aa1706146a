import { describe, expect, it } from 'vitest';
import { combineRoutes, type BudgetLine } from '../../src/band/budget.js';
import { compareRoutes } from '../../src/band/spacingCheck.js';
import { expectClose } from '../helpers/closeTo.js';
import { seeded } from '../synth/random.js';

const BUDGET: readonly BudgetLine[] = [
  { cause: 'scatter-null', type: 'A', nullHz: 0.3, spacingHz: 0 },
  { cause: 'scatter-spacing', type: 'A', nullHz: 0, spacingHz: 0.15 },
  { cause: 'speed', type: 'B', nullHz: 0.25, spacingHz: 0.8 },
  { cause: 'layer-origin', type: 'B', nullHz: 0.2, spacingHz: 0 },
];

describe('combineRoutes', () => {
  // Source: Monte Carlo in the manner of GUM Supplement 1 (JCGM 101:2008): every cause drawn, both routes
  // moved by it, combined with the same weight.
  it('claims the scatter that drawn causes show', () => {
    const random = seeded(7);
    const at = combineRoutes(40, 40, BUDGET);
    const weight = solveWeight();
    const draws = 40_000;
    let [square, cross, squareNull] = [0, 0, 0];
    for (let i = 0; i < draws; i += 1) {
      let [byNull, bySpacing] = [0, 0];
      for (const line of BUDGET) {
        const z = random.normal();
        byNull += line.nullHz * z;
        bySpacing += line.spacingHz * z;
      }
      square += (weight * byNull + (1 - weight) * bySpacing) ** 2 / draws;
      squareNull += byNull ** 2 / draws;
      cross += (byNull * bySpacing) / draws;
    }
    const why = '40,000 draws tell a standard deviation to 0.35 %; three of those';
    expectClose(at.combined.sd, Math.sqrt(square), { rel: 0.011, why });
    expectClose(at.fromNull.sd, Math.sqrt(squareNull), { rel: 0.011, why });
    expectClose(at.covariance, cross, { abs: 0.01, why: 'sd of a product over 40,000 draws' });
  });

  it('takes the weight that makes the variance least', () => {
    const { combined } = combineRoutes(41, 40, BUDGET);
    expectClose(combined.value - 40, solveWeight(), {
      abs: 1e-3,
      why: 'found here by trying a thousand weights',
    });
  });

  it('never leaves the span of the two routes', () => {
    // So strongly correlated that the best weights would be negative.
    const strong: BudgetLine[] = [
      { cause: 'scatter-null', type: 'A', nullHz: 0.05, spacingHz: 0 },
      { cause: 'speed', type: 'B', nullHz: 0.4, spacingHz: 0.8 },
    ];
    const { combined } = combineRoutes(41, 40, strong);
    expect(combined.value).toBe(41);
  });
});

/** The weight of the null route by trying, not by formula. */
function solveWeight(): number {
  let best = { weight: 0, variance: Infinity };
  for (let k = 0; k <= 1000; k += 1) {
    const weight = k / 1000;
    const variance = BUDGET.reduce(
      (sum, line) => sum + (weight * line.nullHz + (1 - weight) * line.spacingHz) ** 2,
      0,
    );
    if (variance < best.variance) best = { weight, variance };
  }
  return best.weight;
}

describe('compareRoutes', () => {
  const sure = { value: 40, sd: 0.01 };
  // Source: DESIGN 5.6, agreement within max(2.5 %, 3σ).
  it('within 2.5 % whatever the uncertainty', () => {
    expect(compareRoutes(sure, { value: 40.99, sd: 0.01 }, 0).agree).toBe(true);
    expect(compareRoutes(sure, { value: 41.05, sd: 0.01 }, 0).agree).toBe(false);
  });
  it('within three standard deviations of the difference', () => {
    expect(compareRoutes({ value: 40, sd: 0.6 }, { value: 42.9, sd: 0.8 }, 0).agree).toBe(true);
    expect(compareRoutes({ value: 40, sd: 0.6 }, { value: 43.1, sd: 0.8 }, 0).agree).toBe(false);
  });
  it('causes that both routes share do not excuse a difference', () => {
    expect(compareRoutes({ value: 40, sd: 0.6 }, { value: 42.9, sd: 0.8 }, 0.45).agree).toBe(false);
  });
});
