import { ladderHzAt } from '../print/ladder.js';
import type { PrintSettings } from '../print/settle.js';
import type { Slot } from '../profiles/slotWidths.js';
import type { Reading } from './schema.js';

/**
 * The slots as they are kept.
 * @param slots - As the face shows them; undefined where none is told.
 * @param settings - The print's settings: its ladder.
 * @returns The field, or nothing where no slot is told.
 */
export function slotsOf(
  slots: readonly Slot[] | undefined,
  { ladder }: Pick<PrintSettings, 'ladder'>,
): Pick<Reading, 'slots'> {
  if (slots === undefined || slots.length === 0) return {};
  return {
    slots: slots.map(({ toldMm, seen }) => {
      if (seen === undefined) return { toldMm, heights: [] };
      const { centreMm, widthMm, heights, closing } = seen;
      const hz = closing && ladderHzAt(ladder, closing.heightMm.value)?.value;
      return {
        toldMm,
        centreMm,
        widthMm,
        heights: heights.map((one) => ({ heightMm: one.heightMm, widthMm: one.widthMm })),
        ...(closing === undefined
          ? {}
          : { closes: { ...closing, ...(hz === undefined ? {} : { ladderHz: hz }) } }),
      };
    }),
  };
}
