import type { Random } from './random.js';

/** What spoils a face. Places are mm from the leading corner and above the lower edge. */
export interface Flaws {
  /** The corner bulges: relative brightness there, dying out within half a millimetre. */
  readonly bulge?: number;
  readonly slot?: { readonly fromMm: number; readonly widthMm: number };
  readonly penLines?: readonly Stroke[];
  /** Whole layers of another brightness, as where too little was extruded: relative brightness. */
  readonly weakLayers?: readonly { readonly heightMm: number; readonly depth: number }[];
  /** Above a height the face lies in a shadow: relative brightness there, and over how much height it sets in. */
  readonly shadow?: { readonly heightMm: number; readonly depth: number; readonly softMm: number };
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
  /** A lamp's reflection: added brightness in its middle, where it burns out, and its soft-edged size. */
  readonly glare?: {
    readonly xMm: number;
    readonly heightMm: number;
    readonly halfWidthMm: number;
    readonly halfHeightMm: number;
    readonly light: number;
  };
  /** The seam lies on the leading corner: relative unevenness of brightness in its first millimetre. */
  readonly seam?: number;
  /** Foot without ripples, of another brightness. */
  readonly brimMm?: number;
  /** Dents for counting heights, on part of the wall. */
  readonly dents?: Dents;
  /** All layers above a height lie beside the others by so much, along the wall; the corners are clicked on both. */
  readonly shift?: { readonly heightMm: number; readonly byMm: number };
}

/** Dents one above the other: flat in the middle, with flanks at half a right angle above and below. */
export interface Dents {
  readonly everyMm: number;
  readonly fromMm: number;
  readonly toMm: number;
  readonly halfMm: number;
  readonly flankMm: number;
}

/** A line drawn by hand along the wall. */
export interface Stroke {
  /** Of its middle, where it crosses the wall's middle. */
  readonly heightMm: number;
  readonly widthMm: number;
  /** Rising away from the leading corner. @default 0 */
  readonly slantDeg?: number;
  /** What is left of the light, or how much more there is of it. @default 0.2 */
  readonly ink?: number;
  /** How far the hand strays up and down. @default 0 */
  readonly wobbleMm?: number;
  /** Stretches of the wall without ink. @default none */
  readonly gaps?: readonly (readonly [fromMm: number, toMm: number])[];
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

/** Lambert's law: a flank at half a right angle to a lamp that stands level. */
const TILTED = Math.SQRT1_2;

/**
 * Spoils one layer.
 * @param light - Its brightness along the wall; changed.
 * @param positionsMm - Where the brightness is.
 * @param heightMm - The layer's middle.
 * @param face - Width of the face and height of a layer.
 * @param flaws - What spoils it.
 * @param random - Where the seam's unevenness comes from.
 */
export function spoil(
  light: Float32Array,
  positionsMm: Float64Array,
  heightMm: number,
  face: { readonly widthMm: number; readonly layerHeightMm: number },
  flaws: Flaws,
  random: Random,
): void {
  const { slot, shadow, brimMm = 0 } = flaws;
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
  if (flaws.glare !== undefined) addGlare(light, positionsMm, heightMm, flaws.glare);
  if (slot !== undefined) times(slot.fromMm, slot.fromMm + slot.widthMm, () => 0.15);
  for (const weak of flaws.weakLayers ?? []) {
    if (Math.abs(heightMm - weak.heightMm) <= face.layerHeightMm / 2) {
      times(-Infinity, Infinity, () => 1 + weak.depth);
    }
  }
  if (shadow !== undefined) {
    const share = 1 / (1 + Math.exp((-4 * (heightMm - shadow.heightMm)) / shadow.softMm));
    times(-Infinity, Infinity, () => 1 + share * shadow.depth);
  }
  if (flaws.dents !== undefined) {
    const { everyMm, fromMm, toMm, halfMm, flankMm } = flaws.dents;
    const nearest = everyMm * Math.round(heightMm / everyMm);
    const off = Math.abs(heightMm - nearest);
    if (nearest > 0 && off > halfMm && off < halfMm + flankMm) times(fromMm, toMm, () => TILTED);
  }
  for (const stroke of flaws.penLines ?? []) times(-Infinity, Infinity, inkOf(stroke, heightMm, face));
}

/** What a stroke makes of a layer's light along the wall: as much of it as its ink covers of the layer. */
function inkOf(
  { heightMm: middleMm, widthMm, slantDeg = 0, ink = 0.2, wobbleMm = 0, gaps = [] }: Stroke,
  heightMm: number,
  face: { readonly widthMm: number; readonly layerHeightMm: number },
): (xMm: number) => number {
  const rise = Math.tan((slantDeg * Math.PI) / 180);
  return (x) => {
    if (gaps.some(([from, to]) => x >= from && x <= to)) return 1;
    // A hand strays slowly; these two waves are of no period of the wall.
    const strays = Math.sin(x / 5.1 + 1) + 0.6 * Math.sin(x / 2.3);
    const at = middleMm + rise * (x - face.widthMm / 2) + wobbleMm * strays;
    const reach = (face.layerHeightMm + widthMm) / 2 - Math.abs(heightMm - at);
    const cover = Math.min(Math.max(reach, 0), widthMm, face.layerHeightMm) / face.layerHeightMm;
    return 1 + cover * (ink - 1);
  };
}

/** Flat in its middle, with a soft edge. */
function addGlare(
  light: Float32Array,
  positionsMm: Float64Array,
  heightMm: number,
  glare: NonNullable<Flaws['glare']>,
): void {
  const up = (heightMm - glare.heightMm) / glare.halfHeightMm;
  for (let i = 0; i < light.length; i += 1) {
    const r2 = up * up + ((positionsMm[i]! - glare.xMm) / glare.halfWidthMm) ** 2;
    light[i] = light[i]! + glare.light * Math.exp(-(r2 ** 3));
  }
}
