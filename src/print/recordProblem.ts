import { InputError } from '../core/errors.js';

/** Where a field stands in a print record: keys of objects and indices of lists. */
export type FieldPath = readonly (string | number)[];

/** The part of JSON Schema (draft 2020-12) that the print record's schema uses. */
export interface SchemaNode {
  readonly type?: string;
  readonly description?: string;
  readonly properties?: Readonly<Record<string, SchemaNode>>;
  readonly required?: readonly string[];
  readonly oneOf?: readonly SchemaNode[];
  readonly anyOf?: readonly SchemaNode[];
  readonly items?: SchemaNode | false;
  readonly prefixItems?: readonly SchemaNode[];
  readonly minItems?: number;
  readonly const?: unknown;
  readonly enum?: readonly unknown[];
  readonly format?: string;
  readonly minimum?: number;
  readonly maximum?: number;
  readonly exclusiveMaximum?: number;
  readonly maxLength?: number;
}

/**
 * Whether a value is a JSON object.
 * @param value - Any value.
 * @returns True for an object that is neither null nor a list.
 */
export function isObject(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

/** What a list of a fixed length holds. */
function itemsOf(item: SchemaNode | undefined): string {
  if (!isPoint(item)) return 'numbers';
  const mayBeNull = (item?.anyOf ?? []).some(({ type }) => type === 'null');
  return `points [x, y]${mayBeNull ? ', null for one that is not told' : ''}`;
}

/** A list, also one that may be left out by null. */
function isPoint(node: SchemaNode | undefined): boolean {
  return node?.type === 'array' || (node?.anyOf ?? []).some(isPoint);
}

/**
 * A field's name as it is told to a user.
 * @param path - Where the field stands.
 * @returns For example `ladder.bands[2].hz`.
 */
export function fieldName(path: FieldPath): string {
  return path.reduce<string>((name, part) => {
    if (typeof part === 'number') return `${name}[${part}]`;
    return name === '' ? part : `${name}.${part}`;
  }, '');
}

/**
 * What a record holds somewhere.
 * @param path - Where to look.
 * @param raw - The whole record.
 * @returns The value; undefined when there is none.
 */
export function valueAt(path: FieldPath, raw: unknown): unknown {
  return path.reduce<unknown>(
    (value, part) =>
      typeof value === 'object' && value !== null
        ? (value as Record<string | number, unknown>)[part]
        : undefined,
    raw,
  );
}

/**
 * The words that may stand in a field.
 * @param path - Names of the field and its parents; lists are passed through without an index.
 * @param node - JSON Schema of the record.
 * @returns The words, of all the forms that the field may take; none for free text and numbers.
 */
export function choicesAt(path: readonly string[], node: SchemaNode): readonly string[] {
  const [key, ...rest] = path;
  const inner = [...(node.oneOf ?? []), ...(node.anyOf ?? []), ...(node.items ? [node.items] : [])];
  const here = key === undefined ? [node.const, ...(node.enum ?? [])] : [];
  const child = key === undefined ? undefined : node.properties?.[key];
  return [
    ...here.filter((word) => typeof word === 'string'),
    ...(child === undefined ? [] : choicesAt(rest, child)),
    ...inner.flatMap((form) => choicesAt(path, form)),
  ];
}

/**
 * The word among some that differs from a given one in capital and small letters at most.
 * @param word - As given.
 * @param choices - Words to choose from.
 * @returns The choice in its own spelling, or undefined.
 */
export function sameLetters(word: string, choices: readonly string[]): string | undefined {
  return choices.find((choice) => choice.toLowerCase() === word.toLowerCase());
}

/**
 * The error for fields that are missing.
 * @param paths - Where they would stand, one or more.
 * @param raw - The whole record.
 * @param schema - The record's JSON Schema.
 * @param named - What a field is called. @default fieldName
 * @returns Error `record-field` that names all of them, about the first.
 */
export function missingFields(
  paths: readonly FieldPath[],
  raw: unknown,
  schema: SchemaNode,
  named: (path: FieldPath) => string = fieldName,
): InputError {
  const nodes = paths.map((path) => nodeAt(path, raw, schema));
  const expected = paths.map((path, i) => kindsExpected(path, raw, schema) ?? expectation(nodes[i] ?? {}));
  const what = nodes.length === 1 ? nodes[0]?.description : undefined;
  return new InputError(
    'record-field',
    `The print record does not say ${listed(paths.map(named))}${what === undefined ? '' : ` (${what})`}.`,
    `Add ${paths.map((path, i) => `${named(path)}: ${expected[i] ?? ''}`).join('; ')}.`,
    fieldName(paths[0] ?? []),
  );
}

/**
 * Things in one sentence.
 * @param names - One or more.
 * @returns For example `a, b and c`.
 */
export function listed(names: readonly string[]): string {
  return names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names.at(-1) ?? ''}`;
}

/**
 * The error for a field that is of the wrong type or impossible.
 * @param path - Where it stands.
 * @param raw - The whole record.
 * @param schema - The record's JSON Schema.
 * @returns Error `record-field`: what was found, what is expected, and whether it looks like another unit.
 */
export function fieldProblem(path: FieldPath, raw: unknown, schema: SchemaNode): InputError {
  const value = valueAt(path, raw);
  const node = nodeAt(path, raw, schema);
  const expected = expectation(node);
  if (path.length === 0) {
    return new InputError(
      'record-field',
      `The print record is ${show(value)}; ${expected} is expected.`,
      'Write the record as { "schema": "stillband/print-record@1", … }.',
    );
  }
  const field = fieldName(path);
  const what = node.description === undefined ? '' : ` (${node.description})`;
  const generic = path.filter((part) => typeof part === 'string');
  const meant = typeof value === 'string' ? sameLetters(value, choicesAt(generic, schema)) : undefined;
  const unit = typeof value === 'number' ? otherUnit(path, value, node) : '';
  return new InputError(
    'record-field',
    `${field} is ${show(value)}${unit}; ${expected} is expected.`,
    meant === undefined ? `Correct ${field}${what}.` : `Write ${field} as ${show(meant)}.`,
    field,
  );
}

/**
 * The error for a key that is not known.
 * @param parent - Where the object with the key stands.
 * @param key - The key.
 * @param raw - The whole record.
 * @param schema - The record's JSON Schema.
 * @returns Error `record-unknown-field` with the nearest known field, or with all that are known there.
 */
export function unknownField(parent: FieldPath, key: string, raw: unknown, schema: SchemaNode): InputError {
  const field = fieldName([...parent, key]);
  const here = Object.keys(resolve(nodeAt(parent, raw, schema), valueAt(parent, raw)).properties ?? {});
  const place = parent.length === 0 ? 'a print record' : fieldName(parent);
  const known = `Fields of ${place} are: ${here.join(', ')}.`;
  const generic = parent.filter((part) => typeof part === 'string');
  const everywhere = namesIn(schema, []);
  if (everywhere.some((path) => fieldName(path) === fieldName([...generic, key]))) {
    const kind = valueAt([...parent, 'kind'], raw);
    return new InputError(
      'record-unknown-field',
      `${field} does not belong to ${place} of kind ${show(kind)}.`,
      known,
      field,
    );
  }
  const near = nearest(key, [...here.map((name) => [...generic, name]), ...everywhere]);
  return new InputError(
    'record-unknown-field',
    `The print record has a field ${field}, which is not known.`,
    near === undefined ? known : `Did you mean ${fieldName(near)}?`,
    field,
  );
}

function nodeAt(path: FieldPath, raw: unknown, schema: SchemaNode): SchemaNode {
  let node = schema;
  path.forEach((part, i) => {
    const inside = resolve(node, valueAt(path.slice(0, i), raw));
    const items = inside.items === false ? undefined : inside.items;
    node =
      (typeof part === 'number' ? (inside.prefixItems?.[part] ?? items) : inside.properties?.[part]) ?? {};
  });
  return node;
}

/** The one of several forms that a value has been given in. */
function resolve(node: SchemaNode, value: unknown): SchemaNode {
  const kinds = kindsOf(node);
  if (kinds.length > 0) {
    const kind = isObject(value) ? value['kind'] : undefined;
    const option = node.oneOf?.find((one) => one.properties?.['kind']?.const === kind);
    return option ?? { properties: { kind: { enum: kinds } } };
  }
  const type = Array.isArray(value) ? 'array' : typeof value;
  const option = node.anyOf?.find(
    (one) => one.type === type || (type === 'object' && kindsOf(one).length > 0),
  );
  return option === undefined ? node : resolve(option, value);
}

/** The kinds that an object of several kinds can have; none for anything else. */
function kindsOf(node: SchemaNode): readonly unknown[] {
  return (node.oneOf ?? []).flatMap((option) => option.properties?.['kind']?.const ?? []);
}

/** Where a kind is missing: the kinds, each with the fields that it asks for in its turn. */
function kindsExpected(path: FieldPath, raw: unknown, schema: SchemaNode): string | undefined {
  if (path.at(-1) !== 'kind') return undefined;
  const parent = nodeAt(path.slice(0, -1), raw, schema);
  const forms = [parent, ...(parent.anyOf ?? [])].find((form) => kindsOf(form).length > 0);
  if (forms === undefined) return undefined;
  const kinds = (forms.oneOf ?? []).map((option) => {
    const [firstChoice] = option.anyOf ?? [];
    const fields = [...(option.required ?? []), ...(firstChoice?.required ?? [])].filter(
      (one) => one !== 'kind',
    );
    const others = fields.length === 0 ? '' : ` with ${listed(fields)}`;
    return `${show(option.properties?.['kind']?.const)}${others}`;
  });
  return `one of ${kinds.join(', ')}`;
}

/** What belongs in a field, in plain words. */
function expectation(node: SchemaNode): string {
  const choices = node.const === undefined ? node.enum : [node.const];
  if (choices !== undefined) {
    return choices.length === 1 ? show(choices[0]) : `one of ${choices.map(show).join(', ')}`;
  }
  if (node.anyOf !== undefined) return node.anyOf.map(expectation).join(' or ');
  if (kindsOf(node).length > 0) return `an object with a kind: ${kindsOf(node).map(show).join(', ')}`;
  switch (node.type) {
    case 'integer':
    case 'number': {
      const { minimum, maximum, exclusiveMaximum } = node;
      const from = minimum === undefined ? '' : ` from ${minimum}`;
      const to = exclusiveMaximum === undefined ? ` to ${String(maximum)}` : ` to below ${exclusiveMaximum}`;
      return `a ${node.type === 'integer' ? 'whole ' : ''}number${from}${to}`;
    }
    case 'string':
      if (node.format === 'date') return 'a date like "2026-03-14"';
      return `a text of 1 to ${String(node.maxLength)} characters without control characters`;
    case 'array':
      if (node.prefixItems === undefined)
        return node.minItems === undefined ? 'a list' : `a list of ${node.minItems} or more`;
      return `a list of ${node.prefixItems.length} ${itemsOf(node.prefixItems[0])}`;
    default:
      return node.required === undefined ? 'an object { … }' : `an object with ${node.required.join(', ')}`;
  }
}

/** Another unit that a number may be meant in. */
interface OtherUnit {
  readonly name: string;
  /** Undefined where nobody means a number like this in it. */
  readonly convert: (value: number) => number | undefined;
}

const times = (name: string, factor: number): OtherUnit => ({ name, convert: (value) => value * factor });
const perSecond = (name: string, seconds: number): OtherUnit => ({
  name,
  convert: (value) => value / seconds,
});

const PERCENTAGE: OtherUnit = {
  name: 'a percentage',
  convert: (value) => (value < 1 ? undefined : 0.01 * value),
};

/** What each unit is taken for, by the end of the field's name; those that fit best come first. */
const CONFUSED: readonly {
  readonly ends: RegExp;
  readonly unit: string;
  readonly others: readonly OtherUnit[];
}[] = [
  { ends: /MmPerS$/, unit: 'mm/s', others: [perSecond('mm/min', 60), times('m/s', 1000)] },
  { ends: /mmPerS2$/i, unit: 'mm/s²', others: [times('m/s²', 1000)] },
  { ends: /Mm$/, unit: 'mm', others: [times('µm', 0.001), times('m', 1000), times('cm', 10)] },
  {
    ends: /hz$/i,
    unit: 'Hz',
    others: [
      times('kHz', 1000),
      { name: "a swing's time in s", convert: (value) => 1 / value },
      perSecond('swings per minute', 60),
    ],
  },
  { ends: /dampingRatio$/, unit: '', others: [PERCENTAGE] },
];

/**
 * A clause that names the unit which a number outside its limits looks like.
 * @param path - Where it stands; the last name ends in its unit.
 * @param value - The number.
 * @param node - Its limits.
 * @returns The clause, which begins with a comma; empty when it is within its limits or looks like no other unit.
 */
export function otherUnit(
  path: FieldPath,
  value: number,
  node: Pick<SchemaNode, 'minimum' | 'maximum' | 'exclusiveMaximum'>,
): string {
  const { minimum = -Infinity, exclusiveMaximum = Infinity, maximum = exclusiveMaximum } = node;
  const name = path.findLast((part) => typeof part === 'string') ?? '';
  const confused = CONFUSED.find(({ ends }) => ends.test(name));
  if (
    confused === undefined ||
    value <= 0 ||
    (value >= minimum && value <= maximum && value < exclusiveMaximum)
  ) {
    return '';
  }
  const looks = confused.others.flatMap((other) => {
    const meant = other.convert(value);
    if (meant === undefined) return [];
    const told = [Number(meant.toPrecision(4)), confused.unit].filter((part) => part !== '').join(' ');
    return meant >= minimum && meant <= maximum ? [`${other.name} (that would be ${told})`] : [];
  });
  if (looks.length > 0) return `, which looks like ${looks.join(' or ')}`;
  return confused.unit === '' ? '' : `, which looks like another unit than ${confused.unit}`;
}

/** A value as JSON, cut to a readable length. */
function show(value: unknown): string {
  // JSON has no word for a number beyond its range (1e999), nor for nothing at all.
  const json = typeof value === 'number' || value === undefined ? String(value) : JSON.stringify(value);
  return json.length > 80 ? `${json.slice(0, 77)}…` : json;
}

/** All fields that a schema knows, in its order; lists are passed through without an index. */
function namesIn(node: SchemaNode, path: readonly string[]): readonly (readonly string[])[] {
  const inner = [...(node.oneOf ?? []), ...(node.anyOf ?? []), ...(node.items ? [node.items] : [])];
  return [
    ...Object.entries(node.properties ?? {}).flatMap(([key, child]) => [
      [...path, key],
      ...namesIn(child, [...path, key]),
    ]),
    ...inner.flatMap((option) => namesIn(option, path)),
  ];
}

/** The known field most like a key: people leave units away, or put a field one level too high. */
function nearest(key: string, known: readonly (readonly string[])[]): readonly string[] | undefined {
  const wanted = bare(key);
  let best: { readonly path: readonly string[]; readonly distance: number } | undefined;
  for (const path of known) {
    const name = bare(path.at(-1) ?? '');
    const [shorter, longer] = name.length < wanted.length ? [name, wanted] : [wanted, name];
    const within = shorter.length > 2 && shorter !== longer && longer.includes(shorter);
    const distance = within ? 1 : editDistance(wanted, name);
    if (distance < (best?.distance ?? Infinity)) best = { path, distance };
  }
  return best !== undefined && best.distance <= Math.min(3, wanted.length / 2) ? best.path : undefined;
}

function bare(name: string): string {
  return name
    .replace(/(MmPerS2?|Mm|Hz|Px)$/, '')
    .replaceAll(/[^\p{L}\p{N}]/gu, '')
    .toLowerCase();
}

/** Fewest letters to insert, delete or replace. Source: Wagner & Fischer, J. ACM 21, 1974 (from memory). */
function editDistance(a: string, b: string): number {
  let row = Array.from({ length: b.length + 1 }, (_, i) => i);
  for (const [i, letter] of Array.from(a).entries()) {
    const next = [i + 1];
    for (const [j, other] of Array.from(b).entries()) {
      const replaced = (row[j] ?? 0) + (letter === other ? 0 : 1);
      next.push(Math.min(replaced, (row[j + 1] ?? 0) + 1, (next[j] ?? 0) + 1));
    }
    row = next;
  }
  return row.at(-1) ?? 0;
}
