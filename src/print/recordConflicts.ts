import type { Hz, Mm, MmPerS } from '../core/units.js';
import { SIZE_CONFLICT } from '../core/outcome.js';
import { fieldName, type FieldPath } from './recordProblem.js';
import { towerHeightMm } from './towerHeight.js';

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
    | LinearLadder
    | { readonly kind: 'stepped'; readonly bands: readonly Stretch[] }
    | { readonly kind: 'table'; readonly points: readonly { readonly mm: Mm; readonly hz: Hz }[] }
    | { readonly kind: 'fixed' | 'off' };
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

function ladderConflict({ ladder }: ToldPrint): Conflict | undefined {
  if (ladder.kind === 'stepped') return bandsConflict(['ladder', 'bands'], ladder.bands);
  if (ladder.kind === 'table') {
    return pairs(ladder.points, (below, above, i) =>
      above.mm > below.mm
        ? undefined
        : conflict(
            ['ladder', 'points', i, 'mm'],
            `ladder.points[${i}].mm is ${above.mm}, but must be above the point before it, ${below.mm}.`,
            'Give the points from the bottom of the tower up.',
          ),
    );
  }
  return ladder.kind === 'linear' ? linearConflict(ladder) : undefined;
}

function linearConflict(ladder: LinearLadder): Conflict | undefined {
  const { firstLayer, lastLayer, fromMm, toMm } = ladder;
  const byLayer = firstLayer !== undefined || lastLayer !== undefined;
  const byHeight = fromMm !== undefined || toMm !== undefined;
  if (byLayer && byHeight) {
    return conflict(
      ['ladder'],
      'ladder gives its ends as layers and as heights.',
      'Give either firstLayer and lastLayer, or fromMm and toMm.',
    );
  }
  const low = byHeight ? fromMm : firstLayer;
  const high = byHeight ? toMm : lastLayer;
  const [lowName, highName] = byHeight ? ['fromMm', 'toMm'] : ['firstLayer', 'lastLayer'];
  if (low === undefined || high === undefined) {
    const missing = low === undefined ? lowName : highName;
    return conflict(
      ['ladder', missing],
      `The print record does not say ladder.${missing}.`,
      'Give firstLayer and lastLayer (counted from 0), or fromMm and toMm, from the schedule that was printed.',
    );
  }
  return high > low
    ? undefined
    : conflict(
        ['ladder', highName],
        `ladder.${highName} is ${high}, but must be above ladder.${lowName}, ${low}.`,
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
  if (ladder.kind === 'linear' && (ladder.lastLayer ?? 0) >= layers) {
    return conflict(
      ['ladder', 'lastLayer'],
      `ladder.lastLayer is ${String(ladder.lastLayer)}, but the last of ${layers} layers is ${layers - 1}, counted from 0.`,
      'Give the ladder only as far as it was printed, or correct layers.',
    );
  }
  const tolerantMm = towerMm + record.layerHeightMm;
  const ends: readonly (readonly [FieldPath, number | undefined])[] = [
    ...ladderEnds(ladder),
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

function ladderEnds(ladder: ToldPrint['ladder']): readonly (readonly [FieldPath, number | undefined])[] {
  switch (ladder.kind) {
    case 'linear':
      return [[['ladder', 'toMm'], ladder.toMm]];
    case 'stepped':
      return ladder.bands.map((band, i) => [['ladder', 'bands', i, 'toMm'], band.toMm]);
    case 'table':
      return ladder.points.map(({ mm }, i) => [['ladder', 'points', i, 'mm'], mm]);
    default:
      return [];
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
