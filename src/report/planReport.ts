import { COVERAGE_95 } from '../core/estimate.js';
import type { Expected, Plan, PlanNote, PlanOption } from '../planning/makePlan.js';
import { decimals, percent, withUnit } from './format.js';
import { CAUTION } from './proofWords.js';
import { labelled, plainText } from './textReport.js';

/** A plan in words. */
export interface PlanWords {
  readonly tower: readonly string[];
  readonly expected: readonly string[];
  readonly set: readonly string[];
  readonly why: readonly string[];
  readonly choices: readonly { readonly name: string; readonly rows: readonly (readonly string[])[] }[];
  readonly photo: readonly string[];
  readonly notes: readonly string[];
  readonly next: readonly string[];
}

/** Said with every plan and tower. */
export const PLAN_CAUTIONS = [
  CAUTION,
  "your machine's limits, its maker's instructions and local rules come before any number here",
  'stay beside the machine while it prints fast, ready to stop it',
] as const;

/**
 * A plan as plain text for a terminal.
 * @param plan - From `makePlan`.
 * @returns Lines joined by newlines, with one at the end; all spaces are U+0020.
 */
export function planReport(plan: Plan): string {
  const words = planWords(plan);
  return plainText([
    ...labelled('Tower', words.tower),
    ...labelled('expected', words.expected),
    ...labelled('set', words.set),
    ...labelled('why', words.why),
    ...words.choices.flatMap(({ name, rows }) => labelled('choice', [name, ...table(rows)])),
    ...labelled('photo', words.photo),
    ...labelled('note', words.notes),
    ...labelled('next', words.next),
  ]);
}

/** Columns as wide as their widest cell. */
function table(rows: readonly (readonly string[])[]): readonly string[] {
  const widths = (rows[0] ?? []).map((_, i) => Math.max(...rows.map((row) => (row[i] ?? '').length)));
  return rows.map((row) => `  ${row.map((cell, i) => cell.padEnd(widths[i] ?? 0)).join('  ')}`.trimEnd());
}

/**
 * Puts a plan into words.
 * @param plan - From `makePlan`.
 * @returns Its sections; each line without a full stop.
 */
export function planWords(plan: Plan): PlanWords {
  return {
    tower: towerWords(plan),
    expected: expectedWords(plan),
    set: settingWords(plan),
    why: why(plan),
    choices: choices(plan),
    photo: photoWords(plan),
    notes: plan.notes.filter(({ code }) => code !== 'not-shown').map(noteWords),
    next: [
      ...wayOut(plan),
      'make the tower of the record (stillband tower --print FILE), print the checklist (--checklist FILE), and measure both photos with their records',
      ...PLAN_CAUTIONS,
    ],
  };
}

const hz = (value: number) => withUnit(decimals(value, 0), 'Hz');
const mm = (value: number, digits = 0) => withUnit(decimals(value, digits), 'mm');
const half = ({ sdHz }: Pick<Expected, 'sdHz'>) =>
  sdHz === undefined ? 'not shown' : `± ${withUnit(decimals(COVERAGE_95 * sdHz, 2), 'Hz')}`;
const between = ([low, high]: readonly [number, number], digits: number) =>
  `${decimals(low, digits)} to ${decimals(high, digits)}`;

function towerWords({ tower, records }: Plan): readonly string[] {
  const [record] = records;
  const layer = mm(record?.layerHeightMm ?? 0, 2);
  return [
    `${decimals(tower.widthMm, 0)} × ${decimals(tower.widthMm, 0)} × ${mm(tower.heightMm, 1)} high, one wall, ${String(tower.layers)} layers of ${layer}, about ${withUnit(decimals(tower.minutes, 0), 'min')}`,
    ...facesOf(records),
  ];
}

/** Which face of the tower tells which axis, one line for each. */
function facesOf(records: Plan['records']): readonly string[] {
  return records.map(({ axis, face }, i) => {
    const side = records.length === 2 && i === 0 ? 'right' : 'front';
    return `the ${side} face tells axis ${axis}, which is perpendicular to it; its leading corner is the ${face.leadingCorner} one`;
  });
}

