import { InputError } from '../core/errors.js';
import { readLadders } from './ladderList.js';
import { ladderFields, PRINT_RECORD_SCHEMA, spelled } from './record.js';
import { isObject } from './recordProblem.js';

/** A record as parsed, before it is checked. */
export type RawObject = Readonly<Record<string, unknown>>;

/** A command-line flag that gives one field of the print record. */
export interface RecordFlag {
  /** With its argument, as the command line declares it: `--speed <mm/s>`. */
  readonly flag: string;
  /** The field it gives, a path into the print record. */
  readonly path: string;
  /** An argument that is understood. */
  readonly example: string;
  /** One line for people. */
  readonly help: string;
  /** Reads the argument. Throws an InputError `usage` when it cannot be understood. */
  readonly read: (text: string) => unknown;
  /** Puts what was read into a record, which may still hold anything. Returns a new record. */
  readonly put: (record: RawObject, value: unknown) => RawObject;
}

/**
 * The name under which a command line keeps a flag's argument.
 * @param flag - As in `RECORD_FLAGS`, like `--face-width <mm>`.
 * @returns The name in camel case, like `faceWidth`.
 */
export function optionName(flag: string): string {
  return flagName(flag)
    .slice(2)
    .replaceAll(/-(\w)/g, (_, letter: string) => letter.toUpperCase());
}

/**
 * A flag without its argument.
 * @param declared - As in `RECORD_FLAGS`, like `--speed <mm/s>`.
 * @returns Its name, like `--speed`.
 */
export function flagName(declared: string): string {
  return declared.split(' ')[0] ?? '';
}

/**
 * A flag with its example, as it is typed.
 * @param flag - The flag.
 * @returns Name and argument, quoted where a shell needs it.
 */
export function flagExample({ flag: declared, example }: RecordFlag): string {
  return `${flagName(declared)} ${/^[\w.-]+$/.test(example) ? example : `"${example}"`}`;
}

