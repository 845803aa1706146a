import type { Hz, Mm, MmPerS } from '../core/units.js';
import { SIZE_CONFLICT } from '../core/outcome.js';
import { fieldName, type FieldPath } from './recordProblem.js';
import { towerHeightMm } from './towerHeight.js';

/** Far below any layer height, far above the rounding of a sum of heights. */
export const ROUNDING_MM = 1e-9;

/** Two fields that contradict each other. */
export interface Conflict {
  /** The field to look at first. */
  readonly path: FieldPath;
  /** One sentence. */
  readonly message: string;
  /** What to do next, one sentence. */
  readonly advice: string;
}

interface Stretch {
  readonly fromMm: Mm;
  readonly toMm: Mm;
}

type ClimbingLadder =
  | LinearLadder
  | { readonly kind: 'stepped'; readonly bands: readonly Stretch[] }
  | { readonly kind: 'table'; readonly points: readonly { readonly mm: Mm; readonly hz: Hz }[] };

interface LinearLadder {
  readonly kind: 'linear';
  readonly firstLayer?: number | undefined;
  readonly lastLayer?: number | undefined;
  readonly fromMm?: Mm | undefined;
  readonly toMm?: Mm | undefined;
}

type ToldReference =
  | {
      readonly kind: 'two-points';
      readonly aPx: readonly [number, number];
      readonly bPx: readonly [number, number];
    }
  | { readonly kind: 'face' | 'layers' | 'id1-card' | 'ruler' | 'marker-card' | 'dpi' };

/** The fields of a print record that must agree with others. Its schema stands on this file, not the other way. */
interface ToldPrint {
  readonly speedMmPerS: MmPerS;
  readonly cornerSpeedMmPerS?: MmPerS | undefined;
  readonly layerHeightMm: Mm;
  readonly firstLayerHeightMm?: Mm | undefined;
  readonly layers?: number | undefined;
  readonly face: {
    readonly widthMm?: Mm | undefined;
    readonly heightMm?: Mm | undefined;
    readonly bottomMm?: Mm | undefined;
  };
  readonly ladder:
    | ClimbingLadder
    | { readonly kind: 'several'; readonly ladders: readonly ClimbingLadder[] }
    | { readonly kind: 'fixed' }
    | { readonly kind: 'off' };
  readonly accelerationLadder?: { readonly bands: readonly Stretch[] } | undefined;
  readonly reference?: ToldReference | ToldReference[] | undefined;
  readonly penLineMm?: Mm | undefined;
  readonly slots?: readonly { readonly centreFromLeadingCornerMm: Mm; readonly widthMm: Mm }[] | undefined;
}

/**
 * Finds what a record's fields, each possible alone, cannot mean together.
 * @param record - A record whose fields have been checked one by one.
 * @returns The first contradiction, or undefined when there is none.
 */
export function firstConflict(record: ToldPrint): Conflict | undefined {
  return (
    motionConflict(record) ?? ladderConflict(record) ?? sizeConflict(record) ?? referenceConflict(record)
  );
}

function motionConflict(record: ToldPrint): Conflict | undefined {
  const { speedMmPerS, cornerSpeedMmPerS, ladder, accelerationLadder } = record;
  if (cornerSpeedMmPerS !== undefined && cornerSpeedMmPerS >= speedMmPerS) {
    return conflict(
      ['cornerSpeedMmPerS'],
      `cornerSpeedMmPerS is ${cornerSpeedMmPerS}, but must be below speedMmPerS, ${speedMmPerS}.`,
      'Give the speed that is kept through the corner, usually a few mm/s.',
    );
  }
  if (accelerationLadder === undefined) return undefined;
  if (ladder.kind !== 'fixed' && ladder.kind !== 'off') {
    return conflict(
      ['accelerationLadder'],
      `accelerationLadder is given beside a ${ladder.kind} ladder, but needs a fixed shaper or none.`,
      'Give ladder as fixed or off for a proof print, or take accelerationLadder away.',
    );
  }
  return bandsConflict(['accelerationLadder', 'bands'], accelerationLadder.bands);
}

function ladderConflict(record: ToldPrint): Conflict | undefined {
  const { ladder } = record;
  const ladders = toldLadders(ladder);
  for (const [path, one] of ladders) {
    const found = climbingConflict(path, one);
    if (found !== undefined) return found;
  }
  return pairs(ladders, ([lowerPath, lower], [path, upper]) => {
    const [, topMm] = stretchOf(lower, record);
    const [bottomMm] = stretchOf(upper, record);
    if (bottomMm >= topMm - ROUNDING_MM) return undefined;
    return conflict(
      path,
      `${fieldName(path)} begins ${rounded(bottomMm)} mm above the bed, but ${fieldName(lowerPath)} below it ends at ${rounded(topMm)} mm.`,
      'Give the ladders from the bottom of the tower up, none over another; a layer belongs to one of them.',
    );
  });
}

