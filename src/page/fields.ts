import { flagArgument } from '../print/flagArgument.js';
import type { RawObject } from '../print/overrides.js';
import { isObject, valueAt } from '../print/recordProblem.js';

/** One field of the form, which gives one field of the print record. */
export interface Field {
  /** Name of the record's flag, as `optionName` gives it. */
  readonly name: string;
  /** Path in the print record. */
  readonly path: string;
  readonly label: string;
  readonly unit?: string;
  readonly kind: 'number' | 'text' | 'list' | 'date' | 'lines';
  /** Values to choose from, with what each is called. */
  readonly choices?: readonly (readonly [value: string, label: string])[];
  /** What helps to fill it in. */
  readonly help?: string;
  /** An argument that is understood. */
  readonly example?: string;
}

const FAMILIES = ['ZV', 'ZVD', 'ZVDD', 'EI', '2-hump EI', '3-hump EI'].map((one) => [one, one] as const);

const list: readonly Field[] = [
  {
    name: 'machine',
    path: 'machine',
    label: 'Machine',
    kind: 'text',
    help: 'By your own name; what you tell of it is remembered here.',
  },
  {
    name: 'axis',
    path: 'axis',
    label: 'Axis perpendicular to the photographed face',
    kind: 'text',
    example: 'Y',
    help: 'The nozzle arrives along it, stops, and turns: this is the axis that swings.',
  },
  {
    name: 'leadingCorner',
    path: 'face.leadingCorner',
    label: 'Leading corner',
    kind: 'text',
    choices: [
      ['left', 'Left in the photo'],
      ['right', 'Right in the photo'],
    ],
    help: 'The corner that the nozzle has just turned when it starts along the face, with the tower standing upright as printed.',
  },
  {
    name: 'speed',
    path: 'speedMmPerS',
    label: 'Print speed along the face',
    unit: 'mm/s',
    kind: 'number',
    example: '110',
  },
  {
    name: 'layerHeight',
    path: 'layerHeightMm',
    label: 'Layer height',
    unit: 'mm',
    kind: 'number',
    example: '0.2',
  },
  { name: 'layers', path: 'layers', label: 'Layers of the tower', kind: 'number', example: '320' },
  {
    name: 'faceWidth',
    path: 'face.widthMm',
    label: 'Width of the face as sliced',
    unit: 'mm',
    kind: 'number',
    example: '84',
  },
  {
    name: 'faceHeight',
    path: 'face.heightMm',
    label: 'Height of the face as sliced',
    unit: 'mm',
    kind: 'number',
    example: '64',
    help: 'Empty: all layers of the tower.',
  },
  {
    name: 'ladder',
    path: 'ladder.kind',
    label: 'How the shaper’s frequency climbs',
    kind: 'text',
    choices: [
      ['linear', 'Evenly, layer by layer'],
      ['stepped', 'In steps'],
      ['table', 'By a table of heights'],
      ['several', 'Several, one above the other'],
      ['fixed', 'Not at all: fixed'],
      ['off', 'The shaper was off'],
    ],
  },
  {
    name: 'fromHz',
    path: 'ladder.fromHz',
    label: 'Frequency at the lower end',
    unit: 'Hz',
    kind: 'number',
    example: '18',
  },
  {
    name: 'toHz',
    path: 'ladder.toHz',
    label: 'Frequency at the upper end',
    unit: 'Hz',
    kind: 'number',
    example: '66',
  },
  {
    name: 'firstLayer',
    path: 'ladder.firstLayer',
    label: 'Layer of the lower end',
    kind: 'number',
    example: '4',
    help: 'Counted from 0.',
  },
  {
    name: 'lastLayer',
    path: 'ladder.lastLayer',
    label: 'Layer of the upper end',
    kind: 'number',
    example: '319',
    help: 'Counted from 0.',
  },
  {
    name: 'fromMm',
    path: 'ladder.fromMm',
    label: 'Height of the lower end',
    unit: 'mm',
    kind: 'number',
    example: '0.9',
  },
  {
    name: 'toMm',
    path: 'ladder.toMm',
    label: 'Height of the upper end',
    unit: 'mm',
    kind: 'number',
    example: '63.9',
  },
  {
    name: 'hz',
    path: 'ladder.hz',
    label: 'The shaper’s frequency',
    unit: 'Hz',
    kind: 'number',
    example: '40',
  },
  {
    name: 'bands',
    path: 'ladder.bands',
    label: 'Steps',
    kind: 'list',
    example: '0-5:30,5-10:32',
    help: 'From mm to mm, a colon, Hz; commas between.',
  },
  {
    name: 'points',
    path: 'ladder.points',
    label: 'Heights and frequencies',
    kind: 'list',
    example: '0:18,64:66',
    help: 'mm, a colon, Hz; commas between.',
  },
  {
    name: 'ladders',
    path: 'ladder.ladders',
    label: 'Ladders from the bottom up',
    kind: 'list',
    example: '0.9-31:20-70,33-63.9:30-50',
    help: 'From mm to mm, a colon, from Hz to Hz; by layers with # in front.',
  },
  {
    name: 'accelerationBands',
    path: 'accelerationLadder.bands',
    label: 'Accelerations by height',
    kind: 'list',
    example: '0-8:1500,8-16:2500',
    help: 'From mm to mm, a colon, mm/s²; commas between.',
  },
  {
    name: 'acceleration',
    path: 'accelerationMmPerS2',
    label: 'Acceleration along the face',
    unit: 'mm/s²',
    kind: 'number',
    example: '6000',
  },
  {
    name: 'cornerSpeed',
    path: 'cornerSpeedMmPerS',
    label: 'Speed kept through the corner',
    unit: 'mm/s',
    kind: 'number',
    example: '6',
  },
  { name: 'shaper', path: 'shaper.family', label: 'Family of the shaper', kind: 'text', choices: FAMILIES },
  {
    name: 'damping',
    path: 'shaper.dampingRatio',
    label: 'Damping ratio that the shaper was set to',
    kind: 'number',
    example: '0.08',
  },
  {
    name: 'hzMeans',
    path: 'shaper.hzMeans',
    label: 'The frequency entered is',
    kind: 'text',
    choices: [
      ['natural', 'the natural one'],
      ['damped', 'the damped one'],
    ],
  },
  {
    name: 'alongWall',
    path: 'shaper.alongWall',
    label: 'Shaping of the move along the face',
    kind: 'list',
    example: 'as-ladder',
    help: 'as-ladder, off, or Hz, family and damping like 40,ZV,0.1',
  },
  {
    name: 'seam',
    path: 'seam',
    label: 'Where layers start and end',
    kind: 'text',
    choices: [
      ['other-face', 'On another face'],
      ['this-face', 'On this face'],
      ['leading-corner', 'At the leading corner'],
      ['none', 'Nowhere'],
    ],
  },
  {
    name: 'direction',
    path: 'direction',
    label: 'Walls are printed',
    kind: 'text',
    choices: [
      ['same', 'the same way in each layer'],
      ['alternates', 'in alternating directions'],
    ],
  },
  {
    name: 'firstLayerHeight',
    path: 'firstLayerHeightMm',
    label: 'Height of the first layer, if other',
    unit: 'mm',
    kind: 'number',
    example: '0.3',
  },
  {
    name: 'faceBottom',
    path: 'face.bottomMm',
    label: 'Where the face begins above the bed',
    unit: 'mm',
    kind: 'number',
    example: '0',
  },
  {
    name: 'reference',
    path: 'reference.kind',
    label: 'What lies beside the face for scale',
    kind: 'list',
    example: 'id1-card',
    choices: [
      ['id1-card', 'A bank card'],
      ['ruler', 'A ruler in mm'],
      ['marker-card', 'The printed marker card'],
    ],
  },
  {
    name: 'behindFace',
    path: 'reference.behindFaceMm',
    label: 'How far it lies behind the face',
    unit: 'mm',
    kind: 'number',
    example: '0',
    help: '0 where it is held flush.',
  },
  {
    name: 'checkLength',
    path: 'reference.checkLengthMm',
    label: 'What the marker card’s check length measures',
    unit: 'mm',
    kind: 'number',
    example: '89.7',
  },
  {
    name: 'twoPoints',
    path: 'reference',
    label: 'Two points and their distance',
    kind: 'list',
    example: '120,80 2950,95 84',
    help: 'Positions in px of the photo, then mm.',
  },
  {
    name: 'dpi',
    path: 'reference.dotsPerInch',
    label: 'Resolution of a flatbed scan',
    unit: 'dots per inch',
    kind: 'number',
    example: '600',
  },
  {
    name: 'penHeight',
    path: 'penLineMm',
    label: 'Height of your pen line by calipers',
    unit: 'mm',
    kind: 'number',
    example: '31',
  },
  {
    name: 'penPlusMinus',
    path: 'penLinePlusMinusMm',
    label: 'How well you measured it, ±',
    unit: 'mm',
    kind: 'number',
    example: '0.3',
  },
  {
    name: 'slots',
    path: 'slots',
    label: 'Slots in the face',
    kind: 'list',
    example: '58:2',
    help: 'mm from the leading corner, a colon, width in mm; commas between.',
  },
  {
    name: 'knownPitches',
    path: 'knownPitchesMm',
    label: 'Pitches of the drive',
    unit: 'mm',
    kind: 'list',
    example: '2,0.9',
  },
  { name: 'printedOn', path: 'printedOn', label: 'Day of the print', kind: 'date', example: '2026-03-14' },
  { name: 'material', path: 'material', label: 'Material and colour', kind: 'text', example: 'white, satin' },
  { name: 'title', path: 'title', label: 'What the print was for', kind: 'text', example: 'after new belts' },
  { name: 'photoOf', path: 'photoOf', label: 'Your name for this face', kind: 'text', example: 'Y face' },
  { name: 'notes', path: 'notes', label: 'Notes', kind: 'lines' },
];