/** Every flag that gives a field of the print record, in the order in which they are applied. */
export const RECORD_FLAGS: readonly RecordFlag[] = [
  words('--axis <name>', 'axis', 'Y', 'the machine axis perpendicular to the face'),
  number('--speed <mm/s>', 'speedMmPerS', '110', 'print speed along the face'),
  number('--acceleration <mm/s²>', 'accelerationMmPerS2', '6000', 'acceleration along the face'),
  number('--corner-speed <mm/s>', 'cornerSpeedMmPerS', '6', 'speed that is kept through the corner'),
  number('--layer-height <mm>', 'layerHeightMm', '0.2', 'layer height'),
  number('--first-layer-height <mm>', 'firstLayerHeightMm', '0.3', 'height of the first layer, if other'),
  number('--layers <n>', 'layers', '320', 'number of layers of the tower'),
  words('--seam <where>', 'seam', 'other-face', 'other-face, this-face, leading-corner or none'),
  words('--direction <how>', 'direction', 'same', 'walls printed the same way each layer, or alternates'),
  number('--face-width <mm>', 'face.widthMm', '84', 'width of the face as sliced'),
  number('--face-height <mm>', 'face.heightMm', '64', 'height of the face as sliced'),
  number('--face-bottom <mm>', 'face.bottomMm', '0', 'where the face begins above the bed'),
  words(
    '--leading-corner <side>',
    'face.leadingCorner',
    'left',
    'left or right with the tower upright as printed: the corner just turned',
  ),
  words('--shaper <family>', 'shaper.family', 'ZV', 'ZV, ZVD, ZVDD, EI, 2-hump EI or 3-hump EI'),
  number('--damping <ratio>', 'shaper.dampingRatio', '0.08', 'damping ratio that the shaper was set to'),
  words('--hz-means <which>', 'shaper.hzMeans', 'natural', 'the frequency entered is natural or damped'),
  flag(
    '--along-wall <how>',
    'shaper.alongWall',
    '40,ZV,0.1',
    'shaping of the move along the face: as-ladder, off, or "Hz,family,damping"',
    readAlongWall,
  ),
  {
    ...words('--ladder <kind>', 'ladder.kind', 'linear', 'linear, stepped, table, several, fixed or off'),
    put: putLadderKind,
  },
  number('--from-hz <Hz>', 'ladder.fromHz', '18', 'linear ladder: frequency at the lower end'),
  number('--to-hz <Hz>', 'ladder.toHz', '66', 'linear ladder: frequency at the upper end'),
  number('--first-layer <n>', 'ladder.firstLayer', '4', 'linear ladder: layer of the lower end, from 0'),
  number('--last-layer <n>', 'ladder.lastLayer', '319', 'linear ladder: layer of the upper end, from 0'),
  number('--from-mm <mm>', 'ladder.fromMm', '0.9', 'linear ladder: height of the lower end'),
  number('--to-mm <mm>', 'ladder.toMm', '63.9', 'linear ladder: height of the upper end'),
  number('--hz <Hz>', 'ladder.hz', '40', 'fixed ladder: its frequency'),
  flag('--bands <list>', 'ladder.bands', '0-5:30,5-10:32', 'stepped ladder: "mm-mm:Hz,…"', (text, name) =>
    readList(text, name, RANGE, ([fromMm, toMm, hz]) => ({ fromMm, toMm, hz })),
  ),
  flag('--points <list>', 'ladder.points', '0:18,64:66', 'ladder by table: "mm:Hz,…"', (text, name) =>
    readList(text, name, PAIR, ([mm, hz]) => ({ mm, hz })),
  ),
  {
    ...flag(
      '--ladders <list>',
      'ladder.ladders',
      '0.9-31:20-70,33-63.9:20-70',
      'several ladders, from the bottom up: "mm-mm:Hz-Hz,…"; by layers #n-n:Hz-Hz; steps or points with / between',
      (text, name) => {
        const ladders = readLadders(text);
        if (ladders === undefined) throw misread(name, text);
        return ladders;
      },
    ),
    // One alone is simply the tower's ladder.
    put: (record, ladders) => ({
      ...record,
      ladder:
        Array.isArray(ladders) && ladders.length === 1
          ? (ladders[0] as unknown)
          : { kind: 'several', ladders },
    }),
  },
  flag(
    '--acceleration-bands <list>',
    'accelerationLadder.bands',
    '0-10:2000,10-20:4000',
    'proof print: "mm-mm:mm/s²,…"',
    (text, name) => readList(text, name, RANGE, ([fromMm, toMm, mmPerS2]) => ({ fromMm, toMm, mmPerS2 })),
  ),
  {
    ...flag(
      '--reference <kinds>',
      'reference.kind',
      'id1-card',
      'what tells the scale: face, layers, id1-card, ruler, marker-card, two-points, dpi; several with commas',
      (text) => text.split(',').map((kind) => spelled('reference.kind', kind.trim())),
    ),
    put: putReferenceKinds,
  },
  {
    ...flag(
      '--two-points <list>',
      'reference',
      '120,80 2950,95 84',
      'two points on the face and their distance: "x,y x,y mm"',
      readTwoPoints,
    ),
    put: putReference,
  },
  {
    ...number('--dpi <n>', 'reference.dotsPerInch', '600', 'resolution of a flatbed scan, dots per inch'),
    put: (record, dotsPerInch) => putReference(record, { kind: 'dpi', dotsPerInch }),
  },
  {
    ...number(
      '--behind-face <mm>',
      'reference.behindFaceMm',
      '30',
      'how far the reference lies behind the face',
    ),
    put: putBehindFace,
  },
  {
    ...number(
      '--check-length <mm>',
      'reference.checkLengthMm',
      '89.7',
      "what the marker card's check length measures with calipers",
    ),
    put: putCheckLength,
  },
  flag('--known-pitches <list>', 'knownPitchesMm', '2,0.9', 'pitches of the drive: "mm,…"', (text, name) =>
    text.split(',').map((part) => toNumber(part, text, name)),
  ),
  flag(
    '--face <corners>',
    'facePx',
    '410,300 3650,320 3640,2790 400,2780',
    'corners of the face, px of the upright photo: "x,y x,y - -" clockwise from its top left; - is found',
    (text, name) => {
      const points = text.trim().split(/\s+/);
      if (points.length !== 4) throw misread(name, text, FOUR_CORNERS);
      return points.map((part) => (part === '-' ? null : readPoint(part, text, name)));
    },
  ),
  number(
    '--pen-height <mm>',
    'penLineMm',
    '31',
    'pen line drawn by eye: its middle above the bed, by calipers',
  ),
  number('--pen-plus-minus <mm>', 'penLinePlusMinusMm', '0.3', 'how well you measured it, ± of 95 %'),
  flag('--slots <list>', 'slots', '58:2', 'slots: "mm from the leading corner:width in mm,…"', (text, name) =>
    readList(text, name, PAIR, ([centreFromLeadingCornerMm, widthMm]) => ({
      centreFromLeadingCornerMm,
      widthMm,
    })),
  ),
  words('--machine <name>', 'machine', 'north bench 3', 'the machine, by your own name'),
  words('--printed-on <date>', 'printedOn', '2026-03-14', 'day of the print'),
  words('--material <text>', 'material', 'white, satin', 'material and colour'),
  words('--title <text>', 'title', 'after new belts', 'what the print was for'),
  words('--photo-of <name>', 'photoOf', 'Y face', 'the photographed face, by your own name'),
  words('--notes <text>', 'notes', 'feet tightened', 'anything else worth keeping'),
];