/** The heights that a ladder fills, as told; one by layers from the foot of its first to the top of its last. */
function stretchOf(ladder: ClimbingLadder, print: ToldPrint): readonly [bottomMm: Mm, topMm: Mm] {
  if (ladder.kind === 'stepped') return [ladder.bands[0]?.fromMm ?? 0, ladder.bands.at(-1)?.toMm ?? 0];
  if (ladder.kind === 'table') return [ladder.points[0]?.mm ?? 0, ladder.points.at(-1)?.mm ?? 0];
  const { fromMm, toMm, firstLayer = 0, lastLayer = 0 } = ladder;
  const belowLayer = (layers: number) => towerHeightMm({ ...print, layers }) ?? 0;
  return [fromMm ?? belowLayer(firstLayer), toMm ?? belowLayer(lastLayer + 1)];
}

function climbingConflict(path: FieldPath, ladder: ClimbingLadder): Conflict | undefined {
  if (ladder.kind === 'stepped') return bandsConflict([...path, 'bands'], ladder.bands);
  if (ladder.kind === 'linear') return linearConflict(path, ladder);
  return pairs(ladder.points, (below, above, i) => {
    const at = [...path, 'points', i, 'mm'];
    return above.mm > below.mm
      ? undefined
      : conflict(
          at,
          `${fieldName(at)} is ${above.mm}, but must be above the point before it, ${below.mm}.`,
          'Give the points from the bottom of the tower up.',
        );
  });
}

function linearConflict(path: FieldPath, ladder: LinearLadder): Conflict | undefined {
  const { firstLayer, lastLayer, fromMm, toMm } = ladder;
  const name = fieldName(path);
  const byLayer = firstLayer !== undefined || lastLayer !== undefined;
  const byHeight = fromMm !== undefined || toMm !== undefined;
  if (byLayer && byHeight) {
    return conflict(
      path,
      `${name} gives its ends as layers and as heights.`,
      'Give either firstLayer and lastLayer, or fromMm and toMm.',
    );
  }
  const low = byHeight ? fromMm : firstLayer;
  const high = byHeight ? toMm : lastLayer;
  const [lowName, highName] = byHeight ? ['fromMm', 'toMm'] : ['firstLayer', 'lastLayer'];
  if (low === undefined || high === undefined) {
    const missing = low === undefined ? lowName : highName;
    return conflict(
      [...path, missing],
      `The print record does not say ${name}.${missing}.`,
      'Give firstLayer and lastLayer (counted from 0), or fromMm and toMm, from the schedule that was printed.',
    );
  }
  return high > low
    ? undefined
    : conflict(
        [...path, highName],
        `${name}.${highName} is ${high}, but must be above ${name}.${lowName}, ${low}.`,
        'If the frequency falls with height, exchange fromHz and toHz instead.',
      );
}

function sizeConflict(record: ToldPrint): Conflict | undefined {
  const { layers, ladder, slots, penLineMm } = record;
  const { widthMm, heightMm: faceHeightMm, bottomMm = 0 } = record.face;
  const outside = slots?.findIndex(
    (slot) => slot.centreFromLeadingCornerMm + slot.widthMm / 2 > (widthMm ?? Infinity),
  );
  if (outside !== undefined && outside >= 0) {
    return conflict(
      ['slots', outside, 'centreFromLeadingCornerMm'],
      `slots[${outside}] reaches beyond the face, which is ${String(widthMm)} mm wide.`,
      'Give the slot from the leading corner, in mm, and the width of the face as sliced.',
    );
  }
  const faceTopMm = faceHeightMm === undefined ? undefined : bottomMm + faceHeightMm;
  if (penLineMm !== undefined && (penLineMm < bottomMm || penLineMm > (faceTopMm ?? Infinity))) {
    const reach = faceTopMm === undefined ? `begins at ${bottomMm}` : `goes from ${bottomMm} to ${faceTopMm}`;
    return conflict(
      ['penLineMm'],
      `penLineMm is ${penLineMm}, but the face ${reach} mm above the bed.`,
      'Give the height of the line above the bed, in mm.',
    );
  }
  if (layers === undefined) return undefined;
  const towerMm = towerHeightMm(record) ?? Infinity;
  const tower = `the tower's ${layers} layers are ${rounded(towerMm)} mm high`;
  for (const [path, one] of toldLadders(ladder)) {
    if (one.kind !== 'linear' || (one.lastLayer ?? 0) < layers) continue;
    const at = [...path, 'lastLayer'];
    return conflict(
      at,
      `${fieldName(at)} is ${String(one.lastLayer)}, but the last of ${layers} layers is ${layers - 1}, counted from 0.`,
      'Give the ladder only as far as it was printed, or correct layers.',
    );
  }
  const tolerantMm = towerMm + record.layerHeightMm;
  const ends: readonly (readonly [FieldPath, number | undefined])[] = [
    ...toldLadders(ladder).flatMap(([path, one]) => ladderEnds(path, one)),
    ...(record.accelerationLadder?.bands ?? []).map(
      (band, i) => [['accelerationLadder', 'bands', i, 'toMm'], band.toMm] as const,
    ),
  ];
  for (const [path, endMm] of ends) {
    if (endMm !== undefined && endMm > tolerantMm) {
      return conflict(
        path,
        `${fieldName(path)} is ${endMm}, but ${tower}.`,
        'Give the ladder only as far as it was printed, or correct layers or layerHeightMm.',
      );
    }
  }
  const highestMm = tolerantMm + SIZE_CONFLICT * towerMm;
  if (bottomMm >= towerMm || (faceTopMm ?? 0) > highestMm) {
    return conflict(
      ['face', faceTopMm === undefined ? 'bottomMm' : 'heightMm'],
      `The face reaches ${rounded(faceTopMm ?? bottomMm)} mm above the bed, but ${tower}.`,
      'Correct face.heightMm, face.bottomMm, layers or layerHeightMm: a wrong one makes every height wrong.',
    );
  }
  return undefined;
}