function expectedWords(plan: Plan): readonly string[] {
  const { expected, rangeHz } = plan;
  const [low, middle, high] = expected;
  const of = (one: Expected) => `${half(one)} at ${hz(one.naturalHz)}`;
  return [
    `${of(middle)} before anything is printed`,
    ...notShown(plan),
    `${of(low)}, ${of(high)}; ± spans 95 %`,
    `for axes that ring at ${hz(rangeHz.low)} to ${hz(rangeHz.high)}${FROM[rangeHz.from]}, damping ratio ${decimals(middle.dampingRatio, 2)}, a photo in raking light`,
  ];
}

/**
 * What of the range asked for is not had; it stands beside what is expected.
 * @param plan - From `makePlan`.
 * @returns A line for each stretch, without a full stop; none where all is shown.
 */
export function notShown({ notes }: Plan): readonly string[] {
  const stretches = notes.filter(({ code }) => code === 'not-shown');
  return stretches.map((note) => `careful: ${noteWords(note).replace(/^A/, 'a').replace(/\.$/, '')}`);
}

function wayOut(plan: Plan): readonly string[] {
  if (notShown(plan).length === 0) return [];
  const idea = {
    usual: 'an idea of the frequency (--idea)',
    idea: 'a better idea of the frequency (--idea)',
    reading: 'another reading to refine by (--refine)',
  } as const;
  return [
    `first plan again, so that the whole range is shown: with ${idea[plan.rangeHz.from]}, thinner layers (--layer-height), or higher limits if the maker allows them`,
  ];
}

const FROM = {
  usual: ', where most do (common practice, no source)',
  idea: ', your idea give or take 30 %',
  reading: ', what was read before and three standard uncertainties',
} as const;

function settingWords(plan: Plan): readonly string[] {
  const { speedMmPerS, accelerationMmPerS2, limits, records } = plan;
  const [record] = records;
  const ladder = record?.ladder.kind === 'linear' ? record.ladder : undefined;
  const shaper = record?.shaper;
  const { firstLayer = 0, lastLayer = 1, fromHz = 0, toHz = 0 } = ladder ?? {};
  const each = (toHz - fromHz) / (lastLayer - firstLayer);
  return [
    `print speed ${withUnit(decimals(speedMmPerS, 0), 'mm/s')} (your limit ${decimals(limits.speedMmPerS, 0)}), acceleration ${withUnit(decimals(accelerationMmPerS2, 0), 'mm/s²')} (your limit ${decimals(limits.accelerationMmPerS2, 0)})`,
    `shaper ${shaper?.family ?? ''} with damping setting ${decimals(shaper?.dampingRatio ?? 0, 2)} on all axes alike`,
    `shaper off up to layer ${String(firstLayer - 1)}, ${decimals(fromHz, 0)} Hz at layer ${String(firstLayer)}, then ${withUnit(decimals(each, 4), 'Hz')} more each layer up to ${hz(toHz)} at layer ${String(lastLayer)}; the lowest layer is 0`,
  ];
}

function why({ ramp, rangeHz, maskedMm, tower, photo, ladder }: Plan): readonly string[] {
  return [
    `the speed ramp behind the corner lasts ${withUnit(decimals(1000 * ramp.seconds, 1), 'ms')}, ${between(ramp.swings, 2)} swings: short against the time a swing takes to die out, and away from whole swings (0.85 to 1.15, 1.85 to 2.15), which excite nothing`,
    `the ladder runs from ${hz(ladder.fromHz)} to ${hz(ladder.toHz)}, so that ringing shows on both sides of ${hz(rangeHz.low)} and of ${hz(rangeHz.high)}`,
    `the longest impulse train hides ${mm(maskedMm, 1)} of wall behind the corner, of ${mm(tower.widthMm)}`,
    `${between(photo.pxPerRipple, 0).replace(/(.*) to (.*)/, '$2 to $1')} px per ripple; 40 or more are wanted`,
    `a layer takes ${withUnit(decimals(tower.layerS, 1), 's')} where nothing slows it down`,
  ];
}

