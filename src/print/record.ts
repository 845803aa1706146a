import { parseTree, printParseErrorCode, type Node, type ParseError } from 'jsonc-parser';
import { z } from 'zod';
import { InputError } from '../core/errors.js';
import { CHECK_LENGTH_MM, CHECK_LENGTHS_MM } from '../core/markerCard.js';
import { received } from '../core/received.js';
import { MOST_DAMPED } from '../physics/extraInsensitive.js';
import { SHAPER_FAMILIES } from '../physics/shapers.js';
import { firstConflict } from './recordConflicts.js';
import {
  choicesAt,
  fieldName,
  fieldProblem,
  isObject,
  missingFields,
  sameLetters,
  unknownField,
  valueAt,
  type FieldPath,
  type SchemaNode,
} from './recordProblem.js';

/** Name and version of the print record's schema. */
export const PRINT_RECORD_SCHEMA = 'stillband/print-record@1';

const number = (low: number, high: number, what: string) => z.number().min(low).max(high).describe(what);
const count = (low: number, high: number, what: string) => z.int().min(low).max(high).describe(what);
/**
 * Characters that move the cursor, break the line or turn the direction of the text (Unicode: Cc, Zl, Zp,
 * Bidi_Control) could make a report say something else; the last two are none in XML 1.0, so in no picture.
 * Written out, since not every reader of JSON Schema knows the properties.
 */
const UNPRINTED = String.raw`\u0000-\u001F\u007F-\u009F\u061C\u200E\u200F\u2028-\u202E\u2066-\u2069\uFFFE\uFFFF`;
const ONE_LINE = new RegExp(`^[^${UNPRINTED}]*$`, 'u');
const LINES = new RegExp(`^(?:[^${UNPRINTED}]|[\\t\\n]|\\r\\n)*$`, 'u');

const text = (longest: number, what: string, form = ONE_LINE) =>
  z.string().min(1).max(longest).regex(form).describe(what);
const heightMm = (what: string) => number(0, 1000, `${what}, mm above the bed`);
const frequencyHz = (what: string) => number(1, 500, `${what}, Hz`);
const layerHeightMm = (what: string) => number(0.01, 1.2, `${what}, mm`);
const accelerationMmPerS2 = (what: string) => number(50, 100_000, `${what}, mm/s²`);
/**
 * So damped, a swing passes its end once, by 16 % (exp(−πζ/√(1 − ζ²)), the overshoot of a step), and needs no shaper;
 * motion controls are set to 0.05 to 0.15 (common practice, no source). EI is not defined beyond.
 */
const dampingRatio = (what: string) =>
  z.number().min(0).lt(MOST_DAMPED).describe(`${what}: share of critical damping, no unit`);
const point = (what: string) =>
  z
    .tuple([z.number().min(-100_000).max(100_000), z.number().min(-100_000).max(100_000)])
    .describe(`${what}: [x, y] in px of the upright photo from its top-left corner, pixel centres at +0.5`);
const bandEnds = { fromMm: heightMm('Lower end'), toMm: heightMm('Upper end') };

const face = z
  .strictObject({
    widthMm: number(5, 1000, 'Width of the face as sliced, mm').optional(),
    heightMm: number(5, 1000, 'Height of the face as sliced, mm').optional(),
    bottomMm: heightMm('Where the face begins').optional(),
    leadingCorner: z
      .enum(['left', 'right'])
      .describe(
        'The corner that the nozzle has just turned when it starts along the face: left or right as seen in the photo with the tower standing upright as printed',
      ),
  })
  .describe('The tower side that was photographed');

const shaper = z
  .strictObject({
    family: z.enum(SHAPER_FAMILIES).describe('Family of the input shaper').optional(),
    dampingRatio: dampingRatio('Damping ratio that the shaper was set to').optional(),
    hzMeans: z
      .enum(['natural', 'damped'])
      .describe("Whether the motion control takes the ladder's number as the natural or the damped frequency")
      .optional(),
    alongWall: z
      .union([
        z.literal('as-ladder'),
        z.literal('off'),
        z.strictObject({
          hz: frequencyHz('Frequency that the move along the face is shaped with'),
          family: z.enum(SHAPER_FAMILIES).describe('Family of its shaper'),
          dampingRatio: dampingRatio('Damping ratio of its shaper'),
        }),
      ])
      .describe('How the move along the face is shaped')
      .optional(),
  })
  .describe('How the motion control shapes its commands');

