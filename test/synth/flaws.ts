import type { Random } from './random.js';

/** What spoils a face. Places are mm from the leading corner and above the lower edge. */
export interface Flaws {
  /** The corner bulges: relative brightness there, dying out within half a millimetre. */
  readonly bulge?: number;
  readonly slot?: { readonly fromMm: number; readonly widthMm: number };
  readonly penLine?: { readonly heightMm: number; readonly widthMm: number };
  /** Blots: relative brightness in the middle, and radius. */
  readonly stains?: readonly {
    readonly xMm: number;
    readonly heightMm: number;
    readonly radiusMm: number;
    readonly depth: number;
  }[];
  /** Thin straight lines. */
  readonly scratches?: readonly {
    readonly xMm: number;
    readonly heightMm: number;
    readonly lengthMm: number;
    /** From the wall's direction, degrees. */
    readonly angleDeg: number;
    readonly widthMm: number;
    readonly depth: number;
  }[];
  /** The seam lies on the leading corner: relative unevenness of brightness in its first millimetre. */
  readonly seam?: number;
  /** Foot without ripples, of another brightness. */
  readonly brimMm?: number;
  /** All layers above a height lie beside the others by so much, along the wall; the corners are clicked on both. */
  readonly shift?: { readonly heightMm: number; readonly byMm: number };
}

/**
 * How far a layer lies beside the line from the lower corner to the upper one.
 * @param flaws - What spoils the face.
 * @param atMm - The layer's height.
 * @param heightMm - Height of the face.
 * @returns Mm along the wall.
 */
export function shiftAt({ shift }: Flaws, atMm: number, heightMm: number): number {
  if (shift === undefined) return 0;
  return shift.byMm * ((atMm > shift.heightMm ? 1 : 0) - atMm / heightMm);
}

/**
 * Spoils one layer.
 * @param light - Its brightness along the wall; changed.
 * @param positionsMm - Where the brightness is.
 * @param heightMm - The layer's middle.
 * @param flaws - What spoils it.
 * @param random - Where the seam's unevenness comes from.
 */
export function spoil(
  light: Float32Array,
  positionsMm: Float64Array,
  heightMm: number,
  flaws: Flaws,
  random: Random,
): void {
  const { slot, penLine, brimMm = 0 } = flaws;
  const times = (fromMm: number, toMm: number, factor: (xMm: number) => number) => {
    for (let i = 0; i < light.length; i += 1) {
      const x = positionsMm[i]!;
      if (x >= fromMm && x <= toMm) light[i] = light[i]! * factor(x);
    }
  };
  if (heightMm < brimMm) light.fill(1.3);
  const { bulge } = flaws;
  if (bulge !== undefined) times(0, 5, (x) => 1 + bulge * Math.exp(-x / 0.5));
  if (flaws.seam !== undefined) {
    const blob = flaws.seam * random.normal();
    times(0, 3, (x) => Math.max(0.1, 1 + blob * Math.exp(-((x / 0.7) ** 2))));
  }
  for (const { xMm, heightMm: atMm, radiusMm, depth } of flaws.stains ?? []) {
    const up = (heightMm - atMm) / radiusMm;
    if (Math.abs(up) > 3) continue;
    times(xMm - 3 * radiusMm, xMm + 3 * radiusMm, (x) =>
      Math.max(0.1, 1 + depth * Math.exp(-(up * up + ((x - xMm) / radiusMm) ** 2) / 2)),
    );
  }
  for (const scratch of flaws.scratches ?? []) {
    const angle = (scratch.angleDeg * Math.PI) / 180;
    const along = (heightMm - scratch.heightMm) / Math.sin(angle);
    if (Math.abs(along) > scratch.lengthMm / 2) continue;
    const x = scratch.xMm + along * Math.cos(angle);
    const half = scratch.widthMm / Math.abs(Math.sin(angle)) / 2;
    times(x - half, x + half, () => 1 + scratch.depth);
  }
  if (slot !== undefined) times(slot.fromMm, slot.fromMm + slot.widthMm, () => 0.15);
  if (penLine !== undefined && Math.abs(heightMm - penLine.heightMm) < penLine.widthMm / 2) {
    times(-Infinity, Infinity, () => 0.2);
  }
}