/**
 * Replaces fields of a print record by what flags give.
 * @param record - The raw record, or undefined to begin with an empty one; not modified.
 * @param given - Arguments by option name (`optionName`); names that are no record flag are passed over.
 * @returns A new raw record. Parents are made where they are missing. What contradicts a flag goes: with
 * another kind of ladder the fields that do not fit it, with ends in mm the ends in layers, and the other way.
 * @throws {InputError} `usage` when an argument cannot be read, or another flag of the ladder stands beside `--ladders`.
 */
export function applyOverrides(record: unknown, given: Readonly<Record<string, string>>): unknown {
  const told = RECORD_FLAGS.filter(({ flag: name }) => Object.hasOwn(given, optionName(name)));
  const start = record === undefined ? { schema: PRINT_RECORD_SCHEMA } : record;
  if (!isObject(start) || told.length === 0) return start;
  const paths = new Set(told.map(({ path }) => path));
  checkLadders(told, given);
  return told.reduce(
    (raw, { flag: name, read, put }) => put(raw, read(given[optionName(name)] ?? '')),
    withoutOtherEnds(start, paths),
  );
}

/** Several ladders are told whole: another flag of one ladder beside them would be passed over. */
function checkLadders(told: readonly RecordFlag[], given: Readonly<Record<string, string>>): void {
  const several = told.find(({ path }) => path === 'ladder.ladders');
  const beside = told.find(
    ({ path, flag: name, read }) =>
      path.startsWith('ladder.') &&
      path !== several?.path &&
      !(path === 'ladder.kind' && read(given[optionName(name)] ?? '') === 'several'),
  );
  if (several === undefined || beside === undefined) return;
  throw new InputError(
    'usage',
    `${flagName(beside.flag)} is given beside ${flagName(several.flag)}, which tells all ladders by itself.`,
    `Leave one of the two away.`,
    beside.path,
  );
}

type Read = (text: string, name: string) => unknown;

function flag(declared: string, path: string, example: string, help: string, read: Read): RecordFlag {
  return {
    flag: declared,
    path,
    example,
    help,
    read: (text) => read(text, flagName(declared)),
    put: (record, value) => putAt(record, path.split('.'), value),
  };
}

function words(declared: string, path: string, example: string, help: string): RecordFlag {
  // On a command line nobody should have to remember capitals; free text stays as it is.
  return flag(declared, path, example, help, (text) => spelled(path, text));
}

function number(declared: string, path: string, example: string, help: string): RecordFlag {
  return flag(declared, path, example, help, (text, name) => toNumber(text, text, name));
}

const FOUR_CORNERS =
  ' All four have their place: put - for each that is not told, as in "410,300 - 3640,2790 -".';