function choices({ choices: { speed, range, height } }: Plan): PlanWords['choices'] {
  const mark = ({ taken }: PlanOption) => (taken ? '→' : '');
  const head = (what: string, reason: string) => ['', what, 'expected', reason];
  return [
    {
      name: 'print speed: faster walls have longer ripples, but the ramp lasts longer and excites less',
      rows: [
        head('speed', 'swings in the ramp, px per ripple at the upper end'),
        ...speed.map((one) => [
          mark(one),
          withUnit(decimals(one.value, 0), 'mm/s'),
          half(one),
          `${between(one.rampSwings, 2)}, ${decimals(one.pxPerRipple, 0)} px`,
        ]),
      ],
    },
    {
      name: 'range of frequencies: a better idea makes a narrower ladder',
      rows: [
        head('range', 'about its middle'),
        ...range.map((one) => [
          mark(one),
          `± ${percent(one.value)}`,
          half(one),
          `${between(one.rampSwings, 2)} swings in the ramp`,
        ]),
      ],
    },
    {
      name: 'height: a higher tower has more layers for each hertz, and takes longer',
      rows: [
        head('height', 'time'),
        ...height.map((one) => [
          mark(one),
          mm(one.value),
          half(one),
          `about ${withUnit(decimals(one.minutes, 0), 'min')}`,
        ]),
      ],
    },
  ];
}

function photoWords({ photo, tower }: Plan): readonly string[] {
  return [
    `from ${withUnit(decimals(photo.distanceMm / 10, 0), 'cm')} straight in front of the face, the camera focused there: ${withUnit(decimals(photo.pxPerMm, 0), 'px')} per mm`,
    `with the marker card beside the face from ${withUnit(decimals(photo.withCard.distanceMm / 10, 0), 'cm')}: ${decimals(photo.withCard.pxPerRipple[1], 0)} to ${decimals(photo.withCard.pxPerRipple[0], 0)} px per ripple`,
    `one lamp level with the tower, 60 to 75° from straight in front of the face, ${withUnit(decimals(photo.lampDistanceMm / 10, 0), 'cm')} away (five face widths of ${mm(tower.widthMm)}); room lights and flash off`,
  ];
}

function noteWords(note: PlanNote): string {
  switch (note.code) {
    case 'corner-speed-assumed':
      return `The speed kept through corners is not told; ${withUnit(decimals(note.mmPerS, 0), 'mm/s')} is assumed (--corner-speed).`;
    case 'whole-swings':
      return `An axis at ${hz(note.fromHz)} to ${hz(note.toHz)} hardly rings: the ramp lasts a whole swing there. A higher acceleration would help, if the maker allows it.`;
    case 'not-shown':
      return `An axis at ${hz(note.fromHz)}${note.toHz > note.fromHz ? ` to ${hz(note.toHz)}` : ''} is not shown clearly enough by this tower.`;
    case 'pitch-inside':
      return `A pattern of ${mm(note.pitchMm, 1)} shows like ${withUnit(decimals(note.hz, 1), 'Hz')} at this speed, which is on the ladder; it does not decay, and is left out where it stays apart from the ripples.`;
    case 'few-px-per-ripple':
      return `Above ${hz(note.aboveHz)} a photo with these pixels has fewer than 40 px per ripple (${decimals(note.px, 0)} at the upper end): a camera with more pixels or a longer lens helps.`;
    case 'fine-ripples':
      return `Ripples of ${mm(note.spacingMm, 2)} at the upper end are too fine for a nozzle of ${mm(note.nozzleMm, 1)}.`;
    case 'short-layers':
      return `A layer takes ${withUnit(decimals(note.seconds, 1), 's')}: where slowing for short layers is not switched off, the speed is not kept.`;
  }
}
