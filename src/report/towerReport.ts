import type { PrintRecord } from '../print/record.js';
import { decimals, withUnit } from './format.js';
import { PLAN_CAUTIONS } from './planReport.js';
import { CAUTION } from './proofWords.js';
import { labelled, plainText } from './textReport.js';

/** A tower that was drawn. */
export interface DrawnTower {
  readonly record: PrintRecord;
  readonly widthMm: number;
  readonly heightMm: number;
  readonly triangles: number;
}

/**
 * What to do with a tower that was written to a file.
 * @param tower - The tower.
 * @param file - Where it was written.
 * @returns Lines joined by newlines, with one at the end; all spaces are U+0020.
 */
export function towerReport({ record, widthMm, heightMm, triangles }: DrawnTower, file: string): string {
  const { axis, face, slots = [] } = record;
  const mm = (value: number, digits = 1) => withUnit(decimals(value, digits), 'mm');
  const end = face.leadingCorner === 'left' ? 'right' : 'left';
  const turns = face.leadingCorner === 'left' ? 'counterclockwise' : 'clockwise';
  return plainText([
    `Test tower written to ${file}: ${mm(widthMm)} wide, ${mm(heightMm)} high, ${String(triangles)} triangles, in mm`,
    ...labelled('faces', [
      `the front and the right face are the flat ones to photograph; the one perpendicular to axis ${axis} belongs to this record`,
      `the ${face.leadingCorner} corner of both leads where the outline is printed ${turns} seen from above: look at the preview`,
      ...slots.map(
        (slot) =>
          `a slot of ${mm(slot.widthMm, 2)} in both, ${mm(slot.centreFromLeadingCornerMm)} behind the leading corner`,
      ),
    ]),
    ...labelled('marks', [
      `a dent every 10 mm above the bed, at the ${end} end of both faces`,
      'the foot stands out at the back and at the left: in a photo it shows which end was down, at the left of the front face, at the right of the right one',
    ]),
    ...labelled('next', [
      'slice it as one wall or a spiral, unturned, the seam at the back left corner; it needs no supports',
      'hold the marker card beside a face, flush with it, at the side where the foot does not stand out',
      CAUTION,
      ...PLAN_CAUTIONS,
    ]),
  ]);
}
