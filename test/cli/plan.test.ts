import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { parsePrintRecord, type Plan } from '../../src/index.js';
import { measured } from '../helpers/measured.js';
import { pdfPages } from '../helpers/pdfPages.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { runCli } from './ioForTests.js';

const NEEDED = '--max-acceleration 6000 --max-speed 200 --layer-height 0.2 --nozzle 0.4 --bed 220x220'.split(
  ' ',
);
const at = tempFolder('test');

describe('plan', () => {
  test('the help tells every flag and the exit codes', async () => {
    const { exitCode, out } = await runCli(['plan', '--help']);
    expect(exitCode).toBe(0);
    for (const flag of [
      '--max-acceleration',
      '--max-speed',
      '--idea',
      '--refine',
      '--out',
      '--checklist',
      '--json',
    ])
      expect(out, flag).toMatch(new RegExp(`^  ${flag}\\b`, 'm'));
    for (const code of ['0 planned', '64 usage', '65 bad input', '73 cannot write'])
      expect(out).toContain(code);
  });

  test('asks for every limit that is missing, all at once, and writes nothing', async () => {
    const { exitCode, err } = await runCli(['plan', '--nozzle', '0.4', '--out', at('none.print.json')]);
    expect(exitCode).toBe(64);
    for (const flag of ['--max-acceleration', '--max-speed', '--layer-height', '--bed'])
      expect(err).toContain(flag);
    expect(err).not.toContain('--nozzle');
    expect(existsSync(at('none.print.json'))).toBe(false);
  });

  test('writes a record for each axis and a checklist, and tells the plan with its cautions', async () => {
    const run = await runCli([
      ...['plan', ...NEEDED, '--corner-speed', '6', '--machine', 'north bench 3', '--idea', '42,36'],
      ...['--out', at('tower.print.json'), '--checklist', at('list.html')],
    ]);
    expect(run).toMatchObject({ exitCode: 0, err: '' });
    expect(run.out).toMatch(/^Tower {4}90 × 90 × 68\.0 mm high/);
    expect(run.out).toMatch(/expected ± \d\.\d+ Hz at 37 Hz before anything is printed/);
    expect(run.out).toMatch(/your limit 6000/);
    for (const caution of [
      'keep clear of moving and hot parts',
      "maker's instructions and local rules come before",
    ])
      expect(run.out.split(caution)).toHaveLength(2);
    const records = ['X', 'Y'].map((axis) =>
      parsePrintRecord(readFileSync(at(`tower.${axis}.print.json`), 'utf8')),
    );
    expect(records.map(({ axis }) => axis)).toEqual(['X', 'Y']);
    const html = readFileSync(at('list.html'), 'utf8');
    for (const said of [
      'light and satin',
      'one wall or a spiral',
      'seam at the back left corner',
      'slowing for short layers',
      'the ladder gets into the job',
      'dials at 100',
      'belts evenly tight',
      'pressure compensation',
      'by the maker ________',
      'Put back afterwards',
      'ready to stop it',
    ])
      expect(html, said).toContain(said);
    // The tower that both records make is drawn from either.
    const tower = await runCli(['tower', '--print', at('tower.X.print.json'), '--out', at('tower.stl')]);
    expect(tower).toMatchObject({ exitCode: 0, err: '' });
    expect(tower.out).toMatch(/90\.0 mm wide, 68\.0 mm high/);
    await runCli(['tower', '--print', at('tower.Y.print.json'), '--out', at('other.stl')]);
    expect(readFileSync(at('other.stl'))).toEqual(readFileSync(at('tower.stl')));
  });

  test('a reading refines it, as JSON and with a checklist of one page', async () => {
    const { reading } = await measured('white-card');
    writeFileSync(at('y.json'), JSON.stringify(reading));
    const run = await runCli([
      ...['plan', ...NEEDED, '--axes', 'Y', '--refine', at('y.json'), '--json'],
      ...['--checklist', at('list.pdf'), '--paper', 'letter', '--out', at('y.print.json')],
    ]);
    expect(run).toMatchObject({ exitCode: 0, err: '' });
    const plan = JSON.parse(run.out) as Plan;
    if (reading.proposal.state !== 'proposed') throw new Error('Expected a proposal.');
    const { value } = reading.proposal.frequencyHz;
    expect(plan.rangeHz.from).toBe('reading');
    expect(plan.rangeHz.low).toBeLessThan(value);
    expect(plan.rangeHz.high).toBeGreaterThan(value);
    expect(JSON.parse(readFileSync(at('y.print.json'), 'utf8'))).toEqual(plan.records[0]);
    expect(await pdfPages(readFileSync(at('list.pdf')))).toHaveLength(1);
  });

  test.each([
    ['a limit that is no number', ['--max-speed', 'fast'], 64, 'usage'],
    ['a bed without depth', ['--bed', '220'], 64, 'usage'],
    ['a bed that is too small', ['--bed', '60x60'], 65, 'plan-impossible'],
    ['another way round', ['--turns', 'around'], 64, 'usage'],
    ['a checklist of no format', ['--checklist', 'list.doc'], 64, 'usage'],
    ['a reading that is not there', ['--refine', 'nowhere.json'], 66, 'file-not-found'],
    ['a record by the name of another format', ['--out', 'tower.pdf'], 64, 'usage'],
    ['an empty number', ['--corner-speed', ''], 64, 'usage'],
    ['a folder that is not there', ['--idea', '40', '--out', 'nowhere/tower.json'], 73, 'cannot-write'],
  ])('%s', async (_, argv, exitCode, code) => {
    const placed = argv.map((arg) => (/^(list|nowhere)/.test(arg) ? at(arg) : arg));
    const run = await runCli(['plan', ...NEEDED, ...placed]);
    expect(run).toMatchObject({ exitCode, out: '' });
    expect(run.err).toContain(`(${code})`);
  });
});

describe('tower', () => {
  test.each([
    ['no format', ['--out', 'tower.obj'], 64, 'usage'],
    ['no record', ['--print', 'nowhere.json'], 66, 'file-not-found'],
  ])('%s', async (_, argv, exitCode, code) => {
    writeFileSync(at('print.json'), '{}');
    const given = ['--print', 'print.json', '--out', 'tower.stl', ...argv];
    const run = await runCli(['tower', ...given.map((arg) => (arg.startsWith('--') ? arg : at(arg)))]);
    expect(run).toMatchObject({ exitCode, out: '' });
    expect(run.err).toContain(`(${code})`);
  });
});
