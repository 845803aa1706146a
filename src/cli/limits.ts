import type { Command } from 'commander';
import { InputError, SHAPER_FAMILIES, type DecideLimits, type ShaperFamily } from '../index.js';
import { listOf } from './lists.js';

/** What is told of machine and prints, as typed. */
export interface LimitOptions {
  readonly families?: string;
  readonly maxAcceleration?: string;
  readonly maxRounding?: string;
  readonly speed?: string;
  readonly cornerSpeed?: string;
  readonly slot?: string;
  readonly load?: string;
  readonly bedMass?: string;
  readonly bedAxis?: string;
}

/**
 * Adds the options that tell limits.
 * @param command - The command to fill.
 */
export function addLimitOptions(command: Command): void {
  command.optionsGroup('Your limits:');
  command
    .option(
      '--max-acceleration <mm/s²>',
      'the highest acceleration that you and the maker of the machine allow',
    )
    .option('--max-rounding <mm>', 'by how much a corner may be cut')
    .option('--speed <mm/s>', 'print speed to come (default: that of the test print)')
    .option('--corner-speed <mm/s>', 'speed that is kept through a corner (default: that of the test print)')
    .option('--slot <mm>', 'the narrowest gap in a wall that must stay open')
    .option('--families <list>', 'shapers that the machine offers (default: all published ones)')
    .option('--load <kg>', 'what a print or a plate adds to a bed that moves; needs the next two')
    .option('--bed-mass <kg>', 'what moves with the bed without it')
    .option('--bed-axis <name>', 'the axis that moves the bed');
}

/**
 * Reads the limits.
 * @param options - As typed.
 * @returns The limits; one that is not given is absent.
 * @throws {InputError} `usage`.
 */
export function readLimits(options: LimitOptions): DecideLimits {
  const told = {
    maxAccelerationMmPerS2: numberOf(
      '--max-acceleration',
      options.maxAcceleration,
      'mm/s²',
      LEAST.acceleration,
    ),
    maxRoundingMm: numberOf('--max-rounding', options.maxRounding, 'mm'),
    speedMmPerS: numberOf('--speed', options.speed, 'mm/s'),
    cornerSpeedMmPerS: numberOf('--corner-speed', options.cornerSpeed, 'mm/s', 0),
    slotMm: numberOf('--slot', options.slot, 'mm'),
    load: loadOf(options),
  };
  const given = Object.entries(told).filter(([, value]) => value !== undefined);
  return { families: familiesOf(options.families), ...Object.fromEntries(given) };
}

/** Smaller ones are no acceleration of a printer; 9.8 is one of metres: the print record's own limit. */
const LEAST = { acceleration: 50 } as const;

function numberOf(flag: string, text: string | undefined, unit: string, least?: number): number | undefined {
  if (text === undefined) return undefined;
  const value = text.trim() === '' ? NaN : Number(text);
  if (value < Infinity && (least === undefined ? value > 0 : value >= least)) return value;
  const range = least === undefined ? 'above 0' : `of at least ${String(least)}`;
  throw new InputError(
    'usage',
    `${flag} is given as "${text}", which is no number ${range}.`,
    `Give it in ${unit}, a number ${range}.`,
  );
}

function loadOf({ load, bedMass, bedAxis }: LimitOptions): DecideLimits['load'] {
  if (load === undefined && bedMass === undefined && bedAxis === undefined) return undefined;
  const addedKg = numberOf('--load', load, 'kg', 0);
  const bedKg = numberOf('--bed-mass', bedMass, 'kg');
  if (addedKg === undefined || bedKg === undefined || bedAxis === undefined) {
    throw new InputError(
      'usage',
      'What a load does to the frequency cannot be told from one of --load, --bed-mass and --bed-axis alone.',
      'Give all three: what is added, what moves with the bed without it, and which axis moves the bed.',
    );
  }
  return { axis: bedAxis, addedKg, bedKg };
}

function familiesOf(text: string | undefined): readonly ShaperFamily[] {
  if (text === undefined) return SHAPER_FAMILIES;
  return listOf(text).map((name) => {
    const family = SHAPER_FAMILIES.find((one) => sameWord(one, name));
    if (family !== undefined) return family;
    throw new InputError(
      'usage',
      `--families names "${name}", which is no shaper that is known here.`,
      `Give some of ${SHAPER_FAMILIES.join(', ')}, with commas between them.`,
    );
  });
}

function sameWord(one: string, other: string): boolean {
  const bare = (word: string) => word.toLowerCase().replaceAll(/[\s-]/g, '');
  return bare(one) === bare(other);
}
