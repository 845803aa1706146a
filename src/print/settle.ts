import type { Estimate } from '../core/estimate.js';
import type { PartialCornersPx, PointPx } from '../core/image.js';
import type { DampingRatio, Hz, Mm, MmPerS, MmPerS2 } from '../core/units.js';
import type { ShaperFamily } from '../physics/shapers.js';
import type { AccelerationStep } from './accelerationLadder.js';
import { makeLadder, type Ladder } from './ladder.js';
import type { PrintRecord } from './record.js';
import { towerHeightMm } from './towerHeight.js';

/** A value that the print record does not tell and that the result depends on. */
export interface Assumption {
  /** Field of the print record, as a path like `shaper.dampingRatio`. */
  readonly field: string;
  /** The assumed value with its unit, for people. */
  readonly value: string;
  /** Where the value comes from, a clause. */
  readonly why: string;
}

/** Something in the photo whose size is known. */
export type PrintReference =
  | { readonly kind: 'face' | 'layers' }
  | {
      readonly kind: 'id1-card' | 'ruler' | 'marker-card';
      /** Undefined: not told. */
      readonly behindFaceMm: Mm | undefined;
      /** Of the marker card: what its check length measures. */
      readonly checkLengthMm?: Mm;
    }
  | { readonly kind: 'two-points'; readonly aPx: PointPx; readonly bPx: PointPx; readonly distanceMm: Mm }
  | {
      readonly kind: 'dpi';
      /** Undefined: the scan's own resolution tag. */
      readonly dotsPerInch: number | undefined;
    };

/** The print with every field settled, told or assumed. */
export interface PrintSettings {
  /** The machine axis perpendicular to the face. */
  readonly axis: string;
  readonly speedMmPerS: Estimate;
  readonly accelerationMmPerS2: MmPerS2;
  /** Speed that is kept through the corner. */
  readonly cornerSpeedMmPerS: MmPerS;
  readonly layerHeightMm: Mm;
  readonly firstLayerHeightMm: Mm;
  readonly layers: number | undefined;
  readonly seam: 'other-face' | 'this-face' | 'leading-corner' | 'none';
  readonly direction: 'same' | 'alternates';
  readonly face: {
    /** Size as sliced; undefined when it must be taken from a reference. */
    readonly widthMm: Mm | undefined;
    readonly heightMm: Mm | undefined;
    /** Where the face begins above the bed. */
    readonly bottomMm: Mm;
    readonly leadingCorner: 'left' | 'right';
  };
  readonly shaper: {
    readonly family: ShaperFamily;
    readonly dampingRatio: DampingRatio;
    readonly hzMeans: 'natural' | 'damped';
  };
  /** How the move along the face is shaped. */
  readonly alongWall:
    | 'as-ladder'
    | 'off'
    | { readonly hz: Hz; readonly family: ShaperFamily; readonly dampingRatio: DampingRatio };
  readonly ladder: Ladder;
  /** Of a proof print: the acceleration by height. */
  readonly accelerationLadder: readonly AccelerationStep[] | undefined;
  /** In the order told; empty when none is told. */
  readonly references: readonly PrintReference[];
  readonly knownPitchesMm: readonly Mm[];
  /** Corners told; the others are looked for. */
  readonly facePx: PartialCornersPx;
  readonly penLineMm: Mm | undefined;
  /** 95 % half-width of it, by calipers and hand; undefined: not told. */
  readonly penLinePlusMinusMm: Mm | undefined;
  readonly slots: readonly { readonly centreFromLeadingCornerMm: Mm; readonly widthMm: Mm }[];
}

/** Standard uncertainty of the print speed, share of it, unless known: DESIGN 5.5. */
const SPEED_RELATIVE_SD = 0.02;

/**
 * Where test towers are printed: at 2000 to 8000 mm/s², so that the corner rings, and with 2 to 25 mm/s kept
 * through it (common practice, no source). Of a span that wide the geometric mean is off by the same factor
 * either way.
 */
const ASSUMED_ACCELERATION: MmPerS2 = 4000;
export const ASSUMED_CORNER_SPEED: MmPerS = 7;
const MIDDLE = 'not told; amid what such towers are printed with (common practice, no source)';

/** DESIGN 3. */
const ASSUMED_DAMPING: DampingRatio = 0.15;
const CUSTOMARY = 'not told; a customary value, high for most machines (common practice, no source)';

/**
 * Settles every field of a print record, and says which values had to be assumed.
 * @param record - A checked record; not modified.
 * @returns The settings as plain data, and the assumptions that matter to the result, in the record's order.
 */