const climbingLadders = [
  z
    .strictObject({
      kind: z.literal('linear').describe('The frequency climbs or falls evenly from layer to layer'),
      fromHz: frequencyHz('Frequency at the lower end'),
      toHz: frequencyHz('Frequency at the upper end'),
      firstLayer: count(0, 100_000, 'Layer that is set to fromHz, counted from 0; off below').optional(),
      lastLayer: count(1, 100_000, 'Layer that is set to toHz, counted from 0').optional(),
      fromMm: heightMm('Instead of firstLayer: height that is set to fromHz').optional(),
      toMm: heightMm('Instead of lastLayer: height that is set to toHz').optional(),
    })
    .meta({ anyOf: [{ required: ['firstLayer', 'lastLayer'] }, { required: ['fromMm', 'toMm'] }] }),
  z.strictObject({
    kind: z.literal('stepped').describe('One frequency for each stretch of height'),
    bands: z
      .array(z.strictObject({ ...bandEnds, hz: frequencyHz('Frequency of the step') }))
      .min(1)
      .describe('The steps from the bottom up, without overlap'),
  }),
  z.strictObject({
    kind: z.literal('table').describe('Frequencies at single heights, interpolated between them'),
    points: z
      .array(z.strictObject({ mm: heightMm('Height'), hz: frequencyHz('Frequency there') }))
      .min(2)
      .describe('Heights with their frequencies, from the bottom up'),
  }),
] as const;

const ladderKinds = [
  ...climbingLadders,
  z.strictObject({
    kind: z.literal('several').describe('Two or more ladders, one above the other'),
    ladders: z
      .array(z.discriminatedUnion('kind', climbingLadders))
      .min(2)
      .describe('The ladders from the bottom up, without overlap'),
  }),
  z.strictObject({
    kind: z.literal('fixed').describe('One frequency for the whole print'),
    hz: frequencyHz('The frequency'),
  }),
  z.strictObject({ kind: z.literal('off').describe('The shaper was off') }),
] as const;

const behindFaceMm = number(
  -1000,
  1000,
  'How far the reference lies behind the plane of the face, mm; negative in front of it',
).optional();

const reference = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('face').describe("The face's own width and height") }),
  z.strictObject({ kind: z.literal('layers').describe('Layer lines, counted in the photo') }),
  z.strictObject({
    kind: z.literal('id1-card').describe('A card of the ISO/IEC 7810 ID-1 format, 85.60 × 53.98 mm'),
    behindFaceMm,
  }),
  z.strictObject({ kind: z.literal('ruler').describe('A ruler with mm graduations'), behindFaceMm }),
  z.strictObject({
    kind: z.literal('marker-card').describe('The printable marker card'),
    behindFaceMm,
    checkLengthMm: number(
      CHECK_LENGTHS_MM.least,
      CHECK_LENGTHS_MM.most,
      `What the card's check length, ${CHECK_LENGTH_MM} mm as drawn, measures with calipers, mm`,
    ).optional(),
  }),
  z.strictObject({
    kind: z.literal('two-points').describe('Two points on the face with a known distance'),
    aPx: point('First point'),
    bPx: point('Second point'),
    distanceMm: number(1, 2000, 'Distance between them, mm'),
  }),
  z.strictObject({
    kind: z.literal('dpi').describe('A flatbed scan'),
    dotsPerInch: number(
      10,
      20_000,
      "Resolution of the scan, dots per inch; absent: the scan's own resolution tag",
    ).optional(),
  }),
]);