/** Every field of the form by its name; corners have a place of their own, over the photo. */
export const FIELDS: ReadonlyMap<string, Field> = new Map(list.map((field) => [field.name, field]));

/** What is asked of the photo. */
export type Asked = 'ladder' | 'spacing' | 'proof';

/** Fields of the ladder that belong to each kind of it. */
const OF_LADDER: Readonly<Record<string, readonly string[]>> = {
  linear: ['fromHz', 'toHz'],
  stepped: ['bands'],
  table: ['points'],
  several: ['ladders'],
  fixed: ['hz'],
};
const LADDER_FIELDS = new Set([
  ...Object.values(OF_LADDER).flat(),
  'firstLayer',
  'lastLayer',
  'fromMm',
  'toMm',
]);

/** What the form holds. */
export interface FormState {
  readonly asked: Asked;
  /** Whether the ends of a linear ladder are told in layers or in mm. */
  readonly endsIn: 'layers' | 'mm';
  /** As typed, by name. */
  readonly texts: Readonly<Record<string, string>>;
  /** The earlier frequency, for a re-check. */
  readonly was: string;
}

/**
 * Whether a field is asked for, as the form stands.
 * @param name - The field.
 * @param state - The form.
 * @returns False for fields of another ladder or another question.
 */
export function isShown(name: string, { asked, endsIn, texts }: FormState): boolean {
  if (name === 'accelerationBands') return asked === 'proof';
  if (!LADDER_FIELDS.has(name)) return true;
  const kind = texts['ladder'] ?? '';
  if (name === 'firstLayer' || name === 'lastLayer') return kind === 'linear' && endsIn === 'layers';
  if (name === 'fromMm' || name === 'toMm') return kind === 'linear' && endsIn === 'mm';
  return OF_LADDER[kind]?.includes(name) === true;
}