function referenceConflict({ reference: told }: ToldPrint): Conflict | undefined {
  const list = Array.isArray(told) ? told : told === undefined ? [] : [told];
  for (const [i, one] of list.entries()) {
    if (one.kind !== 'two-points') continue;
    if (one.aPx[0] === one.bPx[0] && one.aPx[1] === one.bPx[1]) {
      const path = Array.isArray(told) ? ['reference', i, 'bPx'] : ['reference', 'bPx'];
      return conflict(
        path,
        `${fieldName(path)} is the same point as aPx, ${one.aPx.join(',')}.`,
        'Give two points as far apart as possible and the distance between them in mm.',
      );
    }
  }
  return undefined;
}

/** The ladders with where they stand; none where the frequency stays. */
function toldLadders(ladder: ToldPrint['ladder']): readonly (readonly [FieldPath, ClimbingLadder])[] {
  if (ladder.kind === 'fixed' || ladder.kind === 'off') return [];
  if (ladder.kind !== 'several') return [[['ladder'], ladder]];
  return ladder.ladders.map((one, i) => [['ladder', 'ladders', i], one]);
}

function ladderEnds(
  path: FieldPath,
  ladder: ClimbingLadder,
): readonly (readonly [FieldPath, number | undefined])[] {
  switch (ladder.kind) {
    case 'linear':
      return [[[...path, 'toMm'], ladder.toMm]];
    case 'stepped':
      return ladder.bands.map((band, i) => [[...path, 'bands', i, 'toMm'], band.toMm]);
    case 'table':
      return ladder.points.map(({ mm }, i) => [[...path, 'points', i, 'mm'], mm]);
  }
}

function bandsConflict(path: FieldPath, bands: readonly Stretch[]): Conflict | undefined {
  for (const [i, { fromMm, toMm }] of bands.entries()) {
    if (toMm <= fromMm) {
      const at = [...path, i, 'toMm'];
      return conflict(
        at,
        `${fieldName(at)} is ${toMm}, but must be above its fromMm, ${fromMm}.`,
        'Give each step with its lower end first.',
      );
    }
  }
  return pairs(bands, (below, above, i) => {
    const at = [...path, i, 'fromMm'];
    return above.fromMm >= below.toMm
      ? undefined
      : conflict(
          at,
          `${fieldName(at)} is ${above.fromMm}, but the step before it ends at ${below.toMm}.`,
          'Give the steps from the bottom of the tower up, none over another.',
        );
  });
}

/** The first conflict between neighbours; `check` is told the index of the upper one. */
function pairs<T>(
  list: readonly T[],
  check: (below: T, above: T, index: number) => Conflict | undefined,
): Conflict | undefined {
  let below: T | undefined;
  for (const [i, above] of list.entries()) {
    const found = below === undefined ? undefined : check(below, above, i);
    if (found !== undefined) return found;
    below = above;
  }
  return undefined;
}

function conflict(path: FieldPath, message: string, advice: string): Conflict {
  return { path, message, advice };
}

function rounded(value: number): number {
  return Number(value.toPrecision(6));
}
