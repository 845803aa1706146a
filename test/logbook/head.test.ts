import { expect, test } from 'vitest';
import { formatHead, parseHead } from '../../src/logbook/head.js';

const head = { size: 200, root: '5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328' };

test('a head is read as it was printed, typed in another case or broken over lines', () => {
  const text = formatHead(head);
  expect(text).toMatch(/^200-[0-9a-f]{64}-[A-Z2-9]{4}$/);
  for (const typed of [
    text,
    text.toUpperCase(),
    text.toLowerCase(),
    text.replace(/(.{9})/g, '$1 \n'),
    ` ${text} `,
  ]) {
    expect(parseHead(typed)).toEqual(head);
  }
});

test('a slip of one character anywhere is noticed', () => {
  const text = formatHead(head);
  for (let i = 0; i < text.length; i += 1) {
    const other = text[i] === '7' ? '3' : '7';
    const slip = text.slice(0, i) + other + text.slice(i + 1);
    expect(() => parseHead(slip), `place ${i}`).toThrow(/its check letters do not fit|is not one/);
  }
});

test('what is no head is told from a slip', () => {
  for (const text of ['', '200', head.root, `200-${head.root}`, `-1-${head.root}-ABCD`]) {
    expect(() => parseHead(text)).toThrow(
      expect.objectContaining({
        code: 'head-mistyped',
        message: expect.stringMatching(/is not one/) as string,
      }) as Error,
    );
  }
});
