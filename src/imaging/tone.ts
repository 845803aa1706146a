import ndarray from 'ndarray';
import type { CodeImage } from '../core/image.js';

/** Constants of the sRGB curve, IEC 61966-2-1. */
const LINEAR_SLOPE = 12.92;
const OFFSET = 0.055;
const EXPONENT = 2.4;
/** Where the straight part ends: in code, and in linear light. */
const CODE_KNEE = 0.04045;
const LINEAR_KNEE = 0.0031308;

/**
 * Linear light of an sRGB code value.
 * @param code01 - Code divided by its maximum, 0 to 1.
 * @returns Linear light, 0 to 1.
 * @see IEC 61966-2-1.
 * @internal
 */
export function srgbToLinear(code01: number): number {
  return code01 <= CODE_KNEE ? code01 / LINEAR_SLOPE : ((code01 + OFFSET) / (1 + OFFSET)) ** EXPONENT;
}

/**
 * sRGB code value of linear light.
 * @param linear - Linear light, 0 to 1.
 * @returns Code divided by its maximum, 0 to 1; not rounded.
 * @see IEC 61966-2-1.
 */
export function linearToSrgb(linear: number): number {
  return linear <= LINEAR_KNEE ? linear * LINEAR_SLOPE : (1 + OFFSET) * linear ** (1 / EXPONENT) - OFFSET;
}

/**
 * Linear light of every sRGB code.
 * @param bits - Bits per code value.
 * @returns Linear light by code, shape (2^bits,).
 */
export function linearLut(bits: 8 | 16): Float32Array {
  const size = 2 ** bits;
  return Float32Array.from({ length: size }, (_, code) => srgbToLinear(code / (size - 1)));
}

/**
 * Codes of 16 bits cut to their upper 8; those of 8 bits as they are.
 * @param codes - Grey codes, any strides; not modified.
 * @returns Codes of 8 bits in the same order.
 */
export function eightBits(codes: CodeImage): CodeImage {
  if (codes.data instanceof Uint8Array) return codes;
  return ndarray(
    Uint8Array.from(codes.data, (code) => code >> 8),
    codes.shape,
    codes.stride,
    codes.offset,
  );
}
