import { InputError } from '../core/errors.js';
import type { PlanNeeds } from '../planning/makePlan.js';

/** One thing that is told for a plan: a flag of the command, a field of the page. */
export interface PlanField {
  /** Option name. */
  readonly name: string;
  /** Flag with its argument, as the command's help shows it. */
  readonly flag: string;
  readonly help: string;
  /** What it is called on a page, with its unit. */
  readonly label: string;
  /** Asked for, never guessed: as the end of "A plan needs …". */
  readonly needed?: string;
  /** What stands there where nothing is told. */
  readonly preset?: string;
}

/** All that is told for a plan, in the order in which it is asked for. */
export const PLAN_FIELDS = [
  {
    name: 'maxAcceleration',
    flag: '--max-acceleration <mm/s²>',
    help: 'the largest acceleration that is safe on this machine',
    label: 'Largest safe acceleration, mm/s²',
    needed: 'the largest acceleration that is safe, mm/s²',
  },
  {
    name: 'maxSpeed',
    flag: '--max-speed <mm/s>',
    help: 'the largest print speed that is safe on this machine',
    label: 'Largest safe print speed, mm/s',
    needed: 'the largest print speed that is safe, mm/s',
  },
  {
    name: 'layerHeight',
    flag: '--layer-height <mm>',
    help: 'layer height',
    label: 'Layer height, mm',
    needed: 'the layer height, mm',
  },
  {
    name: 'nozzle',
    flag: '--nozzle <mm>',
    help: 'width of the nozzle',
    label: 'Width of the nozzle, mm',
    needed: 'the width of the nozzle, mm',
  },
  {
    name: 'bed',
    flag: '--bed <WxD>',
    help: 'width and depth of the bed, mm, like 220x220',
    label: 'Bed, width x depth, mm',
    needed: 'the size of the bed, mm',
  },
  {
    name: 'axes',
    flag: '--axes <names>',
    help: 'the axes that one tower is to tell, right face first',
    label: 'Axes, right face first',
    preset: 'X,Y',
  },
  {
    name: 'machine',
    flag: '--machine <name>',
    help: 'the machine, by your own name',
    label: 'Machine, by your own name',
  },
  {
    name: 'idea',
    flag: '--idea <hz>',
    help: 'about where it rings: one frequency for all axes, or one for each with a comma',
    label: 'About where it rings, Hz (one, or one for each axis)',
  },
  {
    name: 'cornerSpeed',
    flag: '--corner-speed <mm/s>',
    help: 'speed that is kept through a corner',
    label: 'Speed kept through corners, mm/s',
  },
  {
    name: 'knownPitches',
    flag: '--known-pitches <mm>',
    help: 'pitches of the drive, such as belt teeth, with commas',
    label: 'Known pitches of the drive, mm',
  },
  {
    name: 'turns',
    flag: '--turns <way>',
    help: 'which way round the outline is printed, seen from above: counterclockwise or clockwise',
    label: 'Way round, seen from above',
    preset: 'counterclockwise',
  },
  {
    name: 'slot',
    flag: '--slot <mm>',
    help: 'put a slot of this width into each face',
    label: 'Slot in each face, mm wide',
  },
  {
    name: 'photoPx',
    flag: '--photo-px <px>',
    help: "longer side of the camera's photos, px (4000 unless told)",
    label: "Longer side of the camera's photos, px",
  },
  {
    name: 'focalLength',
    flag: '--focal-length <mm>',
    help: "the camera's focal length on 35-mm film (26 unless told)",
    label: "The camera's focal length on 35-mm film, mm",
  },
] as const satisfies readonly PlanField[];

/** What was typed, by option name; empty or absent: not told. */
export type PlanTexts = Readonly<Partial<Record<(typeof PLAN_FIELDS)[number]['name'], string>>>;

/**
 * What a plan is made of, from what was typed.
 * @param texts - By option name.
 * @returns What `makePlan` takes.
 * @throws {InputError} `usage`: all that is missing at once, or the first that cannot be understood.
 */
export function planNeeds(texts: PlanTexts): PlanNeeds {
  const missing = PLAN_FIELDS.flatMap((field) =>
    'needed' in field && texts[field.name] === undefined ? [`${field.needed} (${flagOf(field.name)})`] : [],
  );
  if (missing.length > 0) {
    throw new InputError(
      'usage',
      `A plan needs ${missing.join('; ')}.`,
      "Look up the machine's limits in its maker's papers, and give them: they are not guessed.",
    );
  }
  const number = (name: keyof PlanTexts) => numberOf(flagOf(name), texts[name] ?? '');
  const turns = texts.turns ?? 'counterclockwise';
  if (turns !== 'counterclockwise' && turns !== 'clockwise') {
    throw new InputError(
      'usage',
      `--turns is given as "${turns}".`,
      'Give one of counterclockwise, clockwise.',
    );
  }
  return {
    axes: wordsOf(texts.axes ?? 'X,Y'),
    maxAccelerationMmPerS2: number('maxAcceleration'),
    maxSpeedMmPerS: number('maxSpeed'),
    layerHeightMm: number('layerHeight'),
    nozzleMm: number('nozzle'),
    bedMm: bedOf(texts.bed ?? ''),
    turns,
    ...(texts.machine === undefined ? {} : { machine: texts.machine }),
    ...(texts.idea === undefined ? {} : { ideaHz: numbersOf('--idea', texts.idea) }),
    ...(texts.cornerSpeed === undefined ? {} : { cornerSpeedMmPerS: number('cornerSpeed') }),
    ...(texts.knownPitches === undefined
      ? {}
      : { knownPitchesMm: numbersOf('--known-pitches', texts.knownPitches) }),
    ...(texts.slot === undefined ? {} : { slotMm: number('slot') }),
    ...(texts.photoPx === undefined ? {} : { photoPx: number('photoPx') }),
    ...(texts.focalLength === undefined ? {} : { focalLength35Mm: number('focalLength') }),
  };
}

function flagOf(name: keyof PlanTexts): string {
  const flag: string = PLAN_FIELDS.find((field) => field.name === name)?.flag ?? '';
  return flag.split(' ')[0] ?? '';
}

function wordsOf(text: string): readonly string[] {
  return text
    .split(',')
    .map((word) => word.trim())
    .filter((word) => word !== '');
}

function numbersOf(flag: string, text: string): readonly number[] {
  return wordsOf(text).map((word) => numberOf(flag, word));
}

function numberOf(flag: string, text: string): number {
  const value = Number(text);
  if (text.trim() !== '' && Number.isFinite(value)) return value;
  throw new InputError(
    'usage',
    `${flag} is given as "${text}", which is no number.`,
    'Give a number with a decimal point and without its unit.',
  );
}

function bedOf(text: string): readonly [number, number] {
  const [width, depth, more] = text.split(/[x×]/i);
  if (width !== undefined && depth !== undefined && more === undefined) {
    return [numberOf('--bed', width), numberOf('--bed', depth)];
  }
  throw new InputError('usage', `--bed is given as "${text}".`, 'Give width and depth in mm, like 220x220.');
}
