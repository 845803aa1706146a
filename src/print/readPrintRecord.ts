import { InputError } from '../core/errors.js';
import {
  applyOverrides,
  flagExample,
  flagName,
  isOfKind,
  optionName,
  RECORD_FLAGS,
  referencesOf,
  type RecordFlag,
} from './overrides.js';
import {
  checkPrintRecord,
  forUse,
  missingError,
  missingFrom,
  parseRecordJson,
  type PrintRecord,
  type RecordUse,
  wrongIn,
} from './record.js';
import { fieldName, isObject, listed, valueAt, type FieldPath } from './recordProblem.js';

/**
 * Reads a print record for a measurement, from a file's text, from flags, or from both. Fields are called as they
 * were given: by their flags, by their names in the file, or by both.
 * @param source - JSON text, or undefined when there is no file.
 * @param given - Arguments of flags by option name; each replaces one field.
 * @param use - What it is read for.
 * @returns The checked record.
 * @throws {InputError} As `parsePrintRecord`, and `usage` when an argument cannot be read or nothing is given.
 * What only measuring asks for (the face's size) is told together with all else that is missing.
 */
export function readPrintRecord(
  source: string | undefined,
  given: Readonly<Record<string, string>>,
  use: RecordUse = {},
): PrintRecord {
  const byFlag = RECORD_FLAGS.some(({ flag: name }) => Object.hasOwn(given, optionName(name)));
  if (source === undefined && !byFlag) {
    throw new InputError(
      'usage',
      'Nothing is told of the print: there is neither a print record nor a flag in its place.',
      'Add --print FILE, or at least --axis, --speed, --layer-height, --leading-corner, --ladder, --face-width and --face-height.',
    );
  }
  const raw = forUse(applyOverrides(source === undefined ? undefined : parseRecordJson(source), given), use);
  const lacking = (paths: readonly FieldPath[]) =>
    source === undefined
      ? missingFlags(paths, given)
      : missingError(paths, raw, byFlag ? bothNames : fieldName);
  const required = missingFrom(raw).map(innerField);
  const measuring = lackingToMeasure(raw);
  if (required.length > 0) throw lacking([...required, ...measuring]);
  const record = checked(raw, (error) =>
    source === undefined ? calledByFlags(error) : byFlag ? calledByBoth(error) : error,
  );
  if (measuring.length > 0) throw lacking(measuring);
  return record;
}

/**
 * All that is wrong with what is told of a print so far, one error for each field; what is missing is no mistake here.
 * @param record - The raw record that the flags change, if any.
 * @param given - Arguments of flags by option name.
 * @param use - What it is told for.
 * @returns Errors with the fields they are about, called by their flags; none where all can be used.
 */
export function faultsIn(
  record: unknown,
  given: Readonly<Record<string, string>>,
  use: RecordUse = {},
): readonly InputError[] {
  const faults: InputError[] = [];
  const attempt = <T>(act: () => T): T | undefined => {
    try {
      return act();
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      faults.push(error);
      return undefined;
    }
  };
  const readable = Object.entries(given).filter(([name, text]) => {
    const flag = RECORD_FLAGS.find((one) => optionName(one.flag) === name);
    return flag !== undefined && attempt(() => [flag.read(text)]) !== undefined;
  });
  const raw = attempt(() => forUse(applyOverrides(record, Object.fromEntries(readable)), use));
  return raw === undefined ? faults : [...faults, ...wrongIn(raw).map(calledByFlags)];
}

function checked(raw: unknown, called: (error: InputError) => InputError): PrintRecord {
  try {
    return checkPrintRecord(raw);
  } catch (error) {
    throw error instanceof InputError ? called(error) : error;
  }
}

/** Objects that must be there, and what must be in them: nobody gives the object itself by a flag. */
const INNER: Readonly<Record<string, FieldPath>> = {
  face: ['face', 'leadingCorner'],
  ladder: ['ladder', 'kind'],
};

function innerField(path: FieldPath): FieldPath {
  return INNER[fieldName(path)] ?? path;
}

/** References that a size can be taken from. */
const TELL_SIZE = ['two-points', 'dpi', 'id1-card', 'ruler', 'marker-card'];