/**
 * The fields that must be filled in before a photo can be measured.
 * @param state - The form.
 * @returns Their names, in the order of the form.
 */
export function needed(state: FormState): readonly string[] {
  const { asked, texts } = state;
  const scaled = ['twoPoints', 'dpi', 'reference'].some((name) => (texts[name] ?? '') !== '');
  const always = ['axis', 'speed', 'layerHeight', 'leadingCorner'];
  const size = scaled ? [] : ['faceWidth', ...((texts['layers'] ?? '') === '' ? ['faceHeight'] : [])];
  const ladder = asked === 'spacing' && (texts['ladder'] ?? '') === '' ? [] : ['ladder'];
  const ofLadder = [...LADDER_FIELDS].filter((name) => isShown(name, state));
  const order = [...FIELDS.keys()];
  const names = [
    ...always,
    ...size,
    ...ladder,
    ...ofLadder,
    ...(asked === 'proof' ? ['accelerationBands'] : []),
  ];
  return names.sort((a, b) => order.indexOf(a) - order.indexOf(b));
}

/**
 * What a record says in a field, as it is typed.
 * @param record - The record; may hold anything.
 * @param field - The field.
 * @returns The text; empty where it says nothing.
 * @internal
 */
export function textIn(record: RawObject | undefined, { name, path }: Field): string {
  if (record === undefined) return '';
  if (path.startsWith('reference')) return referenceText(referencesIn(record), name);
  return flagArgument(path, valueAt(path.split('.'), record)) ?? '';
}

