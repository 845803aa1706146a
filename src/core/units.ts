/**
 * Names for bare numbers. They are aliases, not brands: they cost nothing at run time and tell a reader
 * which unit crosses a boundary. Angles are degrees at the edges and radians inside.
 */

/** A length in millimetres. */
export type Mm = number;
/** A frequency in hertz. */
export type Hz = number;
/** A time in seconds. */
export type Seconds = number;
/** A speed in millimetres per second. */
export type MmPerS = number;
/** An acceleration in millimetres per second squared. */
export type MmPerS2 = number;
/** A mass in kilograms. */
export type Kg = number;
/** A distance in pixels of the upright photo. */
export type Px = number;
/** A damping ratio ζ, the share of critical damping (1 is critical). */
export type DampingRatio = number;

/** Millimetres in an inch, exact by the international definition of 1959 (from memory). */
export const MM_PER_INCH = 25.4;