const recordFields = z.strictObject({
  schema: z.literal(PRINT_RECORD_SCHEMA).describe('Name and version of this format'),
  machine: text(100, "The machine, by the user's own name").optional(),
  printedOn: z.iso.date().describe('Day of the print, ISO 8601').optional(),
  material: text(100, 'Material and colour').optional(),
  title: text(200, 'What the print was for').optional(),
  axis: text(20, "The machine axis perpendicular to the face, by the user's own name"),
  speedMmPerS: number(5, 1000, 'Print speed along the face, mm/s'),
  accelerationMmPerS2: accelerationMmPerS2('Acceleration along the face').optional(),
  cornerSpeedMmPerS: number(0, 1000, 'Speed that is kept through the corner, mm/s').optional(),
  layerHeightMm: layerHeightMm('Layer height'),
  firstLayerHeightMm: layerHeightMm('Height of the first layer, if other').optional(),
  layers: count(2, 100_000, 'Number of layers of the tower').optional(),
  seam: z
    .enum(['other-face', 'this-face', 'leading-corner', 'none'])
    .describe('Where the layers start and end')
    .optional(),
  direction: z
    .enum(['same', 'alternates'])
    .describe('Whether the walls are printed the same way in each layer')
    .optional(),
  face,
  shaper: shaper.optional(),
  ladder: z.discriminatedUnion('kind', ladderKinds).describe("How the shaper's frequency follows the height"),
  accelerationLadder: z
    .strictObject({
      bands: z
        .array(z.strictObject({ ...bandEnds, mmPerS2: accelerationMmPerS2('Acceleration of the step') }))
        .min(1)
        .describe('The steps from the bottom up, without overlap'),
    })
    .describe('Of a proof print: how the acceleration climbs with height')
    .optional(),
  reference: z
    .union([reference, z.array(reference).min(1)])
    .describe('What in the photo tells its scale: one reference or a list of them')
    .optional(),
  knownPitchesMm: z
    .array(number(0.1, 100, 'Pitch, mm'))
    .describe('Pitches of the drive that repeat along the wall without decay, such as belt teeth')
    .optional(),
  facePx: z
    .tuple([
      point('Top left').nullable(),
      point('Top right').nullable(),
      point('Bottom right').nullable(),
      point('Bottom left').nullable(),
    ])
    .describe(
      "Corners of the face, clockwise from the tower's own top-left corner as printed, also where the tower lies on its side or stands upside down in the photo. With all four the face is not looked for; null stands for one that is to be found",
    )
    .optional(),
  penLineMm: heightMm(
    'Pen line drawn by eye at the best height: its middle, by calipers from the bed side',
  ).optional(),
  penLinePlusMinusMm: number(
    0.01,
    20,
    'How well its height was measured, half of what spans 95 %, mm: calipers and hand together',
  ).optional(),
  slots: z
    .array(
      z.strictObject({
        centreFromLeadingCornerMm: number(0, 1000, 'Centre of the slot from the leading corner, mm'),
        widthMm: number(0.05, 100, 'Width of the slot, mm'),
      }),
    )
    .describe('Slots in the face, where the machine is kicked again')
    .optional(),
  photoOf: text(40, "The photographed face, by the user's own name for it").optional(),
  notes: text(5000, 'Anything else worth keeping, with tabs and line breaks where wanted', LINES).optional(),
});

/**
 * What the user knows of the print, schema `stillband/print-record@1` (DESIGN 3): every field with its unit
 * and limits, and what the fields must agree on.
 */
export const printRecordSchema = recordFields
  .superRefine((record, context) => {
    const conflict = firstConflict(record);
    if (conflict === undefined) return;
    const { path, message, advice } = conflict;
    context.addIssue({ code: 'custom', path: [...path], message, params: { advice } });
  })
  .meta({ title: 'Print record', description: 'What the user knows of a printed test tower' });

/** What a print record is read for. */
export interface RecordUse {
  /** Only for the frequency by spacing, which needs no ladder: one that is not told is off. @default false */
  readonly spacingOnly?: boolean;
}

/** What the user knows of the print. */
export type PrintRecord = z.infer<typeof printRecordSchema>;

/**
 * The machine's name in a record that is not checked yet.
 * @param raw - Any value.
 * @returns The name; undefined when there is none, or none that a record may hold.
 */
export function machineOf(raw: unknown): string | undefined {
  return recordFields.shape.machine.safeParse(valueAt(['machine'], raw)).data;
}

/**
 * Reads a print record.
 * @param source - JSON text, as a `*.print.json` file holds it.
 * @param use - What it is read for.
 * @returns The checked record.
 * @throws {InputError} `record-not-json`, `record-duplicate-field`, `record-unknown-field` or `record-field`:
 * all fields that are missing, or the first problem only.
 * @throws {TypeError} When the source is not a string.
 */
