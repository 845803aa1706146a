/** Seeded random numbers, so that every drawn face is the same on every machine. */
export interface Random {
  /** Even between low and high. */
  readonly even: (low: number, high: number) => number;
  /** Normal with mean 0 and standard deviation 1. */
  readonly normal: () => number;
}

/**
 * Marsaglia's xorshift32 (Journal of Statistical Software 8(14), 2003; from memory) with Box–Muller.
 * @param seed - Any whole number but 0.
 * @returns A generator.
 */
export function seeded(seed: number): Random {
  let state = seed | 0 || 1;
  const next = (): number => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return ((state >>> 0) + 0.5) / 4294967296;
  };
  // The first numbers of small seeds are small: let them pass.
  for (let i = 0; i < 20; i += 1) next();
  return {
    even: (low, high) => low + (high - low) * next(),
    normal: () => Math.sqrt(-2 * Math.log(next())) * Math.cos(2 * Math.PI * next()),
  };
}
