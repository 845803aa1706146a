/** Seeded random numbers, so that every drawn face is the same on every machine. */
export interface Random {
  /** Even between low and high. */
  readonly even: (low: number, high: number) => number;
  /** Even in the logarithm between low and high, both > 0. */
  readonly logEven: (low: number, high: number) => number;
  /** Normal with mean 0 and standard deviation 1. */
  readonly normal: () => number;
  /** True with this probability. */
  readonly chance: (probability: number) => boolean;
  /** One of a list. */
  readonly pick: <T>(list: readonly T[]) => T;
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
    logEven: (low, high) => low * (high / low) ** next(),
    normal: () => Math.sqrt(-2 * Math.log(next())) * Math.cos(2 * Math.PI * next()),
    chance: (probability) => next() < probability,
    pick: (list) => list[Math.min(list.length - 1, Math.floor(list.length * next()))]!,
  };
}

const TABLE_BITS = 14;
let table: Float32Array | undefined;

/** Quantiles of the normal distribution in the middles of 2^14 equal shares, scaled to variance 1. */
function normalTable(): Float32Array {
  if (table !== undefined) return table;
  const size = 1 << TABLE_BITS;
  const values = new Float64Array(size);
  // Distribution by Simpson's rule outwards from 0, and its inverse by walking along: 1e-9 is ample here.
  const step = 1e-4;
  const density = (x: number) => Math.exp((-x * x) / 2) / Math.sqrt(2 * Math.PI);
  let x = 0;
  let below = 0.5;
  for (let i = size / 2; i < size; i += 1) {
    const wanted = (i + 0.5) / size;
    for (;;) {
      const after = below + (step / 6) * (density(x) + 4 * density(x + step / 2) + density(x + step));
      if (after > wanted) break;
      below = after;
      x += step;
    }
    values[i] = x + (wanted - below) / density(x);
    values[size - 1 - i] = -values[i]!;
  }
  const scale = Math.sqrt(values.reduce((sum, value) => sum + value * value, 0) / size);
  table = Float32Array.from(values, (value) => value / scale);
  return table;
}

/**
 * Many normal numbers at a few nanoseconds each: xorshift32 picks one of 2^14 quantiles. The largest is 4.0.
 * @param seed - Any whole number but 0.
 * @returns A source of numbers with mean 0 and standard deviation 1.
 */
export function fastNormals(seed: number): () => number {
  const quantiles = normalTable();
  let state = Math.imul(seed, 0x9e3779b1) | 0 || 1;
  return () => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return quantiles[state >>> (32 - TABLE_BITS)]!;
  };
}