export function settlePrint(record: PrintRecord): {
  readonly settings: PrintSettings;
  readonly assumptions: readonly Assumption[];
  /** The fields that the assumptions are about. */
  readonly assumed: ReadonlySet<string>;
} {
  const assumptions: Assumption[] = [];
  const settled = <T>(told: T | undefined, field: string, value: T, shown: string, why: string): T => {
    if (told === undefined) assumptions.push({ field, value: shown, why });
    return told ?? value;
  };
  const { layerHeightMm, firstLayerHeightMm = layerHeightMm } = record;
  const ladder = makeLadder(record.ladder, layerHeightMm, firstLayerHeightMm);
  // On a proof print the ladder tells it: nothing is assumed, and what lies outside its steps is not read.
  const highest = record.accelerationLadder?.bands.map(({ mmPerS2 }) => mmPerS2);
  const accelerationMmPerS2 = settled(
    record.accelerationMmPerS2 ?? (highest === undefined ? undefined : Math.max(...highest)),
    'accelerationMmPerS2',
    ASSUMED_ACCELERATION,
    `${ASSUMED_ACCELERATION} mm/s²`,
    MIDDLE,
  );
  // It must stay below the print speed, which may be as low as 5 mm/s.
  const assumedCornerSpeed = Math.min(ASSUMED_CORNER_SPEED, record.speedMmPerS / 2);
  const cornerSpeedMmPerS = settled(
    record.cornerSpeedMmPerS,
    'cornerSpeedMmPerS',
    assumedCornerSpeed,
    `${assumedCornerSpeed} mm/s`,
    MIDDLE,
  );
  const { shaper, alongWall } = settleShaper(record, settled);
  const face = settleFace(record, settled);
  return {
    settings: {
      axis: record.axis,
      speedMmPerS: { value: record.speedMmPerS, sd: SPEED_RELATIVE_SD * record.speedMmPerS },
      accelerationMmPerS2,
      cornerSpeedMmPerS,
      layerHeightMm,
      firstLayerHeightMm,
      layers: record.layers,
      seam: record.seam ?? 'other-face',
      direction: record.direction ?? 'same',
      face,
      shaper,
      alongWall,
      ladder,
      accelerationLadder: record.accelerationLadder?.bands.map((band) => ({ ...band })),
      references: settleReferences(record.reference),
      knownPitchesMm: [...(record.knownPitchesMm ?? [])],
      facePx: settleCorners(record.facePx),
      penLineMm: record.penLineMm,
      penLinePlusMinusMm: record.penLinePlusMinusMm,
      slots: (record.slots ?? []).map((slot) => ({ ...slot })),
    },
    assumptions,
    assumed: new Set(assumptions.map(({ field }) => field)),
  };
}

type Settle = <T>(told: T | undefined, field: string, value: T, shown: string, why: string) => T;

function settleShaper(record: PrintRecord, settled: Settle): Pick<PrintSettings, 'shaper' | 'alongWall'> {
  const { family, dampingRatio, hzMeans, alongWall } = record.shaper ?? {};
  // A shaper that is off needs no settings, so none is assumed; the move along the face may have its own.
  if (record.ladder.kind === 'off') {
    const own = typeof alongWall === 'object' ? { ...alongWall } : 'off';
    const means = own === 'off' ? (hzMeans ?? 'natural') : settleHzMeans(hzMeans, settled);
    return {
      shaper: { family: family ?? 'ZV', dampingRatio: dampingRatio ?? ASSUMED_DAMPING, hzMeans: means },
      alongWall: own,
    };
  }
  return {
    shaper: {
      family: settled(family, 'shaper.family', 'ZV', 'ZV', 'not told; the simplest shaper'),
      dampingRatio: settled(
        dampingRatio,
        'shaper.dampingRatio',
        ASSUMED_DAMPING,
        String(ASSUMED_DAMPING),
        CUSTOMARY,
      ),
      hzMeans: settleHzMeans(hzMeans, settled),
    },
    alongWall: settled(
      typeof alongWall === 'object' ? { ...alongWall } : alongWall,
      'shaper.alongWall',
      'as-ladder',
      'as-ladder',
      'not told; the move along the face is taken as shaped like the axis',
    ),
  };
}

function settleHzMeans(told: 'natural' | 'damped' | undefined, settled: Settle): 'natural' | 'damped' {
  return settled(
    told,
    'shaper.hzMeans',
    'natural',
    'natural',
    'not told; the number is taken as the natural (undamped) frequency',
  );
}

function settleFace(record: PrintRecord, settled: Settle): PrintSettings['face'] {
  const { widthMm, leadingCorner, bottomMm = 0 } = record.face;
  const towerMm = towerHeightMm(record);
  if (record.face.heightMm !== undefined || towerMm === undefined) {
    return { widthMm, heightMm: record.face.heightMm, bottomMm, leadingCorner };
  }
  // Thirteen digits: 0.2 · 330 is 66 here too.
  const heightMm = Number((towerMm - bottomMm).toPrecision(13));
  const above = bottomMm === 0 ? '' : ', less what lies below the face';
  const why = `not told; the ${String(record.layers)} layers of the tower${above}`;
  return {
    widthMm,
    heightMm: settled(undefined, 'face.heightMm', heightMm, `${heightMm} mm`, why),
    bottomMm,
    leadingCorner,
  };
}

function settleReferences(told: PrintRecord['reference']): readonly PrintReference[] {
  const list = told === undefined ? [] : Array.isArray(told) ? told : [told];
  return list.map((one): PrintReference => {
    switch (one.kind) {
      case 'face':
      case 'layers':
        return { kind: one.kind };
      case 'two-points':
        return { kind: one.kind, aPx: [...one.aPx], bPx: [...one.bPx], distanceMm: one.distanceMm };
      case 'dpi':
        return { kind: one.kind, dotsPerInch: one.dotsPerInch };
      case 'marker-card':
        return {
          kind: one.kind,
          behindFaceMm: one.behindFaceMm,
          ...(one.checkLengthMm === undefined ? {} : { checkLengthMm: one.checkLengthMm }),
        };
      default:
        return { kind: one.kind, behindFaceMm: one.behindFaceMm };
    }
  });
}

function settleCorners(told: PrintRecord['facePx']): PartialCornersPx {
  const at = (i: 0 | 1 | 2 | 3): PointPx | undefined => {
    const corner = told?.[i];
    return corner == null ? undefined : [...corner];
  };
  return [at(0), at(1), at(2), at(3)];
}
