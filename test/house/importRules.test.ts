import { spawnSync } from 'node:child_process';
import { cpSync, mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';

// The rules are only worth something if they stop what they forbid. Small trees are planted in a temporary
// folder and checked by the same command as `npm run imports`; what has to be found is written beside each.

const REPO = fileURLToPath(new URL('../..', import.meta.url));

/** A tree in order: every kind of import that the design allows. */
const GOOD: Readonly<Record<string, string>> = {
  'src/core/units.ts': 'export type Mm = number;',
  'src/core/image.ts': "import type { NdArray } from 'ndarray';\nexport type Image = NdArray;",
  'src/signal/fft.ts':
    "import FFT from 'fft.js';\nimport type { Mm } from '../core/units.js';\nexport const size = (n: Mm) => new FFT(n);",
  'src/signal/median.ts': "import type { Mm } from '../core/units.js';\nexport const median = (n: Mm) => n;",
  'src/imaging/encode.ts':
    "import sharp from 'sharp';\nimport type { Image } from '../core/image.js';\nexport const encode = (i: Image) => sharp(i);",
  'src/physics/shapers.ts': "import { median } from '../signal/median.js';\nexport const shaper = median;",
  'src/print/record.ts':
    "import { z } from 'zod';\nimport { parse } from 'jsonc-parser';\nimport { shaper } from '../physics/shapers.js';\nexport const record = [z, parse, shaper];",
  'src/photo/decode.ts':
    "import sharp from 'sharp';\nimport { record } from '../print/record.js';\nimport { camera } from './captureData.js';\nexport const decode = [sharp, record, camera];",
  'src/photo/captureData.ts': "import exif from 'exif-reader';\nexport const camera = exif;",
  'src/face/rectifyFace.ts':
    "import ndarray from 'ndarray';\nimport { decode } from '../photo/decode.js';\nexport const face = [ndarray, decode];",
  'src/profiles/makeProfiles.ts':
    "import { face } from '../face/rectifyFace.js';\nexport const profiles = face;",
  'src/ripple/measureRipples.ts':
    "import { size } from '../signal/fft.js';\nimport { profiles } from '../profiles/makeProfiles.js';\nexport const ripples = [size, profiles];",
  'src/band/nullFit.ts':
    "import { ripples } from '../ripple/measureRipples.js';\nexport const band = ripples;",
  'src/reading/schema.ts':
    "import { z } from 'zod';\nimport { band } from '../band/nullFit.js';\nexport const reading = [z, band];",
  'src/logbook/canonical.ts':
    "import serialize from 'canonicalize';\nimport { reading } from '../reading/schema.js';\nexport const stored = [serialize, reading];",
  'src/logbook/store.ts':
    "import { readFileSync } from 'node:fs';\nimport { stored } from './canonical.js';\nexport const store = [readFileSync, stored];",
  'src/report/text.ts':
    "import { reading } from '../reading/schema.js';\nimport { record } from '../print/record.js';\nexport const text = [reading, record];",
  'src/measurePhoto.ts':
    "import { reading } from './reading/schema.js';\nimport { band } from './band/nullFit.js';\nexport const measure = [reading, band];",
  'src/drawReading.ts':
    "import { measure } from './measurePhoto.js';\nimport { encode } from './imaging/encode.js';\nimport { text } from './report/text.js';\nexport const draw = [measure, encode, text];",
  'src/report/drawingPdf.ts': "import pdfkit from 'pdfkit';\nexport const pdf = pdfkit;",
  'src/imaging/qrCode.ts': "import encode from 'qr';\nexport const cells = encode;",
  'src/report/svgShapes.ts': "import { parseXml } from '@rgrove/parse-xml';\nexport const shapes = parseXml;",
  'src/makeSheet.ts':
    "import { measure } from './measurePhoto.js';\nimport { shapes } from './report/svgShapes.js';\nexport const sheet = [measure, shapes];",
  'src/drawCard.ts':
    "import { cells } from './imaging/qrCode.js';\nimport { pdf } from './report/drawingPdf.js';\nexport const card = [cells, pdf];",
  'src/readCard.ts':
    "import { decode } from './photo/decode.js';\nimport { face } from './face/rectifyFace.js';\nexport const read = [decode, face];",
  'src/measureStored.ts':
    "import { measure } from './measurePhoto.js';\nimport { store } from './logbook/store.js';\nexport const again = [measure, store];",
  'src/replayLogbook.ts':
    "import { again } from './measureStored.js';\nimport { store } from './logbook/store.js';\nexport const replay = [again, store];",
  'src/sheetOfEntry.ts':
    "import { again } from './measureStored.js';\nimport { sheet } from './makeSheet.js';\nexport const entrySheet = [again, sheet];",
  'src/history/trend.ts': "import { reading } from '../reading/schema.js';\nexport const trend = reading;",
  'src/logbookTrends.ts':
    "import { trend } from './history/trend.js';\nimport { store } from './logbook/store.js';\nexport const trends = [trend, store];",
  'src/logbookIndex.ts':
    "export { store } from './logbook/store.js';\nexport { text } from './report/text.js';",
  'src/index.ts':
    "export { measure } from './measurePhoto.js';\nexport { text } from './report/text.js';\nexport { draw } from './drawReading.js';\nexport { card } from './drawCard.js';\nexport { sheet } from './makeSheet.js';\nexport { read } from './readCard.js';\nexport { replay } from './replayLogbook.js';\nexport { entrySheet } from './sheetOfEntry.js';\nexport { trends } from './logbookTrends.js';",
  'src/cli/bin.ts':
    "import { readFileSync } from 'node:fs';\nimport { Command } from 'commander';\nimport colours from 'picocolors';\nimport { text } from '../index.js';\nimport { store } from '../logbookIndex.js';\nexport const bin = [readFileSync, Command, colours, text, store];",
  'test/synth/drawFace.ts': "import { cell } from '../helpers/cell.js';\nexport const draw = cell;",
  'test/helpers/cell.ts': 'export const cell = 1;',
  'test/ripple/measureRipples.test.ts':
    "import { draw } from '../synth/drawFace.js';\nimport { ripples } from '../../src/ripple/measureRipples.js';\nexport const checked = [draw, ripples];",
  'scripts/makeSchema.ts':
    "import { z } from 'zod';\nimport { writeFileSync } from 'node:fs';\nimport { record } from '../src/print/record.js';\nexport const made = [z, writeFileSync, record];",
};

interface Plant {
  /** What somebody did. */
  readonly mistake: string;
  readonly file: string;
  readonly imports: string;
  /** The rule that has to stop it. */
  readonly rule: string;
}

const PLANTS: readonly Plant[] = [
  {
    mistake: 'a decision that measures',
    file: 'src/decide/peek.ts',
    imports: '../ripple/measureRipples.js',
    rule: 'decide-imports',
  },
  {
    mistake: 'a report that measures',
    file: 'src/report/csv.ts',
    imports: '../ripple/measureRipples.js',
    rule: 'report-imports',
  },
  {
    mistake: 'a stage that reads a later stage',
    file: 'src/face/peek.ts',
    imports: '../band/nullFit.js',
    rule: 'face-imports',
  },
  {
    mistake: 'a stage that reads a later stage, types only',
    file: 'src/profiles/peek.ts',
    imports: 'type ../ripple/measureRipples.js',
    rule: 'profiles-imports',
  },
  {
    mistake: 'a stage that reads the reading',
    file: 'src/band/peek.ts',
    imports: '../reading/schema.js',
    rule: 'band-imports',
  },
  {
    mistake: 'a print record that looks at the photo',
    file: 'src/print/peek.ts',
    imports: '../photo/decode.js',
    rule: 'print-imports',
  },
  {
    mistake: 'physics that knows the print record',
    file: 'src/physics/peek.ts',
    imports: '../print/record.js',
    rule: 'physics-imports',
  },
  {
    mistake: 'signal that knows pictures',
    file: 'src/signal/peek.ts',
    imports: '../imaging/encode.js',
    rule: 'signal-imports',
  },
  {
    mistake: 'imaging that knows the printer',
    file: 'src/imaging/peek.ts',
    imports: '../physics/shapers.js',
    rule: 'imaging-imports',
  },
  {
    mistake: 'core that imports anything of ours',
    file: 'src/core/peek.ts',
    imports: '../signal/median.js',
    rule: 'core-imports',
  },
  {
    mistake: 'a reading that words itself',
    file: 'src/reading/peek.ts',
    imports: '../report/text.js',
    rule: 'reading-imports',
  },
  {
    mistake: 'the command line reaching round the public API',
    file: 'src/cli/measure.ts',
    imports: '../ripple/measureRipples.js',
    rule: 'cli-imports',
  },
  {
    mistake: 'the command line reaching into the server',
    file: 'src/cli/jobs.ts',
    imports: '../web/jobs.js',
    rule: 'cli-imports',
  },
  {
    mistake: 'the server reaching round the public API',
    file: 'src/web/measure.ts',
    imports: '../ripple/measureRipples.js',
    rule: 'web-imports',
  },
  {
    mistake: 'the page that measures',
    file: 'src/page/measure.ts',
    imports: '../ripple/measureRipples.js',
    rule: 'page-imports',
  },
  {
    mistake: 'the page with Node in it',
    file: 'src/page/path.ts',
    imports: 'node:path',
    rule: 'page-without-packages',
  },
  {
    mistake: 'a record that looks at the photo',
    file: 'src/told/peek.ts',
    imports: '../photo/decode.js',
    rule: 'told-imports',
  },
  {
    mistake: 'threads started elsewhere',
    file: 'src/web/threads.ts',
    imports: 'piscina',
    rule: 'owner-of-piscina',
  },
  {
    mistake: 'a form read elsewhere',
    file: 'src/web/forms.ts',
    imports: '@fastify/multipart',
    rule: 'owner-of-@fastify/multipart',
  },
  {
    mistake: 'a folder without a place in the design',
    file: 'src/utils/misc.ts',
    imports: '../core/units.js',
    rule: 'src-has-its-places',
  },
  {
    mistake: 'a second file that knows fft.js',
    file: 'src/signal/spectrum.ts',
    imports: 'fft.js',
    rule: 'owner-of-fft.js',
  },
  {
    mistake: 'a second file that knows sharp',
    file: 'src/face/shrink.ts',
    imports: 'sharp',
    rule: 'owner-of-sharp',
  },
  {
    mistake: 'a picture drawn outside its owner',
    file: 'src/report/render.ts',
    imports: '@resvg/resvg-js',
    rule: 'owner-of-@resvg/resvg-js',
  },
  {
    mistake: 'a font found outside its owner',
    file: 'src/report/font.ts',
    imports: 'dejavu-fonts-ttf/package.json',
    rule: 'owner-of-dejavu-fonts-ttf',
  },
  {
    mistake: 'a second file that writes PDF',
    file: 'src/report/sheetPdf.ts',
    imports: 'pdfkit',
    rule: 'owner-of-pdfkit',
  },
  {
    mistake: 'a QR code read outside its owner',
    file: 'src/face/code.ts',
    imports: 'qr',
    rule: 'owner-of-qr',
  },
  {
    mistake: 'EXIF read outside its owner',
    file: 'src/photo/turn.ts',
    imports: 'exif-reader',
    rule: 'owner-of-exif-reader',
  },
  {
    mistake: 'a schema outside its owner',
    file: 'src/physics/schema.ts',
    imports: 'zod',
    rule: 'owner-of-zod',
  },
  {
    mistake: 'JSON with comments read elsewhere',
    file: 'src/reading/parse.ts',
    imports: 'jsonc-parser',
    rule: 'owner-of-jsonc-parser',
  },
  {
    mistake: 'a logbook that measures',
    file: 'src/logbook/replay.ts',
    imports: '../band/nullFit.js',
    rule: 'logbook-imports',
  },
  {
    mistake: 'canonical JSON made elsewhere',
    file: 'src/reading/bytes.ts',
    imports: 'canonicalize',
    rule: 'owner-of-canonicalize',
  },
  {
    mistake: 'a command below the command line',
    file: 'src/report/command.ts',
    imports: 'commander',
    rule: 'owner-of-commander',
  },
  {
    mistake: 'colour in a report',
    file: 'src/report/colour.ts',
    imports: 'picocolors',
    rule: 'owner-of-picocolors',
  },
  {
    mistake: 'a picture after the profiles',
    file: 'src/ripple/picture.ts',
    imports: 'ndarray',
    rule: 'owner-of-ndarray',
  },
  {
    mistake: 'a development package in src',
    file: 'src/core/check.ts',
    imports: 'fast-check',
    rule: 'package-without-owner',
  },
  {
    mistake: 'a stage that reads files',
    file: 'src/ripple/cache.ts',
    imports: 'node:fs',
    rule: 'io-at-the-edge',
  },
  {
    mistake: 'a stage that reads files by promise',
    file: 'src/face/cache.ts',
    imports: 'fs/promises',
    rule: 'io-at-the-edge',
  },
  {
    mistake: 'a report that goes to the network',
    file: 'src/report/send.ts',
    imports: 'node:http',
    rule: 'io-at-the-edge',
  },
  {
    mistake: 'truth that borrows from src',
    file: 'test/synth/swing.ts',
    imports: '../../src/physics/shapers.js',
    rule: 'truth-is-independent',
  },
  {
    mistake: 'truth that borrows through a helper',
    file: 'test/synth/turn.ts',
    imports: '../helpers/borrow.js',
    rule: 'truth-is-independent',
  },
  {
    mistake: 'src that needs a test file',
    file: 'src/band/fixture.ts',
    imports: '../../test/helpers/cell.js',
    rule: 'src-stands-alone',
  },
  {
    mistake: 'an import that leads nowhere',
    file: 'src/band/lost.ts',
    imports: './nowhere.js',
    rule: 'not-resolvable',
  },
];

/** What the plants above need beside them. */
const PLANTED_HELPERS: Readonly<Record<string, string>> = {
  'test/helpers/borrow.ts': "export { shaper } from '../../src/physics/shapers.js';",
  'src/measurePhoto.ts': "export { text } from './report/text.js';",
  'src/drawReading.ts': "export { ripples } from './ripple/measureRipples.js';",
  'src/makeSheet.ts': "export { ripples } from './ripple/measureRipples.js';",
  'src/drawCard.ts': "export { face } from './face/rectifyFace.js';",
  'src/readCard.ts': "export { text } from './report/text.js';",
  'src/measureStored.ts': "export { text } from './report/text.js';",
  'src/sheetOfEntry.ts': "export { ripples } from './ripple/measureRipples.js';",
  'src/logbookTrends.ts': "export { text } from './report/text.js';",
  'src/logbookIndex.ts': "export { reading } from './reading/schema.js';",
  'src/core/alone.ts': 'export const alone = 1;',
  'src/web/jobs.ts': "export { text } from '../index.js';",
  'src/signal/hen.ts': "import { egg } from './egg.js';\nexport const hen = () => egg;",
  'src/signal/egg.ts': "import { hen } from './hen.js';\nexport const egg = () => hen;",
};

interface Violation {
  readonly from: string;
  readonly rule: string;
}

const trees: string[] = [];

/** Writes a tree, runs the rules over it, and returns what they stopped. */
function cruise(files: Readonly<Record<string, string>>): readonly Violation[] {
  const tree = mkdtempSync(join(tmpdir(), 'stillband-rules-'));
  trees.push(tree);
  for (const [file, text] of Object.entries(files)) {
    mkdirSync(dirname(join(tree, file)), { recursive: true });
    writeFileSync(join(tree, file), text);
  }
  for (const file of ['package.json', 'tsconfig.json', '.dependency-cruiser.mjs']) {
    cpSync(join(REPO, file), join(tree, file));
  }
  symlinkSync(join(REPO, 'node_modules'), join(tree, 'node_modules'), 'junction');
  const bin = join(REPO, 'node_modules/dependency-cruiser/bin/dependency-cruise.mjs');
  const options = ['--config', '.dependency-cruiser.mjs', '--output-type', 'json', 'src', 'test', 'scripts'];
  const run = spawnSync(process.execPath, [bin, ...options], { cwd: tree, encoding: 'utf8', maxBuffer: 1e8 });
  if (run.stdout === '') throw new Error(run.stderr);
  const { summary } = JSON.parse(run.stdout) as {
    summary: { violations: readonly { from: string; rule: { name: string } }[] };
  };
  return summary.violations.map(({ from, rule }) => ({ from, rule: rule.name }));
}

afterAll(() => {
  for (const tree of trees) rmSync(tree, { recursive: true, force: true });
});

describe('import rules', { timeout: 20_000 }, () => {
  test('let a tree in order pass', () => {
    expect(cruise(GOOD)).toEqual([]);
  });

  describe('stop', () => {
    let found: readonly Violation[] = [];
    beforeAll(() => {
      const planted = PLANTS.map(({ file, imports }): [string, string] => {
        const typeOnly = imports.startsWith('type ');
        const from = typeOnly ? imports.slice('type '.length) : imports;
        return [
          file,
          `import ${typeOnly ? 'type ' : ''}* as planted from '${from}';\nexport { type planted };\n`,
        ];
      });
      found = cruise({ ...GOOD, ...Object.fromEntries(planted), ...PLANTED_HELPERS });
    }, 20_000);

    test.each(PLANTS)('$mistake ($rule)', ({ file, rule }) => {
      const rules = found.filter(({ from }) => from === file).map((violation) => violation.rule);
      expect([...new Set(rules)]).toEqual([rule]);
    });

    test.each([
      'measurePhoto',
      'drawReading',
      'drawCard',
      'makeSheet',
      'readCard',
      'measureStored',
      'sheetOfEntry',
      'logbookTrends',
      'logbookIndex',
    ])('%s reaching beyond its place', (name) => {
      expect(found).toContainEqual({ from: `src/${name}.ts`, rule: `${name}-imports` });
    });

    test('two files that need each other (no-circular)', () => {
      // One of the two is named, not both.
      expect(found).toContainEqual({
        from: expect.stringMatching(/^src\/signal\/(hen|egg)\.ts$/) as string,
        rule: 'no-circular',
      });
    });

    test('a file that nobody needs (no-orphans)', () => {
      expect(found).toContainEqual({ from: 'src/core/alone.ts', rule: 'no-orphans' });
    });

    test('nothing else', () => {
      const planted = [...PLANTS.map(({ file }) => file), ...Object.keys(PLANTED_HELPERS)];
      expect(found.filter(({ from }) => !planted.includes(from))).toEqual([]);
    });
  });
});