export function parsePrintRecord(source: string, use: RecordUse = {}): PrintRecord {
  return checkPrintRecord(forUse(parseRecordJson(source), use));
}

/**
 * Fills in what a use of a print record does not ask for.
 * @param raw - Any value; not modified.
 * @param use - What it is read for.
 * @returns The record, with a ladder that is off where none is needed nor told.
 */
export function forUse(raw: unknown, use: RecordUse): unknown {
  const noLadder = use.spacingOnly === true && isObject(raw) && raw['ladder'] === undefined;
  return noLadder ? { ...raw, ladder: { kind: 'off' } } : raw;
}

/**
 * Reads the JSON of a print record without looking at its fields.
 * @param source - JSON text; a byte order mark in front is skipped.
 * @returns The value that the text holds.
 * @throws {InputError} `record-not-json` with line and column, or `record-duplicate-field` when an object
 * has one key twice, which JSON.parse would not notice.
 * @throws {TypeError} When the source is not a string.
 */
export function parseRecordJson(source: string): unknown {
  // Callers in plain JavaScript pass the file's bytes, or the record that the text holds.
  if (typeof (source as unknown) !== 'string') {
    throw new TypeError(`Expected the print record's JSON text as a string but received ${received(source)}`);
  }
  const json = source.replace(/^\uFEFF/, '');
  if (json.trim() === '') {
    throw new InputError(
      'record-not-json',
      'The print record is empty.',
      'Fill it in, or leave it away and use flags.',
    );
  }
  const errors: ParseError[] = [];
  let tree: Node | undefined;
  try {
    tree = parseTree(json, errors, { disallowComments: true, allowTrailingComma: false });
  } catch (error) {
    // The parser calls itself for each bracket, so that a file of nothing but brackets overflows the stack.
    if (!(error instanceof RangeError)) throw error;
    throw notJson('', 'its brackets are nested too deeply');
  }
  const first = errors[0];
  if (first !== undefined) {
    const problem = JSON_PROBLEMS[printParseErrorCode(first.error)] ?? 'something is out of place';
    throw notJson(` in ${placeOf(json, first.offset)}`, problem);
  }
  if (tree !== undefined) checkDuplicates(tree, [], json);
  // Not the parser's own value: there a key "__proto__" would vanish.
  return JSON.parse(json);
}

/**
 * Checks the fields of a print record.
 * @param raw - Any value; not modified.
 * @returns The record, typed.
 * @throws {InputError} `record-duplicate-field` (a list of ladders), `record-unknown-field` or `record-field`:
 * all fields that are missing, or the first problem only.
 */
export function checkPrintRecord(raw: unknown): PrintRecord {
  if (isObject(raw)) {
    const { ladder } = raw;
    if (Array.isArray(ladder)) {
      throw new InputError(
        'record-duplicate-field',
        'The print record gives a list as its ladder.',
        'Several ladders, one above the other on one tower, are written as { "kind": "several", "ladders": [ … ] }; each tower has a record of its own.',
        'ladder',
      );
    }
    // Zod passes this key over in silence.
    const hidden = keyPathOf(raw, '__proto__', []);
    if (hidden !== undefined) throw unknownField(hidden.path, hidden.key, raw, schemaTree());
  }
  const parsed = printRecordSchema.safeParse(raw);
  if (parsed.success) return parsed.data;
  throw problemOf(parsed.error.issues, raw);
}

/**
 * The fields that belong to a kind of ladder.
 * @param kind - What a record gives as `ladder.kind`.
 * @returns Names of the fields, `kind` among them; undefined when there is no such kind.
 */
export function ladderFields(kind: unknown): readonly string[] | undefined {
  const option = ladderKinds.find(({ shape }) => shape.kind.value === kind);
  return option && Object.keys(option.shape);
}

/**
 * A word as the schema spells it.
 * @param path - The field it stands in, like `shaper.family`.
 * @param word - The word in any letter case.
 * @returns The field's own spelling; the word as it stands when the field knows no such word or is free text.
 */
export function spelled(path: string, word: string): string {
  return sameLetters(word, choicesAt(path.split('.'), schemaTree())) ?? word;
}

/**
 * The fields that a record lacks, if that is what is wrong with it first of all.
 * @param raw - Any value; not modified.
 * @returns Where they would stand, in the schema's order; none when the record is of a foreign version or has
 * a field that is not known.
 */
