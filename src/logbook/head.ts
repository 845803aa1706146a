import { createHash } from 'node:crypto';
import { InputError } from '../core/errors.js';

/** What stands for a whole log: kept elsewhere, it shows later whether the log is still the same up to there. */
export interface Head {
  /** How many entries it covers. */
  readonly size: number;
  /** Root of the hash tree over them, 64 hexadecimal digits. */
  readonly root: string;
}

/** Letters and digits that are not mistaken for each other in print. */
const CHECK_LETTERS = 'ABCDEFGHJKLMNPQRSTUVWXYZ23456789';
const CHECK_COUNT = 4;

/**
 * A head as it is printed: size, root hash and four check letters, like `12-9f3a…-K7QX`.
 * @param head - The head.
 * @returns Its text, without spaces.
 */
export function formatHead({ size, root }: Head): string {
  return `${size}-${root}-${checkLetters({ size, root })}`;
}

/**
 * Reads a head that was printed or typed; spaces and the case of letters do not matter.
 * @param text - The text.
 * @returns The head.
 * @throws {InputError} `head-mistyped` when it is none, or its check letters do not fit.
 */
export function parseHead(text: string): Head {
  const plain = text.replaceAll(/\s/g, '');
  const match = /^(\d{1,9})-([0-9a-f]{64})-([a-z0-9]{4})$/i.exec(plain);
  const [, size = '', root = '', check = ''] = match ?? [];
  const head = { size: Number(size), root: root.toLowerCase() };
  if (match !== null && checkLetters(head) === check.toUpperCase()) return head;
  const found =
    match === null
      ? 'is not one: a number, 64 digits 0-9 and a-f, and four check letters are expected'
      : 'has a slip in it: its check letters do not fit';
  throw new InputError(
    'head-mistyped',
    `The head "${text}" ${found}.`,
    'Compare it with the place it was copied from, character by character.',
  );
}

function checkLetters({ size, root }: Head): string {
  const hash = createHash('sha256').update(`${size}-${root}`).digest();
  return [...hash.subarray(0, CHECK_COUNT)]
    .map((byte) => CHECK_LETTERS[byte % CHECK_LETTERS.length])
    .join('');
}