function referencesIn(record: RawObject): readonly RawObject[] {
  const { reference } = record;
  const all: readonly unknown[] = Array.isArray(reference) ? reference : [reference];
  return all.filter(isObject);
}

function referenceText(references: readonly RawObject[], name: string): string {
  const first = (key: string) => references.find((one) => one[key] !== undefined)?.[key];
  const point = (value: unknown) => (Array.isArray(value) ? value.join(',') : '');
  switch (name) {
    case 'reference':
      return references.map(({ kind }) => String(kind)).join(',');
    case 'behindFace':
      return flagArgument('', first('behindFaceMm')) ?? '';
    case 'checkLength':
      return flagArgument('', first('checkLengthMm')) ?? '';
    case 'dpi':
      return flagArgument('', first('dotsPerInch')) ?? '';
    default: {
      const points = references.find(({ kind }) => kind === 'two-points');
      if (points === undefined) return '';
      return `${point(points['aPx'])} ${point(points['bPx'])} ${String(points['distanceMm'])}`;
    }
  }
}

/** A record, and the fields that change it. */
export interface Told {
  readonly record?: RawObject;
  readonly fields: Readonly<Record<string, string>>;
}

/**
 * What a form tells: what was typed goes as it stands, so that one parser reads it here and on the command line.
 * @param state - The form.
 * @param base - The record that it was filled from.
 * @returns The record less what was emptied, and what was typed in addition.
 */
export function toldBy(state: FormState, base: RawObject | undefined): Told {
  const fields: Record<string, string> = {};
  let record = base;
  for (const field of list) {
    const text = (state.texts[field.name] ?? '').trim();
    const before = textIn(base, field);
    if (!isShown(field.name, state)) {
      if (field.name === 'accelerationBands' && record !== undefined) {
        record = without(record, ['accelerationLadder']);
      }
      continue;
    }
    if (text === before) continue;
    if (text !== '') fields[field.name] = text;
    else if (record !== undefined) record = emptied(record, field);
  }
  return { fields, ...(record === undefined ? {} : { record }) };
}

/**
 * The same for a mere look at the photo, which needs no ladder: one that is not complete yet stays out.
 * @param state - The form.
 * @param base - The record that it was filled from.
 * @returns What is told so far.
 */