/** An error with the flag's own example: the reader knows its name, the table the rest. */
function misread(name: string, found: string, hint = ''): InputError {
  const entry = RECORD_FLAGS.find((one) => flagName(one.flag) === name);
  return new InputError(
    'usage',
    `${name} is given as "${found}", which cannot be read.`,
    `Write it like ${entry === undefined ? name : flagExample(entry)} (${entry?.help ?? ''}).${hint}`,
    entry?.path,
  );
}

const NUMBER = String.raw`[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?`;
const UNSIGNED = String.raw`(?:\d+\.?\d*|\.\d+)`;
const ONE = new RegExp(`^${NUMBER}$`);
const PAIR = new RegExp(`^(${UNSIGNED}):(${UNSIGNED})$`);
const RANGE = new RegExp(`^(${UNSIGNED})-(${UNSIGNED}):(${UNSIGNED})$`);

/** `part` is what should be one number, `text` the whole argument, to be shown when it is not. */
function toNumber(part: string, text: string, name: string): number {
  const value = ONE.test(part.trim()) ? Number(part) : Number.NaN;
  if (!Number.isFinite(value)) throw part === text ? notANumber(name, text) : misread(name, text);
  return value;
}

const COMMA = /^[+-]?\d*,\d+$/;
/** What may be meant as thousands, where a point for the comma would make it a thousand times less. */
const THREE_AFTER_COMMA = /^[+-]?[1-9]\d{0,2},\d{3}$/;

/** Much of the world writes decimals with a comma. */
function notANumber(name: string, text: string): InputError {
  const told = text.trim();
  if (!COMMA.test(told)) return misread(name, text);
  const point = told.replace(',', '.');
  return misread(
    name,
    text,
    THREE_AFTER_COMMA.test(told)
      ? ` Write a point, not a comma (${point}), or nothing where thousands are meant (${told.replace(',', '')}).`
      : ` Write a point, not a comma: ${point}.`,
  );
}

function readList(
  text: string,
  name: string,
  pattern: RegExp,
  make: (numbers: readonly number[]) => unknown,
): readonly unknown[] {
  return text.split(',').map((item) => {
    const match = pattern.exec(item.trim());
    if (match === null) throw misread(name, text);
    return make(match.slice(1).map(Number));
  });
}

function readPoint(part: string, text: string, name: string): readonly number[] {
  const point = part.split(',').map((coordinate) => toNumber(coordinate, text, name));
  if (point.length !== 2) throw misread(name, text);
  return point;
}

function readAlongWall(text: string, name: string): unknown {
  const parts = text.split(',').map((part) => part.trim());
  const [hz, family, dampingRatio] = parts;
  if (parts.length === 1) return spelled('shaper.alongWall', text.trim());
  if (hz === undefined || family === undefined || dampingRatio === undefined || parts.length > 3) {
    throw misread(name, text);
  }
  return {
    hz: toNumber(hz, text, name),
    family: spelled('shaper.alongWall.family', family),
    dampingRatio: toNumber(dampingRatio, text, name),
  };
}

function readTwoPoints(text: string, name: string): unknown {
  const [a, b, distance, ...rest] = text.trim().split(/\s+/);
  if (a === undefined || b === undefined || distance === undefined || rest.length > 0)
    throw misread(name, text);
  return {
    kind: 'two-points',
    aPx: readPoint(a, text, name),
    bPx: readPoint(b, text, name),
    distanceMm: toNumber(distance, text, name),
  };
}

/** A parent that is there but no object stays, so that the check of the record names it. */
function putAt(record: RawObject, path: readonly string[], value: unknown): RawObject {
  const [key, ...rest] = path;
  if (key === undefined) return record;
  if (rest.length === 0) return { ...record, [key]: value };
  const parent = record[key] ?? {};
  return isObject(parent) ? { ...record, [key]: putAt(parent, rest, value) } : record;
}

