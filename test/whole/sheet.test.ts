import { HtmlValidate } from 'html-validate';
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { makePairSheet, sheetHtml, sheetPdf } from '../../src/index.js';
import type { Reading } from '../../src/reading/schema.js';
import { measured, photoPath } from '../helpers/measured.js';
import { pdfPages } from '../helpers/pdfPages.js';
import { runTool } from '../helpers/runTool.js';
import { tempFolder } from '../helpers/tempFolder.js';

const at = tempFolder('test');

/** By Node's own hash, not by ours. */
function sha256(path: string): string {
  return createHash('sha256').update(readFileSync(path)).digest('hex');
}

function withoutSpaces(text: string): string {
  return text.replaceAll(/[\s\u00a0\u2009\u202f]+/g, '');
}

async function expectValid(html: string): Promise<void> {
  const { results } = await new HtmlValidate({ extends: ['html-validate:recommended'] }).validateString(html);
  expect(results.flatMap(({ messages }) => messages.map(({ message }) => message))).toEqual([]);
}

it('the sheet of a photo is one page of its paper, says what the terminal says, and names the photo by its hash', async () => {
  const photo = photoPath('white-card.jpg');
  const print = photoPath('white-card.print.json');
  const run = await runTool([
    ...['measure', photo, '--print', print, '--sheet', at('tower.pdf'), '--paper', 'letter'],
  ]);
  expect(run.exitCode).toBe(0);
  const pdf = readFileSync(at('tower.pdf'));
  const pages = await pdfPages(pdf);
  expect(pages).toHaveLength(1);
  const [page] = pages;
  // Source: 8.5 × 11 inches, ANSI/ASME Y14.1 (from memory).
  expect([page!.widthMm, page!.heightMm].map((mm) => mm.toFixed(1))).toEqual(['215.9', '279.4']);
  // A hyphen at a line's end is not told from one inside a word.
  const bare = (text: string) => withoutSpaces(text).replaceAll('-', '');
  const text = bare(page!.text);
  const [verdict = '', ...others] = run.stdout.trimEnd().split('\n');
  for (const part of verdict.split(/ {2,}/)) expect(text).toContain(bare(part));
  for (const line of others) expect(text).toContain(bare(line.slice(9)));
  expect(text).toContain(sha256(photo));
  expect(page!.text).toContain('white-card.jpg');
  // Face and photo, and the heat map with what of it was read.
  const file = pdf.toString('latin1');
  expect(file.match(/\/Filter \/DCTDecode/g)).toHaveLength(2);
  expect(file.match(/\/Subtype \/Image/g)).toHaveLength(4);
});

it('the sheet of several photos names each by its hash', async () => {
  const photos = ['left', 'right', 'far'].map((name) => photoPath(`lamps/${name}.jpg`));
  const print = photoPath('lamps/lamps.print.json');
  const { exitCode, stdout } = await runTool([
    ...['measure', ...photos, '--print', print, '--camera-still', '--sheet', at('lamps.HTML')],
  ]);
  expect(exitCode).toBe(0);
  expect(stdout).toContain('fitted together');
  const html = readFileSync(at('lamps.HTML'), 'utf8');
  await expectValid(html);
  for (const photo of photos) expect(html).toContain(sha256(photo));
  expect(html).toContain('left.jpg');
  expect(html.match(/data:image\/jpeg/g)).toHaveLength(2);
  expect(html.match(/data:image\/png/g)).toHaveLength(1);
});

it('a refusal has a sheet too, with its reason where the number would be, and where it is saved', async () => {
  const print = photoPath('blue-markers.print.json');
  const run = await runTool([
    ...['measure', photoPath('blue-markers.jpg'), '--print', print, '--sheet', at('refused.html')],
    ...['--save', '--logbook', at('book')],
  ]);
  expect(run.exitCode).toBe(3);
  const html = readFileSync(at('refused.html'), 'utf8');
  await expectValid(html);
  const [, reason = ''] = /no band can be proposed: ([^\n]*)/.exec(run.stdout)!;
  expect(/<h1>(.*)<\/h1>/.exec(html)![1]).toContain(`no band can be proposed: ${reason}`);
  expect(html).toContain('no value');
  // The head that was told when it was saved stands on the sheet.
  const [, head = ''] = /^head +(\S.*)$/m.exec(run.stderr)!;
  expect(head.length).toBeGreaterThan(40);
  expect(html).toContain(head);
});

it('two axes of a machine stand on one sheet, X at the left', async () => {
  const [y, x] = [await measured('white-card'), await measured('black-markers')];
  const named = [y, x].map((measurement, i) => {
    const { printRecord, proposal } = measurement.reading;
    if (proposal.state !== 'proposed') throw new Error('Expected a proposal.');
    const axis = i === 0 ? 'Y' : 'X';
    const reading: Reading = {
      ...measurement.reading,
      printRecord: { ...printRecord, axis },
      proposal: { ...proposal, axis },
    };
    return { ...measurement, reading };
  });
  const sheet = await makePairSheet(named[0]!, named[1]!);
  expect(sheet.sides.map(({ axis }) => axis)).toEqual(['Axis X', 'Axis Y']);
  await expectValid(sheetHtml(sheet));
  const pages = await pdfPages(await sheetPdf(sheet, 'a4', new Date(0)));
  expect(pages).toHaveLength(2);
  for (const photo of named)
    expect(withoutSpaces(pages.map(({ text }) => text).join(''))).toContain(photo.reading.photos[0]!.sha256);
});
