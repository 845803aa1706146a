import type { AfterSteps } from '../decide/afterSteps.js';
import type { ChosenAxis } from '../decide/decideShapers.js';
import { settingWords, DECIDE_CAUTIONS, decideSections, mmPerS2 } from './decideReport.js';
import { decimals, withUnit } from './format.js';
import { labelled, plainText } from './textReport.js';

/** What to do after a decision in words; each entry is one line of plain text. */
export interface AfterSections {
  /** For each axis the value said three ways: by name, by how the tower stood, and by its place. */
  readonly enter: readonly { readonly axis: string; readonly lines: readonly string[] }[];
  /** What is not to be entered yet. */
  readonly not: readonly string[];
  readonly prove: readonly string[];
  readonly read: readonly string[];
  readonly repeat: readonly string[];
  readonly cautions: readonly string[];
}

/**
 * What to do after a decision as plain text for a terminal.
 * @param steps - The steps.
 * @returns Lines joined by newlines, with one at the end; all spaces are U+0020.
 */
export function afterReport(steps: AfterSteps): string {
  const { enter, not, prove, read, repeat, cautions } = afterSections(steps);
  return plainText([
    ...enter.flatMap(({ lines }) => labelled('enter', lines)),
    ...labelled('not yet', not),
    ...labelled('prove', prove),
    ...labelled('read', read),
    ...labelled('repeat', repeat),
    ...labelled('mind', cautions),
  ]);
}

/**
 * What to do after a decision in words.
 * @param steps - The steps.
 * @returns Its sections.
 */
export function afterSections(steps: AfterSteps): AfterSections {
  const { enter, notYet, decision } = steps;
  const planned = steps.proof.state === 'planned';
  return {
    enter: enter.map((axis) => ({ axis: axis.axis, lines: enterWords(axis) })),
    not: notYet.flatMap((axis) => {
      const { verdict, next, meaning } = decideSections(axis, decision);
      return [verdict.replaceAll(/ {2,}/g, ': '), meaning, ...next];
    }),
    prove: proveWords(steps),
    read: readWords(steps),
    repeat: enter.length === 0 ? [] : REPEAT,
    cautions: [...(planned ? [ATTENDED] : []), ...DECIDE_CAUTIONS],
  };
}

/** Places in which values stand: X at the left, Y at the right. */
const PLACES = ['X', 'Y'] as const;

function enterWords({ axis, choice }: ChosenAxis): readonly string[] {
  const hz = withUnit(decimals(choice.enterHz, 1), 'Hz');
  const named = PLACES.find((name) => name === axis.toUpperCase());
  return [
    `axis ${axis}: ${settingWords(choice)}`,
    `axis ${axis} is the one perpendicular to the photographed face: along it the nozzle came to the leading corner and stopped; not the one along the face`,
    named === undefined
      ? `in the place of axis ${axis}: ${hz}`
      : `[ ${PLACES.map((name) => `${name}: ${name === named ? hz : 'not this one'}`).join(' | ')} ]`,
    `write down first what is entered for axis ${axis} now, so that it can be put back`,
  ];
}

/** Said beside every acceleration that is to be tried. */
const ATTENDED =
  'stay beside the machine while the proof prints, ready to stop it, and stop it where it knocks, loses steps or runs hot';

function proveWords({ proof, decision }: AfterSteps): readonly string[] {
  if (proof.state === 'not-planned') {
    switch (proof.why) {
      case 'nothing-to-enter':
        return [];
      case 'no-limit':
        return [
          'a proof print climbs to the highest acceleration that you and the maker of the machine allow: tell it by --max-acceleration, none is guessed here',
        ];
      case 'no-height':
        return ['the print record does not tell how high the tower is: measure again with --face-height'];
      case 'too-low':
        return [
          'the test tower is too low for steps that can be read: print the proof on one of 20 mm or more',
        ];
    }
  }
  const { steps, speedMmPerS } = proof;
  const usual = decision.speeds?.speedMmPerS ?? speedMmPerS;
  const why =
    speedMmPerS === usual
      ? ''
      : `, not ${withUnit(String(usual), 'mm/s')}, at which the speed ramp in the corner lasts a whole swing at your limit and excites next to nothing`;
  return [
    `print the tower again at ${withUnit(String(speedMmPerS), 'mm/s')}${why}, shapers as entered, while the acceleration climbs with height:`,
    ...steps.map(
      ({ fromMm, toMm, mmPerS2: value }) =>
        `${decimals(fromMm, 1)} to ${withUnit(decimals(toMm, 1), 'mm')}: ${mmPerS2(value)}`,
    ),
    'print it once before the change as well, with the shapers off or as they were: only beside that does "better" have a number',
  ];
}

function readWords({ enter, proof }: AfterSteps): readonly string[] {
  if (proof.state !== 'planned') return [];
  const { speedMmPerS } = proof;
  const bands = proof.steps.map(
    ({ fromMm, toMm, mmPerS2: value }) => `${String(fromMm)}-${String(toMm)}:${String(value)}`,
  );
  return [
    'photograph the same faces in the same light as those of the test; measure each with the record of its test print and these flags after it:',
    ...enter.map(({ axis, choice }) => {
      const wall = enter.find((other) => other.axis !== axis)?.choice;
      const alongWall = wall === undefined ? '' : ` --along-wall ${quoted(wallFlag(wall))}`;
      return `axis ${axis}: --speed ${String(speedMmPerS)} --ladder fixed --hz ${choice.enterHz.toFixed(1)} --shaper ${quoted(choice.family)} --damping ${String(choice.dampingRatio)}${alongWall} --acceleration-bands "${bands.join(',')}"`;
    }),
    ...(enter.length === 1
      ? [
          'the wall runs along the other axis: add --along-wall with what is entered for that one, as "Hz,family,damping", or off',
        ]
      : []),
    'it says up to which acceleration no ringing is seen; "stillband compare" sets the print from before beside it',
  ];
}

/** The shaper of the axis along the wall, as --along-wall takes it. */
function wallFlag({ enterHz, family, dampingRatio }: ChosenAxis['choice']): string {
  return [enterHz.toFixed(1), family, String(dampingRatio)].join(',');
}

/** As a shell takes it. */
function quoted(text: string): string {
  return text.includes(' ') ? `"${text}"` : text;
}

/** What moves the frequency of an axis. */
const REPEAT: readonly string[] = [
  'belts: tightened, replaced, or a few hundred hours old',
  'moving mass: another nozzle head, fan, cable, bed plate, or a heavy print on a bed that moves',
  'frame: screws, bearings, feet, the table it stands on, a move to another place',
  'ripples that are back on walls that were clean; a quick re-check is "stillband measure --spacing-only --was"',
];
