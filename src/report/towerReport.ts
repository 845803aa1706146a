import { decimals, withUnit } from './format.js';
import { PLAN_CAUTIONS } from './planReport.js';
import { labelled, plainText } from './textReport.js';

/** A tower that was drawn. */
export interface DrawnTower {
  readonly widthMm: number;
  readonly heightMm: number;
  readonly leadingCorner: 'left' | 'right';
  readonly slots: readonly { readonly centreFromLeadingCornerMm: number; readonly widthMm: number }[];
  readonly triangles: number;
}

/** A tower in words, each line without a full stop. */
export interface TowerWords {
  readonly size: string;
  readonly faces: readonly string[];
  readonly marks: readonly string[];
  readonly next: readonly string[];
}

/**
 * Puts a tower into words.
 * @param tower - The tower.
 * @returns What it is, and what to do with it.
 */
export function towerWords({ widthMm, heightMm, leadingCorner, slots, triangles }: DrawnTower): TowerWords {
  const mm = (value: number, digits = 1) => withUnit(decimals(value, digits), 'mm');
  const end = leadingCorner === 'left' ? 'right' : 'left';
  const turns = leadingCorner === 'left' ? 'counterclockwise' : 'clockwise';
  return {
    size: `${mm(widthMm)} wide, ${mm(heightMm)} high, ${String(triangles)} triangles, in mm`,
    faces: [
      'the front and the right face are the flat ones to photograph; each tells the axis that is perpendicular to it',
      `the ${leadingCorner} corner of both leads where the outline is printed ${turns} seen from above: look at the preview`,
      ...slots.map(
        (slot) =>
          `a slot of ${mm(slot.widthMm, 2)} in both, ${mm(slot.centreFromLeadingCornerMm)} behind the leading corner`,
      ),
    ],
    marks: [
      `a dent every 10 mm above the bed, at the ${end} end of both faces`,
      'the foot stands out at the back and at the left: in a photo it shows which end was down, at the left of the front face, at the right of the right one',
    ],
    next: [
      'slice it as one wall or a spiral, unturned, the seam at the back left corner; it needs no supports',
      'hold the marker card beside a face, flush with it, at the side where the foot does not stand out',
      ...PLAN_CAUTIONS,
    ],
  };
}

/**
 * What to do with a tower that was written to a file.
 * @param tower - The tower.
 * @param file - Where it was written.
 * @returns Lines joined by newlines, with one at the end; all spaces are U+0020.
 */
export function towerReport(tower: DrawnTower, file: string): string {
  const { size, faces, marks, next } = towerWords(tower);
  return plainText([
    `Test tower written to ${file}: ${size}`,
    ...labelled('faces', faces),
    ...labelled('marks', marks),
    ...labelled('next', next),
  ]);
}
