import { existsSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { photoPath } from '../helpers/measured.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { runCli } from './ioForTests.js';

const PHOTO = photoPath('white-card.jpg');
const RECORD = photoPath('white-card.print.json');
const at = tempFolder('test');

describe('measure --sheet', () => {
  test('stands in the help with its papers', async () => {
    const { out } = await runCli(['measure', '--help']);
    const text = out.replaceAll(/\s+/g, ' ');
    expect(text).toContain('--sheet <file> write one page of evidence: a name that ends in .html or .pdf');
    expect(text).toContain('--paper <name> with --sheet: a4 or letter');
  });

  // All are told before anything is measured.
  test.each([
    ['a name that says no format', ['--sheet', 'sheet'], /does not say in which format/],
    ['a picture', ['--sheet', 'sheet.png'], /does not say in which format/],
    ['standard output', ['--sheet', '-'], /does not say in which format/],
    ['another paper', ['--sheet', 'sheet.pdf', '--paper', 'a3'], /--paper is given as "a3"/],
    ['a paper without a sheet', ['--paper', 'letter'], /no --sheet that it is for/],
    ['two results in one file', ['--sheet', 's.html', '--csv', 's.html'], /Two results/],
  ])('%s is a mistake of usage', async (_, argv, message) => {
    const placed = argv.map((arg) => (/^s(heet)?(\.|$)/.test(arg) ? at(arg) : arg));
    for (const photos of [[PHOTO], [PHOTO, photoPath('blue-markers.jpg')]]) {
      if (photos.length > 1 && argv.includes('--csv')) continue;
      const { exitCode, err, out } = await runCli(['measure', ...photos, '--print', RECORD, ...placed]);
      expect(exitCode).toBe(64);
      expect(err).toMatch(message);
      expect(out).toBe('');
    }
    expect(existsSync(at('s.html'))).toBe(false);
  });

  test('is never written over what is read', async () => {
    const record = photoPath('white-card.print.json');
    const { exitCode, err } = await runCli(['measure', PHOTO, '--print', record, '--sheet', record]);
    expect(exitCode).toBe(64);
    expect(err).toMatch(/does not say in which format|written over/);
  });
});