export function missingFrom(raw: unknown): readonly FieldPath[] {
  const { error } = printRecordSchema.safeParse(raw);
  return error === undefined
    ? []
    : missingIn(
        error.issues.flatMap((issue) => innermost(issue, [])),
        raw,
      );
}

/**
 * All that is wrong with what stands in a record that may not be complete yet.
 * @param raw - Any value; not modified.
 * @returns An error `record-field` or `record-unknown-field` for each field, in the schema's order; what contradicts
 * another field is told only where nothing is missing.
 */
export function wrongIn(raw: unknown): readonly InputError[] {
  const { error } = printRecordSchema.safeParse(raw);
  const all = (error?.issues ?? []).flatMap((issue) => innermost(issue, []));
  const isComplete = missingIn(all, raw).length === 0;
  const errors = all
    .filter((issue) => (issue.code === 'custom' ? isComplete : valueAt(pathOf(issue), raw) !== undefined))
    .map((issue) => errorOf(issue, raw));
  return [...new Map(errors.map((one) => [one.field, one])).values()];
}

/**
 * The error for fields that are missing, under the names that the user gave the others by.
 * @param paths - Where they would stand, one or more.
 * @param raw - The whole record.
 * @param named - What a field is called.
 * @returns Error `record-field` about the first of them, naming all.
 */
export function missingError(
  paths: readonly FieldPath[],
  raw: unknown,
  named: (path: FieldPath) => string,
): InputError {
  return missingFields(paths, raw, schemaTree(), named);
}

type Issue = z.core.$ZodIssue;

/**
 * The problem that is told: a foreign version first, then a misspelt key (it makes others missing), then all that
 * is missing, then the rest.
 */
function problemOf(issues: readonly Issue[], raw: unknown): InputError {
  const all = issues.flatMap((issue) => innermost(issue, []));
  const missing = missingIn(all, raw);
  if (missing.length > 0) return missingFields(missing, raw, schemaTree());
  const issue = all.find((one) => isForeign(one, raw)) ?? all.find(isMisspelt) ?? all[0];
  if (issue === undefined) throw new TypeError('expected a zod error with issues but received none');
  return errorOf(issue, raw);
}

function errorOf(issue: Issue, raw: unknown): InputError {
  const path = pathOf(issue);
  if (issue.code === 'unrecognized_keys') return unknownField(path, issue.keys[0] ?? '', raw, schemaTree());
  if (issue.code === 'custom') {
    const advice: unknown = issue.params?.['advice'];
    return new InputError('record-field', issue.message, String(advice), fieldName(path));
  }
  return fieldProblem(path, raw, schemaTree());
}

function isForeign(issue: Issue, raw: unknown): boolean {
  return issue.path[0] === 'schema' && valueAt(pathOf(issue), raw) !== undefined;
}

function isMisspelt(issue: Issue): issue is Extract<Issue, { code: 'unrecognized_keys' }> {
  return issue.code === 'unrecognized_keys';
}

/** Where nothing stands though something must, each once; none when something else is to be told first. */
function missingIn(all: readonly Issue[], raw: unknown): readonly FieldPath[] {
  if (all.some((issue) => isForeign(issue, raw) || isMisspelt(issue))) return [];
  const paths = all.filter(({ code }) => code !== 'custom').map(pathOf);
  const missing = [...paths.filter((path) => path.length > 0), ...missingEnds(raw)].filter(
    (path) => valueAt(path, raw) === undefined,
  );
  return [...new Map(missing.map((path) => [fieldName(path), path])).values()];
}

/** The ends of a linear ladder, which the schema alone does not ask for: layers or heights, two of one sort. */
function missingEnds(raw: unknown): readonly FieldPath[] {
  const ladder = valueAt(['ladder'], raw);
  if (!isObject(ladder) || ladder['kind'] !== 'linear') return [];
  const byHeight = ladder['fromMm'] !== undefined || ladder['toMm'] !== undefined;
  const byLayer = ladder['firstLayer'] !== undefined || ladder['lastLayer'] !== undefined;
  if (byHeight && byLayer) return [];
  return (byHeight ? ['fromMm', 'toMm'] : ['firstLayer', 'lastLayer']).map((end) => ['ladder', end]);
}

