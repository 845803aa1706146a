import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { beforeEach, describe, expect, test } from 'vitest';
import sharp from 'sharp';
import { photoCheckSchema } from '../../src/reading/checkSchema.js';
import { printCard } from '../helpers/renderedCard.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { runCli } from './ioForTests.js';

const advice = (file: string) => fileURLToPath(new URL(`../../docs/advice/${file}`, import.meta.url));
const RECORD = advice('print.json');
const at = tempFolder('test');

describe('check', () => {
  test('the help tells the flags and the exit codes', async () => {
    const { exitCode, out } = await runCli(['check', '--help']);
    expect(exitCode).toBe(0);
    for (const flag of ['--print', '--json', '--face-width']) {
      expect(out, flag).toMatch(new RegExp(`^  ${flag}\\b`, 'm'));
    }
    for (const code of ['0 will do', '3 will not do', '64 usage', '66 no such file'])
      expect(out).toContain(code);
  });

  test('a photo that will not do ends with 3, its reason first', async () => {
    const run = await runCli(['check', advice('blurred.jpg'), '--print', RECORD]);
    expect(run).toMatchObject({ exitCode: 3, err: '' });
    expect(run.out).toMatch(/^The photo will not do: .*\n +reason blurred/);
    expect(run.out).toMatch(/^hint /m);
  });

  test('--json is the check and nothing else', async () => {
    const run = await runCli(['check', advice('good.jpg'), '--print', RECORD, '--json']);
    expect(run).toMatchObject({ exitCode: 0, err: '' });
    const check = photoCheckSchema.parse(JSON.parse(run.out));
    expect(check).toMatchObject({ printTold: true, verdict: { state: 'will-do' } });
  });

  // Source: the record of the drawn photo: 75 × 64 mm, layers of 0.2 mm.
  test('of a print whose size alone is told asks for nothing more', async () => {
    const argv = ['check', advice('good.jpg'), '--face-width', '75', '--face-height', '64', '--json'];
    const run = await runCli(argv);
    expect(run).toMatchObject({ exitCode: 0, err: '' });
    const check = photoCheckSchema.parse(JSON.parse(run.out));
    expect(check).toMatchObject({
      printTold: false,
      verdict: { state: 'will-do' },
      search: { how: 'found' },
    });
    expect(check.hint).not.toMatch(/width|--/);
  });

  test.each([
    ['no such photo', ['nowhere.jpg'], 66, 'file-not-found'],
    ['no picture', [RECORD], 65, 'photo-format'],
    ['a size that is none', [advice('good.jpg'), '--face-width', 'wide'], 64, 'usage'],
  ])('%s', async (_, argv, exitCode, code) => {
    const run = await runCli(['check', ...argv]);
    expect(run).toMatchObject({ exitCode, out: '' });
    expect(run.err).toContain(`(${code})`);
  });
});

describe('a photo of a card', () => {
  const record = ['--axis', 'Y', '--speed', '110', '--layer-height', '0.2', '--leading-corner', 'left'];
  const toMeasure = ['--ladder', 'off', '--face-width', '75', '--face-height', '64', '--spacing-only'];

  /** The card as it comes out of a printer, with white around it. */
  async function photoOf(name: string): Promise<void> {
    const { grey, widthPx, heightPx } = await printCard({ machine: 'north bench 3' });
    const raw = { width: widthPx, height: heightPx, channels: 1 } as const;
    const page = sharp(grey, { raw }).extend({
      top: 200,
      bottom: 200,
      left: 200,
      right: 200,
      background: '#fff',
    });
    writeFileSync(at(name), await page.png().toBuffer());
  }

  beforeEach(async () => {
    await photoOf('machine.png');
    writeFileSync(at('mirrored.png'), await sharp(at('machine.png')).flop().png().toBuffer());
  });

  test('that names its machine alone: measure says so and asks for a record', async () => {
    const run = await runCli(['measure', at('machine.png')]);
    expect(run).toMatchObject({ exitCode: 64, out: '' });
    expect(run.err).toMatch(/names only its machine/);
  });

  test('that is mirrored: measure does not say that there is none', async () => {
    const run = await runCli(['measure', at('mirrored.png')]);
    expect(run).toMatchObject({ exitCode: 64, out: '' });
    expect(run.err).toMatch(/the photo is mirrored/);
  });

  test('with flags: the machine of the card is taken, the record is not said to be from it', async () => {
    const run = await runCli(['check', at('machine.png'), ...record, '--json']);
    expect(run.err).toBe('');
    expect(JSON.parse(run.out)).toMatchObject({
      printTold: true,
      search: { cardCode: { state: 'read', machine: 'north bench 3' } },
    });
  });

  test('several photos: the bad one is named', async () => {
    writeFileSync(at('empty.jpg'), '');
    writeFileSync(at('broken.jpg'), (await sharp(advice('good.jpg')).toBuffer()).subarray(0, 20_000));
    const told = [...record, ...toMeasure.slice(0, -1)];
    const empty = await runCli(['measure', at('machine.png'), at('empty.jpg'), ...told]);
    expect(empty.err).toMatch(/empty\.jpg: The photo has no bytes/);
    const broken = await runCli(['measure', at('broken.jpg'), at('machine.png'), '--print', RECORD]);
    expect(broken.err).toMatch(/broken\.jpg: .*\(photo-damaged\)/s);
  });

  test('whose machine is written in letters that the font lacks is refused as PDF, not printed as boxes', async () => {
    const run = await runCli(['card', '--out', at('card.pdf'), '--machine', 'bench 東']);
    expect(run).toMatchObject({ exitCode: 64, out: '' });
    expect(run.err).toMatch(/no sign for "東"/);
    const svg = await runCli(['card', '--out', at('card.svg'), '--machine', 'bench 東']);
    expect(svg).toMatchObject({ exitCode: 0, err: '' });
  });
});
