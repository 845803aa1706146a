import { extname } from 'node:path';
import { InputError } from '../index.js';
import { placeOf } from './files.js';

/** In place of a file name: standard output. */
const STDOUT = '-';

/** What a command may be asked to write, each to a file or `-`. */
export interface Outputs {
  readonly json?: boolean;
  readonly csv?: string;
  readonly svg?: string;
  readonly png?: string;
  readonly sheet?: string;
  /** The only result, in a format that the command itself makes of the name. */
  readonly out?: string;
}

/** Extensions that promise a picture, and of which kind. */
const PICTURES: Readonly<Record<string, string>> = {
  '.png': 'PNG',
  '.svg': 'SVG',
  '.jpg': 'JPEG',
  '.jpeg': 'JPEG',
  '.webp': 'WebP',
  '.tif': 'TIFF',
  '.tiff': 'TIFF',
  '.avif': 'AVIF',
  '.heic': 'HEIC',
  '.gif': 'GIF',
  '.bmp': 'BMP',
};

/**
 * Whether a result's target is standard output, under one of its names.
 * @param target - As given on the command line.
 * @returns True for `-` and for the device's own name, beside which no report may be printed either.
 */
export function isStandardOutput(target: string): boolean {
  return target === STDOUT || target === '/dev/stdout';
}

/**
 * Checks that no result goes where another goes nor over what is read, and that no name promises another format.
 * @param inputs - Paths of the files that are read.
 * @param outputs - What is to be written where.
 * @throws {InputError} `usage`.
 */
export async function checkTargets(inputs: readonly string[], outputs: Outputs): Promise<void> {
  const { json = false, csv, svg, png, sheet, out } = outputs;
  const taken = new Map<string, 'input' | 'result'>();
  for (const input of inputs) taken.set(await placeOf(input), 'input');
  for (const target of [json ? STDOUT : undefined, csv, svg, png, sheet, out]) {
    if (target === undefined) continue;
    const place = isStandardOutput(target) ? STDOUT : await placeOf(target);
    const by = taken.get(place);
    if (by === 'input') {
      throw new InputError(
        'usage',
        `The result would be written over ${target}, which is read here.`,
        'Give the result another file name.',
      );
    }
    if (by === 'result') {
      throw new InputError(
        'usage',
        `Two results are to be written to ${place === STDOUT ? 'standard output' : target}.`,
        'Give another file name to all but one of --json, --csv, --svg, --png and --sheet.',
      );
    }
    taken.set(place, 'result');
  }
  checkExtension('--csv', csv, 'CSV');
  checkExtension('--svg', svg, 'SVG');
  checkExtension('--png', png, 'PNG');
}

/**
 * Checks that a file's name does not promise a picture of another format than is written.
 * @param flag - The flag that names the file.
 * @param target - The file, or undefined when none is asked for; no extension, or an unknown one, is fine.
 * @param format - What is written.
 * @throws {InputError} `usage`.
 */
export function checkExtension(
  flag: string,
  target: string | undefined,
  format: 'CSV' | 'SVG' | 'PNG',
): void {
  const promised = PICTURES[extname(target ?? '').toLowerCase()];
  if (promised === undefined || promised === format) return;
  throw new InputError(
    'usage',
    `${flag} ${target ?? ''} would write ${format} into a file that is named as ${promised}.`,
    `Name the file with .${format.toLowerCase()} at its end, or with nothing.`,
  );
}

/**
 * The format that a file's name ends in.
 * @param path - As given on the command line.
 * @param formats - Endings without their dot.
 * @param asked - What is to be written, and the flag that names the file.
 * @returns The format.
 * @throws {InputError} `usage` when it ends in none of them.
 */
export function formatByName<Format extends string>(
  path: string,
  formats: readonly Format[],
  asked: { readonly what: string; readonly flag: string },
): Format {
  const ending = extname(path).toLowerCase().slice(1);
  const format = formats.find((one) => one === ending);
  if (format !== undefined) return format;
  const endings = formats.map((one) => `.${one}`).join(' or ');
  throw new InputError(
    'usage',
    `The ${asked.what} is to be written to "${path}", whose name does not say in which format.`,
    `Give ${asked.flag} a name that ends in ${endings}.`,
  );
}

/**
 * A flag's argument that must be one of a list.
 * @param flag - The flag.
 * @param name - Its argument, in any case of letters.
 * @param words - What it may be.
 * @returns The word.
 * @throws {InputError} `usage` when it is none of them.
 */
export function oneOf<Word extends string>(flag: string, name: string, words: readonly Word[]): Word {
  const word = words.find((one) => one === name.toLowerCase());
  if (word !== undefined) return word;
  throw new InputError('usage', `${flag} is given as "${name}".`, `Give one of ${words.join(', ')}.`);
}
