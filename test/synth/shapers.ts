/** One impulse of a shaper: its share of the command, and how late it is given. */
export interface Impulse {
  readonly share: number;
  readonly lateS: number;
}

/** Families that are drawn. */
export type DrawnFamily = 'ZV' | 'ZVD' | 'ZVDD' | 'EI' | HumpFamily;
type HumpFamily = '2-hump EI' | '3-hump EI';

/**
 * EI with 5 % tolerated vibration, amplitudes and times in natural periods, as test/reference/shapers.json has it
 * (solved there from the published constraints by another program).
 */
const EI: ReadonlyMap<number, { readonly shares: readonly number[]; readonly periods: readonly number[] }> =
  new Map([
    [
      0.05,
      {
        shares: [0.3067604135539185, 0.4676502501077095, 0.22558933633837203],
        periods: [0, 0.501696136290185, 0.9994941642506019],
      },
    ],
    [
      0.1,
      {
        shares: [0.354712930005019, 0.4534214134990062, 0.19186565649597476],
        periods: [0, 0.5051343270337372, 1.000924847994807],
      },
    ],
  ]);

/**
 * 2- and 3-hump EI with 5 % tolerated vibration, without damping, half a period apart: test/reference/shapers.json has
 * them from another program. With damping each is K times weaker for every half damped period, as of the ZV family: an
 * approximation, whose zeros with damping are no longer exact (test/physics/shapers.test.ts).
 */
const HUMPS: Readonly<Record<HumpFamily, readonly number[]>> = {
  '2-hump EI': [0.15979720215540805, 0.34020279784459195, 0.34020279784459195, 0.15979720215540805],
  '3-hump EI': [0.11237962936504912, 0.2375, 0.30024074126990175, 0.2375, 0.11237962936504912],
};

/**
 * What a shaper leaves of the swing, against a step without one.
 * @param shaper - Its impulses.
 * @param naturalHz - The axis's natural frequency.
 * @param dampingRatio - The axis's damping ratio.
 * @returns Σ Aᵢ e^{−λtᵢ}, λ = 2πf_n(−ζ + j√(1 − ζ²)), referred to the first impulse, as [re, im].
 * @see Singer & Seering 1990 (from memory), without the factor of decay to the last impulse.
 */
export function residualOf(
  shaper: readonly Impulse[],
  naturalHz: number,
  dampingRatio: number,
): readonly [number, number] {
  const omega = 2 * Math.PI * naturalHz;
  const damped = omega * Math.sqrt(1 - dampingRatio ** 2);
  let re = 0;
  let im = 0;
  for (const { share, lateS } of shaper) {
    const size = share * Math.exp(dampingRatio * omega * lateS);
    re += size * Math.cos(damped * lateS);
    im -= size * Math.sin(damped * lateS);
  }
  return [re, im];
}

/**
 * The impulses of a shaper for a natural frequency, written out again apart from src.
 * @param family - Which shaper.
 * @param hz - Natural frequency it is set to, Hz.
 * @param dampingRatio - Damping ratio it is set to; EI knows 0.05 and 0.1.
 * @returns Impulses, the first at 0; shares sum to 1.
 * @throws {RangeError} EI at another damping ratio.
 * @see Singer & Seering, J. Dyn. Sys. Meas. Control 112, 1990, 76–82 (ZV, ZVD, ZVDD; from memory): K = e^{−ζπ/√(1−ζ²)},
 * half a damped period between impulses.
 */
export function shaperOf(family: DrawnFamily, hz: number, dampingRatio: number): readonly Impulse[] {
  if (family === 'EI') {
    const found = EI.get(dampingRatio);
    if (found === undefined) {
      throw new RangeError(`Expected a damping ratio of 0.05 or 0.1 for EI but received ${dampingRatio}.`);
    }
    return found.shares.map((share, i) => ({ share, lateS: found.periods[i]! / hz }));
  }
  const root = Math.sqrt(1 - dampingRatio ** 2);
  const k = Math.exp((-Math.PI * dampingRatio) / root);
  const halfS = 1 / (2 * hz * root);
  if (family === 'ZV') {
    return [
      { share: 1 / (1 + k), lateS: 0 },
      { share: k / (1 + k), lateS: halfS },
    ];
  }
  if (family === 'ZVDD') {
    return [1, 3 * k, 3 * k ** 2, k ** 3].map((share, i) => ({
      share: share / (1 + k) ** 3,
      lateS: i * halfS,
    }));
  }
  if (family !== 'ZVD') {
    const weaker = HUMPS[family].map((share, i) => share * k ** i);
    const all = weaker.reduce((total, share) => total + share, 0);
    return weaker.map((share, i) => ({ share: share / all, lateS: i * halfS }));
  }
  const sum = (1 + k) ** 2;
  return [
    { share: 1 / sum, lateS: 0 },
    { share: (2 * k) / sum, lateS: halfS },
    { share: k ** 2 / sum, lateS: 2 * halfS },
  ];
}
