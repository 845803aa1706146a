import type { Reading } from '../reading/schema.js';
import { withUnit } from './format.js';

/** A fact and its value, one row of a table. */
export type Row = readonly [what: string, value: string];

type PrintRecord = Reading['printRecord'];

/** Longer notes are cut: a sheet is one page. */
const LONGEST_NOTES = 240;

/**
 * What was told of a print, in words: only what was told, nothing that was assumed.
 * @param record - The print record.
 * @returns One row for each field told, in the record's order.
 */
export function recordRows(record: PrintRecord): readonly Row[] {
  const { face, shaper, notes, layerHeightMm, firstLayerHeightMm, layers } = record;
  const rows: readonly (readonly [string, string | undefined])[] = [
    ['machine', record.machine],
    ['print', record.title],
    ['printed on', record.printedOn],
    ['material', record.material],
    ['axis', `${record.axis}, perpendicular to the face`],
    ['speed', unit(record.speedMmPerS, 'mm/s')],
    ['acceleration', accelerationWords(record)],
    ['corner speed', unit(record.cornerSpeedMmPerS, 'mm/s')],
    [
      'layers',
      `${layers === undefined ? '' : `${String(layers)} of `}${unit(layerHeightMm, 'mm') ?? ''}${
        firstLayerHeightMm === undefined ? '' : `, the first ${unit(firstLayerHeightMm, 'mm') ?? ''}`
      }`,
    ],
    ['face', faceWords(face)],
    ['leading corner', `${face.leadingCorner}, as seen in the photo`],
    ['ladder', ladderWords(record.ladder)],
    ['shaper', shaper === undefined ? undefined : shaperWords(shaper)],
    ['along the face', alongWords(shaper?.alongWall)],
    ['layers begin', record.seam?.replaceAll('-', ' ')],
    ['direction', record.direction === 'same' ? 'all layers the same' : record.direction],
    ['reference', referenceWords(record.reference)],
    ['known pitches', record.knownPitchesMm?.map((pitch) => unit(pitch, 'mm')).join(', ')],
    [
      'slots',
      record.slots
        ?.map(
          ({ centreFromLeadingCornerMm, widthMm }) =>
            `${String(widthMm)} wide at ${unit(centreFromLeadingCornerMm, 'mm') ?? ''}`,
        )
        .join(', '),
    ],
    ['corners given', cornersWords(record.facePx)],
    ['pen line', unit(record.penLineMm, 'mm')],
    ['photo of', record.photoOf],
    [
      'notes',
      notes === undefined || notes.length <= LONGEST_NOTES
        ? notes
        : `${notes.slice(0, LONGEST_NOTES)} … (cut)`,
    ],
  ];
  return rows.flatMap(([what, value]) =>
    value === undefined || value === '' ? [] : [[what, value] as const],
  );
}

function unit(value: number | undefined, name: string): string | undefined {
  return value === undefined ? undefined : withUnit(String(value), name);
}

function accelerationWords({ accelerationMmPerS2, accelerationLadder }: PrintRecord): string | undefined {
  if (accelerationLadder === undefined) return unit(accelerationMmPerS2, 'mm/s²');
  return accelerationLadder.bands
    .map(({ fromMm, toMm, mmPerS2 }, i) =>
      i === 0
        ? `${unit(mmPerS2, 'mm/s²') ?? ''} from ${String(fromMm)} to ${unit(toMm, 'mm') ?? ''}`
        : `${String(mmPerS2)} to ${String(toMm)}`,
    )
    .join(', ');
}

function faceWords({ widthMm, heightMm, bottomMm }: PrintRecord['face']): string | undefined {
  const size =
    widthMm === undefined && heightMm === undefined
      ? undefined
      : `${widthMm === undefined ? '?' : String(widthMm)} × ${unit(heightMm, 'mm') ?? '?'}`;
  const from = bottomMm === undefined ? undefined : `from ${unit(bottomMm, 'mm') ?? ''} up`;
  return [size, from].filter((part) => part !== undefined).join(', ');
}

/**
 * Puts a ladder into words.
 * @param ladder - As a print record tells it.
 * @returns A clause with all its numbers.
 */
export function ladderWords(ladder: PrintRecord['ladder']): string {
  switch (ladder.kind) {
    case 'linear': {
      const { fromHz, toHz, firstLayer, lastLayer, fromMm, toMm } = ladder;
      const over =
        firstLayer === undefined
          ? `${String(fromMm)} to ${unit(toMm, 'mm') ?? ''}`
          : `layers ${String(firstLayer)} to ${String(lastLayer)}`;
      return `linear, ${String(fromHz)} to ${unit(toHz, 'Hz') ?? ''} over ${over}`;
    }
    case 'stepped':
      return `steps: ${ladder.bands.map(({ hz, fromMm, toMm }) => `${unit(hz, 'Hz') ?? ''} from ${String(fromMm)} to ${unit(toMm, 'mm') ?? ''}`).join(', ')}`;
    case 'table':
      return `table: ${ladder.points.map(({ mm, hz }) => `${unit(hz, 'Hz') ?? ''} at ${unit(mm, 'mm') ?? ''}`).join(', ')}`;
    case 'fixed':
      return `fixed, ${unit(ladder.hz, 'Hz') ?? ''}`;
    case 'several':
      return ladder.ladders.map(ladderWords).join('; above it ');
    case 'off':
      return 'off';
  }
}

function shaperWords({
  family,
  dampingRatio,
  hzMeans,
}: NonNullable<PrintRecord['shaper']>): string | undefined {
  return [
    family,
    dampingRatio === undefined ? undefined : `damping ratio ${String(dampingRatio)}`,
    hzMeans === undefined ? undefined : `its Hz are the ${hzMeans} frequency`,
  ]
    .filter((part) => part !== undefined)
    .join(', ');
}

function alongWords(along: NonNullable<PrintRecord['shaper']>['alongWall']): string | undefined {
  if (along === undefined) return undefined;
  if (along === 'as-ladder') return 'shaped as the ladder';
  if (along === 'off') return 'not shaped';
  return `${along.family} at ${unit(along.hz, 'Hz') ?? ''}, damping ratio ${String(along.dampingRatio)}`;
}

function referenceWords(told: PrintRecord['reference']): string | undefined {
  if (told === undefined) return undefined;
  return [told]
    .flat()
    .map((one) => {
      switch (one.kind) {
        case 'face':
          return "the face's own size";
        case 'layers':
          return 'layer lines';
        case 'two-points':
          return `two points ${unit(one.distanceMm, 'mm') ?? ''} apart`;
        case 'dpi':
          return one.dotsPerInch === undefined
            ? "the scan's resolution tag"
            : `${String(one.dotsPerInch)} dots per inch`;
        default: {
          const behind = one.behindFaceMm;
          const check = one.kind === 'marker-card' ? one.checkLengthMm : undefined;
          return (
            { 'id1-card': 'bank-card sized card', ruler: 'ruler', 'marker-card': 'marker card' }[one.kind] +
            (behind === undefined ? '' : behind === 0 ? ', flush' : `, ${unit(behind, 'mm') ?? ''} behind`) +
            (check === undefined ? '' : `, check length ${unit(check, 'mm') ?? ''}`)
          );
        }
      }
    })
    .join('; ');
}

function cornersWords(corners: PrintRecord['facePx']): string | undefined {
  return corners === undefined
    ? undefined
    : `${corners.map((point) => (point === null ? '-' : point.map((px) => String(Math.round(px))).join(','))).join(' ')} px`;
}
