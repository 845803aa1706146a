import { dot, dots, subtractMultiples } from '../core/vector.js';

/** A column whose remainder is below this share of its length depends on those before it. */
const DEPENDENT = 1e-10;
/** Where this share of a column's length is left, taking the others out of it again would change nothing. */
const ONCE_IS_ENOUGH = Math.SQRT1_2;

/**
 * Orthonormal basis of the space that columns span, in their order.
 * @param columns - Columns of one length, each shape (n,); not modified.
 * @param tolerance - A column is dropped when less than this share of its length is left after the columns
 * before it are taken out; 1e-10 unless given.
 * @returns Orthonormal columns, each shape (n,); as many as there are independent ones.
 * @throws {RangeError} When the columns differ in length.
 * @see Classical Gram–Schmidt, a column again where it lost more than 1/√2 of its length: Daniel, Gragg, Kaufman &
 * Stewart, Math. Comp. 30, 1976; twice is enough: Giraud, Langou & Rozložník, "The loss of orthogonality in
 * the Gram–Schmidt orthogonalization process", Comput. Math. Appl. 50, 2005 (both from memory).
 */
export function orthonormalise(
  columns: readonly Float64Array[],
  tolerance: number = DEPENDENT,
): Float64Array[] {
  const basis: Float64Array[] = [];
  const length = columns[0]?.length ?? 0;
  for (const column of columns) {
    if (column.length !== length) {
      throw new RangeError(`Expected columns of length ${length} but received one of ${column.length}.`);
    }
    const whole = Math.sqrt(dot(column, column));
    const rest = column.slice();
    const takeOut = (): number => {
      subtractMultiples(rest, basis, dots(basis, [rest]));
      return Math.sqrt(dot(rest, rest));
    };
    let norm = takeOut();
    if (norm < ONCE_IS_ENOUGH * whole) norm = takeOut();
    if (!(norm > tolerance * whole)) continue;
    for (let i = 0; i < length; i += 1) rest[i] = rest[i]! / norm;
    basis.push(rest);
  }
  return basis;
}

/**
 * Solves M x = b for a symmetric positive definite matrix by Cholesky factors.
 * @param matrix - M, n × n row-major, shape (n·n,); only the lower triangle is read; not modified.
 * @param rhs - b, shape (n,); not modified.
 * @returns x, shape (n,), or undefined when M is not positive definite to working precision.
 * @throws {RangeError} When the matrix does not have n·n elements.
 */
export function solveSymmetric(matrix: Float64Array, rhs: Float64Array): Float64Array | undefined {
  const factor = choleskyFactor(matrix, rhs.length);
  if (factor === undefined) return undefined;
  const x = rhs.slice();
  solveLower(factor, x);
  solveUpper(factor, x);
  return x;
}

/**
 * Inverse of a symmetric positive definite matrix by Cholesky factors.
 * @param matrix - n × n row-major, shape (n·n,); only the lower triangle is read; not modified.
 * @param n - Number of rows.
 * @returns The inverse, n × n row-major, or undefined when the matrix is not positive definite to working
 * precision.
 * @throws {RangeError} When the matrix does not have n·n elements.
 */
export function invertSymmetric(matrix: Float64Array, n: number): Float64Array | undefined {
  const factor = choleskyFactor(matrix, n);
  if (factor === undefined) return undefined;
  const inverse = new Float64Array(n * n);
  for (let j = 0; j < n; j += 1) {
    const row = inverse.subarray(j * n, (j + 1) * n);
    row[j] = 1;
    solveLower(factor, row);
    solveUpper(factor, row);
  }
  return inverse;
}

/**
 * Normal matrix of columns: their dot products with each other.
 * @param columns - Columns of one length, each shape (n,); not modified.
 * @returns Symmetric matrix, row-major, as many rows as columns.
 */
export function normalMatrix(columns: readonly Float64Array[]): Float64Array {
  return dots(columns, columns);
}

/**
 * The combination of columns that comes nearest to values, by the normal equations: half the digits are lost
 * where columns are almost dependent.
 * @param columns - Columns of one length, each shape (n,); not modified.
 * @param values - Shape (n,); not modified.
 * @returns One coefficient for each column, or undefined when the columns are dependent.
 */
export function combineColumns(
  columns: readonly Float64Array[],
  values: Float64Array,
): Float64Array | undefined {
  return solveSymmetric(normalMatrix(columns), dots(columns, [values]));
}

/**
 * Cholesky factor of a symmetric positive definite matrix, M = L Lᵀ.
 * @param matrix - M, n × n row-major, shape (n·n,); only the lower triangle is read; not modified.
 * @param n - Number of rows.
 * @param factor - Receives L, shape (n·n,); zeros unless given. What lies above the diagonal is left as it is.
 * @returns `factor`, or undefined when a pivot vanishes in rounding.
 * @throws {RangeError} When the matrix does not have n·n elements.
 */
export function choleskyFactor(
  matrix: Float64Array,
  n: number,
  factor: Float64Array = new Float64Array(n * n),
): Float64Array | undefined {
  if (matrix.length !== n * n) {
    throw new RangeError(`Expected ${n * n} matrix elements for ${n} rows but received ${matrix.length}.`);
  }
  for (let i = 0; i < n; i += 1) {
    for (let j = 0; j <= i; j += 1) {
      let sum = matrix[i * n + j]!;
      for (let k = 0; k < j; k += 1) sum -= factor[i * n + k]! * factor[j * n + k]!;
      if (i > j) {
        factor[i * n + j] = sum / factor[j * n + j]!;
      } else {
        // What is left of a pivot after cancellation is rounding once it is n ε of the element itself.
        if (!(sum > n * Number.EPSILON * matrix[i * n + i]!)) return undefined;
        factor[i * n + i] = Math.sqrt(sum);
      }
    }
  }
  return factor;
}

/**
 * Solves L x = b in place. Of M = L Lᵀ, scalar products of such solutions are those of right-hand sides under M⁻¹.
 * @param factor - L of `choleskyFactor`, n × n row-major.
 * @param x - b, which becomes x, shape (n,).
 */
export function solveLower(factor: Float64Array, x: Float64Array): void {
  const n = x.length;
  for (let i = 0; i < n; i += 1) {
    let sum = x[i]!;
    for (let k = 0; k < i; k += 1) sum -= factor[i * n + k]! * x[k]!;
    x[i] = sum / factor[i * n + i]!;
  }
}

/**
 * Solves Lᵀ x = b in place.
 * @param factor - L of `choleskyFactor`, n × n row-major.
 * @param x - b, which becomes x, shape (n,).
 */
export function solveUpper(factor: Float64Array, x: Float64Array): void {
  const n = x.length;
  for (let i = n - 1; i >= 0; i -= 1) {
    let sum = x[i]!;
    for (let k = i + 1; k < n; k += 1) sum -= factor[k * n + i]! * x[k]!;
    x[i] = sum / factor[i * n + i]!;
  }
}