export function toldForLook(state: FormState, base: RawObject | undefined): Told {
  const isEmpty = (name: string) => (state.texts[name] ?? '').trim() === '';
  const told = toldBy(state, base);
  if (!needed(state).some((name) => isOfLadder(name) && isEmpty(name))) return told;
  const fields = Object.entries(told.fields).filter(([name]) => !isOfLadder(name));
  return {
    fields: Object.fromEntries(fields),
    ...(told.record === undefined
      ? {}
      : { record: without(without(told.record, ['ladder']), ['accelerationLadder']) }),
  };
}

function isOfLadder(name: string): boolean {
  return name === 'ladder' || name === 'accelerationBands' || LADDER_FIELDS.has(name);
}

/** A form without this field is a record without it. */
function emptied(record: RawObject, { name, path }: Field): RawObject {
  if (name === 'reference') return without(record, ['reference']);
  if (!path.startsWith('reference')) return without(record, path.split('.'));
  const kept = referencesIn(record).flatMap((one) => {
    if (name === 'twoPoints') return one['kind'] === 'two-points' ? [] : [one];
    return [without(one, [path.slice('reference.'.length)])];
  });
  const rest = without(record, ['reference']);
  return kept.length === 0 ? rest : { ...rest, reference: kept };
}

function without(record: RawObject, [key = '', ...rest]: readonly string[]): RawObject {
  const { [key]: inner, ...others } = record;
  if (rest.length === 0) return others;
  return isObject(inner) ? { ...others, [key]: without(inner, rest) } : record;
}

/**
 * A form filled from a record.
 * @param record - The record; may hold anything.
 * @returns The form.
 */
export function formOf(record: RawObject): FormState {
  const texts = Object.fromEntries(list.map((field) => [field.name, textIn(record, field)]));
  return {
    asked: texts['accelerationBands'] === '' ? 'ladder' : 'proof',
    endsIn: texts['fromMm'] === '' ? 'layers' : 'mm',
    texts,
    was: '',
  };
}

/** An empty form, as most towers are printed. */
export const EMPTY: FormState = { asked: 'ladder', endsIn: 'layers', texts: { ladder: 'linear' }, was: '' };

/** A field's name in the record, and its flag behind it; names that are plain English words only where they begin a sentence. */
const NAME_IN_RECORD = /(?<![\w.“])([a-z]\w*(?:(?:\.\w+)|(?:\[\d+\]))*)(?: \(--[a-z0-9-]+\))?/g;

/**
 * What was written for a command line, in the words of this page: a field stands where its flag or its name in the record
 * stood.
 * @param text - The message or the advice.
 * @returns The same, with the fields' labels in quotes.
 */
export function inPageWords(text: string): string {
  return text
    .replaceAll(NAME_IN_RECORD, (said, path: string, at: number) => {
      const isName = /[A-Z.[]/.test(path) || (at === 0 && /^\S+(?: \(\S+\))? is /.test(text));
      const label = isName ? labelOf(path) : undefined;
      return label === undefined ? said : `“${label}”`;
    })
    .replaceAll('or --print FILE', 'or load its print record')
    .replaceAll('--spacing-only', '“Has it moved?”')
    .replaceAll('--face)', 'drag them in the photo)')
    .replaceAll(/--([a-z0-9-]+)/g, (flag, words: string) => {
      const name = words.replaceAll(/-(\w)/g, (_, letter: string) => letter.toUpperCase());
      const label = FIELDS.get(name)?.label;
      return label === undefined ? flag : `“${label}”`;
    });
}

function labelOf(path: string): string | undefined {
  const plain = path.replaceAll(/\[\d+\]/g, '');
  return (
    list.find((field) => field.path === plain) ?? list.find((field) => plain.startsWith(`${field.path}.`))
  )?.label;
}