function pathOf(issue: Issue): FieldPath {
  return issue.path.map((part) => (typeof part === 'symbol' ? String(part) : part));
}

/** Where one of several forms is allowed, the problems of the form that was meant: the one of the right type. */
function innermost(issue: Issue, parents: readonly PropertyKey[]): readonly Issue[] {
  const path = [...parents, ...issue.path];
  if (issue.code === 'invalid_union') {
    const meant = issue.errors.find((branch) =>
      branch.every((inner) => inner.path.length > 0 || isKeyIssue(inner)),
    );
    if (meant !== undefined) return meant.flatMap((inner) => innermost(inner, path));
  }
  return [{ ...issue, path }];
}

function isKeyIssue(issue: Issue): boolean {
  return issue.code === 'unrecognized_keys' || issue.code === 'too_small';
}

let tree: SchemaNode | undefined;

/** Made when it is first needed: a record without problems needs none. */
function schemaTree(): SchemaNode {
  tree ??= z.toJSONSchema(printRecordSchema) as SchemaNode;
  return tree;
}

/** The parser's codes in plain words. */
const JSON_PROBLEMS: Readonly<Record<string, string>> = {
  InvalidSymbol: 'there is a word that is neither true, false, null, a number nor in quotes',
  InvalidNumberFormat: 'a number is not written as JSON wants it',
  PropertyNameExpected: 'a field name in double quotes is missing, or a comma is too many',
  ValueExpected: 'a value is missing, or a comma is too many',
  ColonExpected: 'a colon is missing after a field name',
  CommaExpected: 'a comma is missing',
  CloseBraceExpected: 'a closing } is missing',
  CloseBracketExpected: 'a closing ] is missing',
  EndOfFileExpected: 'something follows the end of the record',
  InvalidCommentToken: 'there is a comment, which JSON does not know',
  UnexpectedEndOfComment: 'there is a comment, which JSON does not know',
  UnexpectedEndOfString: 'a closing quote is missing on this line',
  UnexpectedEndOfNumber: 'a number breaks off',
  InvalidUnicode: 'a \\u escape is not followed by four hexadecimal digits',
  InvalidEscapeCharacter: 'a backslash is followed by a character that JSON does not know there',
  InvalidCharacter: 'a text holds a control character or a line break',
};

function notJson(where: string, problem: string): InputError {
  return new InputError(
    'record-not-json',
    `The print record is not valid JSON${where}: ${problem}.`,
    'Correct that place; texts and field names stand in double quotes, commas only between fields.',
  );
}

/** Line and column as an editor counts them, from 1. */
function placeOf(json: string, offset: number): string {
  const lines = json.slice(0, offset).split(/\r\n|\n|\r/);
  return `line ${lines.length}, column ${(lines.at(-1)?.length ?? 0) + 1}`;
}

function checkDuplicates(node: Node, path: FieldPath, json: string): void {
  const seen = new Map<string, Node>();
  (node.children ?? []).forEach((child, i) => {
    const [key, value] = child.children ?? [];
    if (child.type !== 'property' || key === undefined) {
      checkDuplicates(child, [...path, i], json);
      return;
    }
    const name = String(key.value);
    const field = fieldName([...path, name]);
    const before = seen.get(name);
    if (before !== undefined) {
      throw new InputError(
        'record-duplicate-field',
        `The print record gives ${field} twice: in ${placeOf(json, before.offset)} and in ${placeOf(json, key.offset)}.`,
        field === 'ladder'
          ? 'Keep one; several ladders, one above the other on one tower, are written as { "kind": "several", "ladders": [ … ] }.'
          : 'Keep one of them.',
        field,
      );
    }
    seen.set(name, key);
    if (value !== undefined) checkDuplicates(value, [...path, name], json);
  });
}

/** Where a key stands, at any depth. */
function keyPathOf(
  value: unknown,
  key: string,
  path: FieldPath,
): { readonly path: FieldPath; readonly key: string } | undefined {
  if (typeof value !== 'object' || value === null) return undefined;
  if (Object.hasOwn(value, key)) return { path, key };
  for (const [name, inner] of Object.entries(value)) {
    const found = keyPathOf(inner, key, [...path, Array.isArray(value) ? Number(name) : name]);
    if (found !== undefined) return found;
  }
  return undefined;
}
