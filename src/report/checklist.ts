import type { Plan } from '../planning/makePlan.js';
import { TOWER_PLAN_PX, towerPlan } from './charts/towerPlan.js';
import { decimals, withUnit } from './format.js';
import { notShown, PLAN_CAUTIONS, planWords } from './planReport.js';
import type { Sheet } from './sheet/sheet.js';

const BLANK = '________';

/**
 * A page to take to the machine: what to check, set, print, photograph and put back.
 * @param plan - From `makePlan`.
 * @returns The page, for `sheetHtml` and `sheetPdf`.
 */
export function drawChecklist(plan: Plan): Sheet {
  const words = planWords(plan);
  const { records, speedMmPerS, accelerationMmPerS2, limits } = plan;
  const [record] = records;
  const axes = records.map(({ axis }) => axis);
  const turns = record?.face.leadingCorner === 'right' ? 'clockwise' : 'counterclockwise';
  const named = axes.length === 1 ? `axis ${axes.join('')}` : `axes ${axes.join(' and ')}`;
  const [expected = ''] = words.expected;
  const speed = withUnit(decimals(speedMmPerS, 0), 'mm/s');
  const acceleration = withUnit(decimals(accelerationMmPerS2, 0), 'mm/s²');
  return {
    title: `Checklist of a test tower for ${named}${record?.machine === undefined ? '' : `, ${record.machine}`}`,
    description: 'What to check, set, print, photograph and put back for a test tower, as planned.',
    sides: [
      {
        heading: record?.machine ?? '',
        axis: 'Test tower',
        answer: named,
        rest: `${speed}, ${acceleration}, ladder ${decimals(plan.ladder.fromHz, 0)} to ${withUnit(decimals(plan.ladder.toHz, 0), 'Hz')}`,
        goodFor: [`expected ${expected}`, ...notShown(plan)].join('; '),
        belongs: words.tower.slice(1).join('; '),
        mark: {
          svg: towerPlan(axes, turns),
          widthPx: TOWER_PLAN_PX.width,
          heightPx: TOWER_PLAN_PX.height,
          alt: `The tower from above, printed ${turns}: the faces to photograph are thick edges with their axes, the foot stands out at the back and at the left, where the seam belongs.`,
          caption: '',
        },
        pictures: [],
        sections: [
          {
            name: 'Limits, by you and the maker',
            lines: [
              `acceleration at most ${withUnit(decimals(limits.accelerationMmPerS2, 0), 'mm/s²')} as told; by the maker ${BLANK}`,
              `speed at most ${withUnit(decimals(limits.speedMmPerS, 0), 'mm/s')} as told; by the maker ${BLANK}`,
            ],
          },
          {
            name: 'Before: write down what is set now',
            boxes: [
              `acceleration ${BLANK}`,
              `speed kept through corners, or what sets it ${BLANK}`,
              `shaper, its frequency and damping for each axis ${BLANK} ${BLANK}`,
              `pressure compensation of the nozzle ${BLANK} (leave it as it is)`,
              `speed and flow dials ${BLANK} ${BLANK}`,
            ],
          },
          {
            name: 'The machine',
            boxes: [
              'belts evenly tight, pulley and frame screws tight, nothing loose on the head',
              'it stands as it always does, on the feet and the table it is used on',
              'nozzle clean; nothing within reach of the moving parts',
              'speed and flow dials at 100 %',
            ],
          },
          {
            name: 'The filament',
            boxes: [
              'light and satin: not black, not clear, not glossy',
              'dry; the same spool for both faces',
            ],
          },
          {
            name: 'Slice it',
            boxes: [
              ...words.tower.slice(0, 1),
              'one wall or a spiral, no infill, no top; the tower unturned, its foot at the back and at the left',
              'seam at the back left corner, away from the leading corners of both photographed faces',
              `the outline runs ${turns} in every layer: look at the preview`,
              `outer wall, and every other: ${speed}`,
              'slowing for short layers, small perimeters and overhangs off',
              'the same acceleration for all walls; no other move slower or faster at the corners',
              'the ladder gets into the job where the machine sets it layer by layer, or by a line of your own machine that you give as a template: stillband weave, or the Plan page',
            ],
          },
          {
            name: 'Set for this print',
            boxes: words.set,
          },
          {
            name: 'While it prints',
            boxes: [
              'stay beside it, ready to stop it; keep clear of moving and hot parts',
              'listen to the first layers: stop it where motors skip or anything knocks',
              'dials stay at 100 %',
            ],
          },
          { name: 'The photo', boxes: words.photo },
          {
            name: 'Put back afterwards',
            boxes: [
              'acceleration, corner speed and shaper as written down above',
              'slowing for short layers on again',
              'dials as they were',
            ],
          },
          { name: 'Why so', lines: words.why },
          { name: 'Notes', lines: words.notes },
          { name: 'Cautions', lines: PLAN_CAUTIONS },
        ],
      },
    ],
  };
}
