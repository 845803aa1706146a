import { InputError } from '../core/errors.js';
import type { PlanNeeds } from '../planning/makePlan.js';
import { otherUnit } from '../print/recordProblem.js';

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

/** Least and most of what is told as a number, by which slips of the unit are noticed: as in a print record, or wider. */
const LIMITS: Readonly<Partial<Record<FieldName, readonly [least: number, most: number, unit: string]>>> = {
  maxAcceleration: [50, 100_000, 'MmPerS2'],
  maxSpeed: [5, 1000, 'MmPerS'],
  layerHeight: [0.01, 1.2, 'Mm'],
  nozzle: [0.05, 5, 'Mm'],
  bed: [10, 5000, 'Mm'],
  idea: [2, 300, 'Hz'],
  cornerSpeed: [0, 1000, 'MmPerS'],
  knownPitches: [0.1, 100, 'Mm'],
  slot: [0.05, 100, 'Mm'],
  photoPx: [100, 100_000, ''],
  focalLength: [1, 2000, 'Mm'],
};

/** What was typed, by option name; empty or absent: not told. */
export type PlanTexts = Readonly<Partial<Record<(typeof PLAN_FIELDS)[number]['name'], string>>>;

type FieldName = keyof PlanTexts;

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
  const number = (name: FieldName) => numberOf(name, texts[name] ?? '');
  const turns = texts.turns ?? 'counterclockwise';
  if (turns !== 'counterclockwise' && turns !== 'clockwise') {
    throw new InputError(
      'usage',
      `--turns is given as "${turns}".`,
      'Give one of counterclockwise, clockwise.',
    );
  }
  return {
    axes: axesOf(texts.axes ?? 'X,Y'),
    maxAccelerationMmPerS2: number('maxAcceleration'),
    maxSpeedMmPerS: number('maxSpeed'),
    layerHeightMm: number('layerHeight'),
    nozzleMm: number('nozzle'),
    bedMm: bedOf(texts.bed ?? ''),
    turns,
    ...(texts.machine === undefined ? {} : { machine: texts.machine }),
    ...(texts.idea === undefined ? {} : { ideaHz: numbersOf('idea', texts.idea) }),
    ...(texts.cornerSpeed === undefined ? {} : { cornerSpeedMmPerS: number('cornerSpeed') }),
    ...(texts.knownPitches === undefined
      ? {}
      : { knownPitchesMm: numbersOf('knownPitches', texts.knownPitches) }),
    ...(texts.slot === undefined ? {} : { slotMm: number('slot') }),
    ...(texts.photoPx === undefined ? {} : { photoPx: number('photoPx') }),
    ...(texts.focalLength === undefined ? {} : { focalLength35Mm: number('focalLength') }),
  };
}

function flagOf(name: FieldName): string {
  const flag: string = PLAN_FIELDS.find((field) => field.name === name)?.flag ?? '';
  return flag.split(' ')[0] ?? '';
}

function wordsOf(text: string): readonly string[] {
  return text
    .split(',')
    .map((word) => word.trim())
    .filter((word) => word !== '');
}

/** A doubled axis would be one record over the other, and a name with a space is no word of a command or template. */
function axesOf(text: string): readonly string[] {
  const axes = wordsOf(text);
  const given = `--axes is given as "${text}"`;
  if (axes.length < 1 || axes.length > 2) {
    throw new InputError(
      'usage',
      `${given}, which names ${String(axes.length)} axes; one tower tells one or two.`,
      'Name one axis, or two with a comma, like X,Y.',
    );
  }
  if (axes.some((axis) => /\s/.test(axis))) {
    throw new InputError(
      'usage',
      `${given}, and a name has a space in it.`,
      'Write each name without spaces, and a comma between two.',
    );
  }
  if (axes[0]?.toLowerCase() === axes[1]?.toLowerCase()) {
    throw new InputError(
      'usage',
      `${given}, which is the same axis twice.`,
      'Name two axes that differ in more than capital letters, or one.',
    );
  }
  return axes;
}

function numbersOf(name: FieldName, text: string): readonly number[] {
  return wordsOf(text).map((word) => numberOf(name, word));
}

function numberOf(name: FieldName, text: string): number {
  const value = Number(text);
  if (text.trim() === '' || !Number.isFinite(value)) {
    throw new InputError(
      'usage',
      `${flagOf(name)} is given as "${text}", which is no number.`,
      'Give a number with a decimal point and without its unit.',
    );
  }
  const [minimum, maximum, unit] = LIMITS[name] ?? [-Infinity, Infinity, ''];
  if (value >= minimum && value <= maximum) return value;
  throw new InputError(
    'usage',
    `${flagOf(name)} is given as "${text}"${otherUnit([unit], value, { minimum, maximum })}.`,
    `Give a number from ${String(minimum)} to ${String(maximum)}, with a point for decimals alone.`,
  );
}

function bedOf(text: string): readonly [number, number] {
  const [width, depth, more] = text.split(/[x×]/i);
  if (width !== undefined && depth !== undefined && more === undefined) {
    return [numberOf('bed', width), numberOf('bed', depth)];
  }
  throw new InputError('usage', `--bed is given as "${text}".`, 'Give width and depth in mm, like 220x220.');
}
