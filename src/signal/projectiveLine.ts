import { combineColumns } from './leastSquares.js';

/**
 * Even divisions of a straight line, as a camera sees them: division k lies at (a + b u) ÷ (1 + c u), u = k − middle.
 * Written about a division in the middle, the three numbers are nearly independent.
 */
export interface ProjectiveLine {
  readonly middle: number;
  readonly a: number;
  readonly b: number;
  readonly c: number;
}

/**
 * Where a division lies.
 * @param line - The map.
 * @param k - Number of the division; need not be whole.
 * @returns Its position.
 */
export function positionOn(line: ProjectiveLine, k: number): number {
  const u = k - line.middle;
  return (line.a + line.b * u) / (1 + line.c * u);
}

/**
 * How far apart divisions lie at a place.
 * @param line - The map.
 * @param k - Number of the division.
 * @returns Change of position for one division.
 */
export function spacingOn(line: ProjectiveLine, k: number): number {
  return (line.b - line.a * line.c) / (1 + line.c * (k - line.middle)) ** 2;
}

/**
 * Fits the map to divisions by least squares of position, each with a weight.
 * @param numbers - Numbers of the divisions, shape (n,), n ≥ 4, not all the same; not modified.
 * @param positions - Their positions, shape (n,); not modified.
 * @param weights - Inverse variances up to a factor, shape (n,); not modified.
 * @returns The map, or undefined where the divisions do not tell it.
 * @throws {RangeError} When there are fewer than four or the counts differ.
 * @see A projective map of a line has three parameters (Hartley & Zisserman, *Multiple View Geometry*, 2nd ed. 2003,
 * section 2.5; from memory). x (1 + c u) = a + b u is linear in them; dividing each row by 1 + c u of the fit before
 * turns its algebraic residual into the geometric one.
 */
export function fitProjectiveLine(
  numbers: ArrayLike<number>,
  positions: ArrayLike<number>,
  weights: ArrayLike<number>,
): ProjectiveLine | undefined {
  const n = numbers.length;
  if (n < 4 || positions.length !== n || weights.length !== n) {
    throw new RangeError(
      `Expected at least four divisions but received ${n} numbers, ${positions.length} positions and ${weights.length} weights.`,
    );
  }
  let [middle, total] = [0, 0];
  for (let i = 0; i < n; i += 1) {
    middle += weights[i]! * numbers[i]!;
    total += weights[i]!;
  }
  middle /= total;
  const PASSES = 3;
  let line: ProjectiveLine | undefined;
  for (let pass = 0; pass < PASSES; pass += 1) {
    const columns = [new Float64Array(n), new Float64Array(n), new Float64Array(n)] as const;
    const values = new Float64Array(n);
    for (let i = 0; i < n; i += 1) {
      const u = numbers[i]! - middle;
      const scale = Math.sqrt(weights[i]!) / (1 + (line?.c ?? 0) * u);
      columns[0][i] = scale;
      columns[1][i] = scale * u;
      columns[2][i] = -scale * u * positions[i]!;
      values[i] = scale * positions[i]!;
    }
    const solution = combineColumns(columns, values);
    if (solution === undefined) return undefined;
    line = { middle, a: solution[0]!, b: solution[1]!, c: solution[2]! };
  }
  return line;
}
