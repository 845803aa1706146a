import { element, escapeXml } from '../svg.js';
import { INK, PAPER, SIZES } from './ink.js';

/** How a label looks. */
export interface LabelStyle {
  /** @default SIZES.label */
  readonly sizePx?: number;
  /** @default INK */
  readonly fill?: string;
  readonly bold?: boolean;
  /** A rim of paper, for text that a line may pass behind. */
  readonly rim?: boolean;
  /** Which end of the text stands at x. @default 'start' */
  readonly anchor?: 'start' | 'middle' | 'end';
}

/**
 * One line of text.
 * @param text - The text; not escaped yet.
 * @param x - Position in px.
 * @param baselineY - Baseline in px.
 * @param style - How it looks.
 * @returns A text element.
 * @throws {RangeError} When a position is not finite.
 */
export function label(text: string, x: number, baselineY: number, style: LabelStyle = {}): string {
  const { sizePx = SIZES.label, fill = INK, bold = false, rim = false, anchor = 'start' } = style;
  return element(
    'text',
    {
      x,
      y: baselineY,
      'font-size': sizePx,
      fill,
      'font-weight': bold ? 'bold' : undefined,
      'text-anchor': anchor === 'start' ? undefined : anchor,
      ...(rim
        ? { stroke: PAPER, 'stroke-width': 3, 'stroke-linejoin': 'round', 'paint-order': 'stroke' }
        : {}),
    },
    escapeXml(text),
  );
}
