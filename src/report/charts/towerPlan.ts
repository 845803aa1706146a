import { element, pathThrough } from '../svg.js';
import { ACCENT, HAIRLINE, INK, SOFT_INK } from './ink.js';
import { label } from './label.js';

/** Height and width of the drawing, px. */
export const TOWER_PLAN_PX = { width: 272, height: 176 } as const;

const TOWER = { left: 86, top: 22, side: 100 } as const;
const FOOT_PX = 6;

/**
 * A test tower from above as it stands on the bed: which faces are photographed, for which axis, which way round it is
 * printed, and where its foot stands out.
 * @param axes - The axis of the right face and that of the front face; of one axis the front face's.
 * @param turns - Which way round the outline is printed.
 * @returns SVG in a box of `TOWER_PLAN_PX`.
 * @throws {RangeError} When a position is not finite.
 */
export function towerPlan(axes: readonly string[], turns: 'counterclockwise' | 'clockwise'): string {
  const { left, top, side } = TOWER;
  const [right, bottom] = [left + side, top + side];
  const [first, second] = axes.length > 1 ? axes : [undefined, axes[0]];
  const edge = (points: readonly (readonly [number, number])[], stroke: string, width: number) =>
    element('path', { d: pathThrough(points), stroke, 'stroke-width': width, fill: 'none' });
  const foot = pathThrough(
    [
      [left - FOOT_PX, top - FOOT_PX],
      [right, top - FOOT_PX],
      [right, bottom],
      [left - FOOT_PX, bottom],
    ],
    true,
  );
  const inside = side / 2 - 20;
  const middle = [left + side / 2, top + side / 2] as const;
  const ring = Array.from({ length: 19 }, (_, i): readonly [number, number] => {
    // Seen from above with y upwards, the picture's y is downwards: counterclockwise is a falling angle here.
    const angle = ((turns === 'counterclockwise' ? -1 : 1) * i * Math.PI) / 12 + Math.PI / 2;
    return [middle[0] + inside * Math.cos(angle), middle[1] + inside * Math.sin(angle)];
  });
  const tip = ring.at(-1) ?? middle;
  const before = ring.at(-2) ?? middle;
  const [dx, dy] = [tip[0] - before[0], tip[1] - before[1]];
  const far = Math.hypot(dx, dy);
  const at = (along: number, across: number): readonly [number, number] => [
    tip[0] + (along * dx - across * dy) / far,
    tip[1] + (along * dy + across * dx) / far,
  ];
  return [
    element('path', { d: foot, fill: HAIRLINE }),
    edge(
      [
        [left, top],
        [right, top],
        [right, bottom],
        [left, bottom],
        [left, top],
      ],
      INK,
      1.5,
    ),
    edge(
      [
        [left, bottom],
        [right, bottom],
      ],
      ACCENT,
      5,
    ),
    ...(first === undefined
      ? []
      : [
          edge(
            [
              [right, top],
              [right, bottom],
            ],
            ACCENT,
            5,
          ),
          label(`axis ${first}`, right + 10, top + side / 2 + 4, { bold: true }),
        ]),
    edge(ring, SOFT_INK, 1.5),
    element('path', { d: pathThrough([at(7, 0), at(0, -4), at(0, 4)], true), fill: SOFT_INK }),
    label(`axis ${second ?? ''}`, left + side / 2, bottom + 18, { bold: true, anchor: 'middle' }),
    label('front of the bed', left + side / 2, bottom + 36, { fill: SOFT_INK, anchor: 'middle' }),
    label('foot', left - FOOT_PX - 5, top + 4, { fill: SOFT_INK, anchor: 'end' }),
    label('seam here', left - FOOT_PX - 5, top + 18, { fill: SOFT_INK, anchor: 'end' }),
  ].join('');
}
