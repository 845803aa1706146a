/** A point or direction of the scene, mm: x right, y up, z towards the camera. */
export type Vector = readonly [number, number, number];

/**
 * Sum of two vectors.
 * @param a - One.
 * @param b - The other.
 */
export function plus(a: Vector, b: Vector): Vector {
  return [a[0] + b[0], a[1] + b[1], a[2] + b[2]];
}

/**
 * First minus second.
 * @param a - From which is subtracted.
 * @param b - What is subtracted.
 */
export function minus(a: Vector, b: Vector): Vector {
  return [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
}

/**
 * A vector made longer.
 * @param a - The vector.
 * @param factor - By how much.
 */
export function times(a: Vector, factor: number): Vector {
  return [a[0] * factor, a[1] * factor, a[2] * factor];
}

/**
 * Scalar product.
 * @param a - One.
 * @param b - The other.
 */
export function dot(a: Vector, b: Vector): number {
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

/**
 * Vector product.
 * @param a - One.
 * @param b - The other.
 */
export function cross(a: Vector, b: Vector): Vector {
  return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
}

/**
 * The same direction with length 1.
 * @param a - Not zero.
 */
export function unit(a: Vector): Vector {
  return times(a, 1 / Math.hypot(...a));
}

/** A place and three directions at right angles to each other. */
export interface Frame {
  readonly originMm: Vector;
  readonly x: Vector;
  readonly y: Vector;
  readonly z: Vector;
}

/**
 * A point given in a frame.
 * @param frame - The frame.
 * @param point - Along its x, y and z, mm.
 */
export function inFrame(frame: Frame, point: Vector): Vector {
  return plus(
    frame.originMm,
    plus(times(frame.x, point[0]), plus(times(frame.y, point[1]), times(frame.z, point[2]))),
  );
}

/**
 * A frame that stands upright, turned about the vertical.
 * @param originMm - Its origin.
 * @param yawRad - From z towards x.
 */
export function uprightFrame(originMm: Vector, yawRad = 0): Frame {
  const [sine, cosine] = [Math.sin(yawRad), Math.cos(yawRad)];
  return { originMm, x: [cosine, 0, -sine], y: [0, 1, 0], z: [sine, 0, cosine] };
}