/** Fields that a record may lack, but not a measurement: `locateFace` would ask for one after the other. */
function lackingToMeasure(raw: unknown): readonly FieldPath[] {
  if (!isObject(raw)) return [];
  const lacks = (path: FieldPath) => valueAt(path, raw) === undefined;
  const otherScale = referencesOf(raw).some((one) => TELL_SIZE.some((kind) => isOfKind(one, kind)));
  const width: FieldPath = ['face', 'widthMm'];
  const height: FieldPath = ['face', 'heightMm'];
  return [
    ...(lacks(width) && !otherScale ? [width] : []),
    ...(lacks(height) && lacks(['layers']) && !otherScale ? [height] : []),
  ];
}

/** The flag that gives a field, or the list that the field stands in. */
function flagFor(path: FieldPath): RecordFlag | undefined {
  const names = path.filter((part) => typeof part === 'string');
  for (let length = names.length; length > 0; length -= 1) {
    const wanted = names.slice(0, length).join('.');
    const found = RECORD_FLAGS.find((one) => one.path === wanted);
    if (found !== undefined) return found;
  }
  return undefined;
}

function bothNames(path: FieldPath): string {
  const known = flagFor(path);
  return known === undefined ? fieldName(path) : `${fieldName(path)} (${flagName(known.flag)})`;
}

/** What the ladder that is named as an example needs beside its kind. */
const OF_LINEAR_LADDER = ['fromHz', 'toHz', 'firstLayer', 'lastLayer'];
const OF_LADDER_IN_MM = ['fromHz', 'toHz', 'fromMm', 'toMm'];

function missingFlags(paths: readonly FieldPath[], given: Readonly<Record<string, string>>): InputError {
  const flags = paths.flatMap((path) => flagFor(path) ?? []);
  const isGiven = (name: string) => Object.hasOwn(given, name);
  const ofLadder = isGiven('fromMm') || isGiven('toMm') ? OF_LADDER_IN_MM : OF_LINEAR_LADDER;
  const beside = RECORD_FLAGS.filter(
    ({ flag }) => ofLadder.includes(optionName(flag)) && !isGiven(optionName(flag)),
  );
  const examples = flags.flatMap((one) => (one.path === 'ladder.kind' ? [one, ...beside] : [one]));
  const like = examples.map(flagExample).join(' ');
  const names = listed(flags.map((one) => flagName(one.flag)));
  const [only] = flags;
  return new InputError(
    'record-field',
    flags.length === 1
      ? `The flag ${names} is missing (${only?.help ?? ''}).`
      : `The flags ${names} are missing.`,
    flags.length === 1 ? `Add it like ${like}.` : `Add them with the values of your print, like ${like}.`,
    fieldName(paths[0] ?? []),
  );
}

/** Both names, once, where an error first names its field. */
function calledByBoth(error: InputError): InputError {
  const { code, message, advice, field } = error;
  const known = field === undefined ? undefined : flagFor(field.replaceAll(/\[\d+\]/g, '').split('.'));
  if (field === undefined || known === undefined) return error;
  const both = `${field} (${flagName(known.flag)})`;
  return new InputError(
    code,
    message.replace(field, () => both),
    advice,
    field,
  );
}

/** The flag's name wherever an error names a field; a field within a list has none of its own. */
function calledByFlags(error: InputError): InputError {
  const { code, message, advice, field } = error;
  if (field === undefined || field.includes('[')) return calledByBoth(error);
  const rename = (text: string) => {
    let named = false;
    return text.replaceAll(/[A-Za-z]\w*(?:\.\w+)*/g, (word) => {
      // Some fields are plain English words: those are names only where the error's own one comes first.
      const isName = /^[a-z]\w*[A-Z.]/.test(word) || (word === field && !named);
      named ||= word === field;
      const known = isName
        ? RECORD_FLAGS.find(({ path }) => path === word || path.endsWith(`.${word}`))
        : undefined;
      return known === undefined ? word : flagName(known.flag);
    });
  };
  return new InputError(code, rename(message), rename(advice), field);
}