function putLadderKind(record: RawObject, kind: unknown): RawObject {
  const { ladder } = record;
  if (!isObject(ladder)) return ladder === undefined ? { ...record, ladder: { kind } } : record;
  const fitting = ladderFields(kind);
  const kept = Object.entries(ladder).filter(
    // A key that fits no kind is a slip of the file and must be named.
    ([key]) => fitting?.includes(key) !== false || !LADDER_FIELDS.has(key),
  );
  return { ...record, ladder: { ...Object.fromEntries(kept), kind } };
}

const LADDER_FIELDS: ReadonlySet<string> = new Set(
  RECORD_FLAGS.filter(({ path }) => path.startsWith('ladder.')).map(({ path }) =>
    path.slice('ladder.'.length),
  ),
);

const ENDS_IN_LAYERS = ['firstLayer', 'lastLayer'];
const ENDS_IN_MM = ['fromMm', 'toMm'];

/** Ends given in one way replace the file's ends in the other; given in both ways, the check says so. */
function withoutOtherEnds(record: RawObject, paths: ReadonlySet<string>): RawObject {
  const { ladder } = record;
  const has = (names: readonly string[]) => names.some((name) => paths.has(`ladder.${name}`));
  const inLayers = has(ENDS_IN_LAYERS);
  if (!isObject(ladder) || inLayers === has(ENDS_IN_MM)) return record;
  const other = inLayers ? ENDS_IN_MM : ENDS_IN_LAYERS;
  const kept = Object.entries(ladder).filter(([key]) => !other.includes(key));
  return { ...record, ladder: Object.fromEntries(kept) };
}

/**
 * The references of a record that may still hold anything.
 * @param record - The record; one reference may stand in it without a list.
 * @returns All of them, as they stand.
 */
export function referencesOf(record: RawObject): readonly unknown[] {
  const { reference } = record;
  if (reference === undefined) return [];
  return Array.isArray(reference) ? (reference as readonly unknown[]) : [reference];
}

function withReferences(record: RawObject, references: readonly unknown[]): RawObject {
  return { ...record, reference: references.length === 1 ? references[0] : references };
}

/**
 * Whether a reference is of a kind.
 * @param reference - A reference that may still be anything.
 * @param kind - The kind.
 * @returns True for an object of that kind.
 */
export function isOfKind(reference: unknown, kind: unknown): boolean {
  return isObject(reference) && reference['kind'] === kind;
}

/** Keeps what the record already tells of the kinds that are asked for. */
function putReferenceKinds(record: RawObject, kinds: unknown): RawObject {
  const before = referencesOf(record);
  return withReferences(
    record,
    (kinds as readonly string[]).flatMap((kind) => {
      const same = before.filter((one) => isOfKind(one, kind));
      return same.length > 0 ? same : [{ kind }];
    }),
  );
}

function putReference(record: RawObject, reference: unknown): RawObject {
  const kind = isObject(reference) ? reference['kind'] : undefined;
  return withReferences(record, [...referencesOf(record).filter((one) => !isOfKind(one, kind)), reference]);
}

/** Only the marker card has one, so it is a reference where it was not named. */
function putCheckLength(record: RawObject, checkLengthMm: unknown): RawObject {
  const before = referencesOf(record);
  const isCard = (one: unknown) => isOfKind(one, 'marker-card');
  if (!before.some(isCard)) return putReference(record, { kind: 'marker-card', checkLengthMm });
  return withReferences(
    record,
    before.map((one) => (isObject(one) && isCard(one) ? { ...one, checkLengthMm } : one)),
  );
}

const PLANE_KINDS: readonly unknown[] = ['id1-card', 'ruler', 'marker-card'];

function putBehindFace(record: RawObject, behindFaceMm: unknown): RawObject {
  const before = referencesOf(record);
  const isPlane = (one: unknown) => isObject(one) && PLANE_KINDS.includes(one['kind']);
  if (!before.some(isPlane)) {
    throw new InputError(
      'usage',
      '--behind-face is given, but no reference that could lie behind the face.',
      'Add --reference id1-card, ruler or marker-card, or leave --behind-face away.',
      'reference.behindFaceMm',
    );
  }
  return withReferences(
    record,
    before.map((one) => (isObject(one) && isPlane(one) ? { ...one, behindFaceMm } : one)),
  );
}
