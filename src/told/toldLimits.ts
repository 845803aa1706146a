import { InputError } from '../core/errors.js';
import type { DecideLimits } from '../decide/decideShapers.js';
import { SHAPER_FAMILIES, type ShaperFamily } from '../physics/shapers.js';
import { otherUnit } from '../print/recordProblem.js';

/** Something that only the user knows of machine and prints, as a flag and as a field of a form. */
export interface LimitField {
  /** With its argument, as the command line declares it. */
  readonly flag: string;
  /** The name under which `readLimits` takes it. */
  readonly name: string;
  /** Of a form's field. */
  readonly label: string;
  /** One line for people. */
  readonly help: string;
}

/** Every limit that a decision can be given. */
export const LIMIT_FIELDS: readonly LimitField[] = [
  {
    flag: '--max-acceleration <mm/s²>',
    name: 'maxAcceleration',
    label: 'Highest acceleration, mm/s²',
    help: 'the highest acceleration that you and the maker of the machine allow',
  },
  {
    flag: '--max-rounding <mm>',
    name: 'maxRounding',
    label: 'Rounding of corners, mm',
    help: 'by how much a corner may be cut',
  },
  {
    flag: '--speed <mm/s>',
    name: 'speed',
    label: 'Print speed, mm/s',
    help: 'print speed to come (default: that of the test print)',
  },
  {
    flag: '--corner-speed <mm/s>',
    name: 'cornerSpeed',
    label: 'Corner speed, mm/s',
    help: 'speed that is kept through a corner (default: that of the test print)',
  },
  {
    flag: '--slot <mm>',
    name: 'slot',
    label: 'Narrowest gap, mm',
    help: 'the narrowest gap in a wall that must stay open',
  },
  {
    flag: '--families <list>',
    name: 'families',
    label: 'Shapers offered',
    help: 'shapers that the machine offers, with commas (default: all published ones)',
  },
  {
    flag: '--load <kg>',
    name: 'load',
    label: 'Load on the bed, kg',
    help: 'what a print or a plate adds to a bed that moves; needs the next two',
  },
  {
    flag: '--bed-mass <kg>',
    name: 'bedMass',
    label: 'Mass that moves with the bed, kg',
    help: 'what moves with the bed without it',
  },
  {
    flag: '--bed-axis <name>',
    name: 'bedAxis',
    label: 'Axis that moves the bed',
    help: 'the axis that moves the bed, as its print record names it',
  },
];

/** Smaller ones are no acceleration of a printer; 9.8 is one of metres: the print record's own limit. */
const LEAST_ACCELERATION = 50;
/** No bed of a printer on a bench weighs more, nor what lies on it, kg (common practice, no source): these are grams. */
const MOST_KG = 100;
/** No bed carries more than so many times its own mass (common practice, no source): one of the two is in grams. */
const MOST_TIMES_BED = 20;

/**
 * Reads the limits.
 * @param given - What was typed, by the names of `LIMIT_FIELDS`; other names are passed over.
 * @returns The limits; one that is not given is absent.
 * @throws {InputError} `usage`, with the field that it is about.
 */
export function readLimits(given: Readonly<Record<string, unknown>>): DecideLimits {
  const told = {
    maxAccelerationMmPerS2: numberOf(given, 'maxAcceleration', LEAST_ACCELERATION),
    maxRoundingMm: numberOf(given, 'maxRounding'),
    speedMmPerS: numberOf(given, 'speed'),
    cornerSpeedMmPerS: numberOf(given, 'cornerSpeed', 0),
    slotMm: numberOf(given, 'slot'),
    load: loadOf(given),
  };
  const known = Object.entries(told).filter(([, value]) => value !== undefined);
  return { families: familiesOf(textOf(given, 'families')), ...Object.fromEntries(known) };
}

/** How a name ends whose number has the unit, as `otherUnit` knows it. */
const ENDS: Readonly<Record<string, string>> = { 'mm/s²': 'MmPerS2' };

function textOf(given: Readonly<Record<string, unknown>>, name: string): string | undefined {
  const text = given[name];
  return typeof text === 'string' ? text : undefined;
}

function flagOf(name: string): string {
  return LIMIT_FIELDS.find((field) => field.name === name)?.flag.split(' ')[0] ?? name;
}

function numberOf(
  given: Readonly<Record<string, unknown>>,
  name: string,
  least?: number,
): number | undefined {
  const text = textOf(given, name);
  if (text === undefined) return undefined;
  const value = text.trim() === '' ? NaN : Number(text);
  if (value < Infinity && (least === undefined ? value > 0 : value >= least)) return value;
  const range = least === undefined ? 'above 0' : `of at least ${String(least)}`;
  const field = LIMIT_FIELDS.find((one) => one.name === name);
  const unit = field?.flag.split(' ')[1]?.slice(1, -1) ?? '';
  const hint =
    least === undefined || !Number.isFinite(value)
      ? ''
      : otherUnit([`${name}${ENDS[unit] ?? ''}`], value, { minimum: least });
  throw new InputError(
    'usage',
    hint === ''
      ? `${flagOf(name)} is given as "${text}", which is no number ${range}.`
      : `${flagOf(name)} is given as "${text}"${hint}; a number ${range} is expected.`,
    `Give it in ${unit}, a number ${range}.`,
    name,
  );
}

function loadOf(given: Readonly<Record<string, unknown>>): DecideLimits['load'] {
  const names = ['load', 'bedMass', 'bedAxis'];
  const missing = names.find((name) => textOf(given, name) === undefined);
  if (names.every((name) => textOf(given, name) === undefined)) return undefined;
  const addedKg = numberOf(given, 'load', 0);
  const bedKg = numberOf(given, 'bedMass');
  const axis = textOf(given, 'bedAxis');
  if (addedKg !== undefined && bedKg !== undefined && axis !== undefined) {
    if (addedKg > MOST_KG || bedKg > MOST_KG || addedKg > MOST_TIMES_BED * bedKg) {
      throw new InputError(
        'usage',
        `A load of ${String(addedKg)} kg on a bed of ${String(bedKg)} kg cannot be meant: are these kilograms?`,
        `Give --load and --bed-mass in kg, each at most ${String(MOST_KG)}, the load at most ${String(MOST_TIMES_BED)} times the bed.`,
        bedKg > MOST_KG ? 'bedMass' : 'load',
      );
    }
    return { axis, addedKg, bedKg };
  }
  throw new InputError(
    'usage',
    'What a load does to the frequency cannot be told from one of --load, --bed-mass and --bed-axis alone.',
    'Give all three: what is added, what moves with the bed without it, and which axis moves the bed.',
    missing,
  );
}

function familiesOf(text: string | undefined): readonly ShaperFamily[] {
  if (text === undefined) return SHAPER_FAMILIES;
  const words = text
    .split(',')
    .map((word) => word.trim())
    .filter((word) => word !== '');
  return words.map((name) => {
    const family = SHAPER_FAMILIES.find((one) => bare(one) === bare(name));
    if (family !== undefined) return family;
    throw new InputError(
      'usage',
      `--families names "${name}", which is no shaper that is known here.`,
      `Give some of ${SHAPER_FAMILIES.join(', ')}, with commas between them.`,
      'families',
    );
  });
}

function bare(word: string): string {
  return word.toLowerCase().replaceAll(/[\s-]/g, '');
}
