// Who may import whom. Each comment says what to do when its rule stops you.
// Run: npm run imports. Proved by test/house/importRules.test.ts.

/** What every stage may stand on. */
const GROUND = ['core', 'signal', 'imaging', 'physics', 'print'];
/** The way through, in its order: photo → face → profiles → ripple → band → reading. */
const STAGES = ['photo', 'face', 'profiles', 'ripple', 'band', 'reading'];

/** A folder of src may import itself and the folders listed, nothing else of ours. */
const folder = (name, allowed, comment) => ({
  name: `${name}-imports`,
  comment,
  severity: 'error',
  from: { path: `^src/${name}/` },
  to: { path: '^src/', pathNot: [name, ...allowed].map((other) => `^src/${other}/`) },
});

/** Each foreign package is known to its owner files only, so that it can be exchanged there unnoticed. */
const OWNERS = {
  'fft.js': { files: ['signal/fft.ts'], use: 'the functions of src/signal/fft.ts' },
  sharp: {
    files: ['photo/decode.ts', 'photo/heic.ts', 'photo/openPhoto.ts', 'imaging/encode.ts'],
    use: 'src/photo/decode.ts or src/imaging/encode.ts',
  },
  'libheif-js': { files: ['photo/heicWorker.js'], use: 'decodeHeic of src/photo/heic.ts' },
  '@resvg/resvg-js': { files: ['imaging/encode.ts'], use: 'src/imaging/encode.ts' },
  'dejavu-fonts-ttf': { files: ['core/fonts.ts'], use: 'src/core/fonts.ts' },
  pdfkit: { files: ['report/drawingPdf.ts'], use: 'src/report/drawingPdf.ts' },
  '@rgrove/parse-xml': { files: ['report/svgShapes.ts'], use: 'svgShapes of src/report/svgShapes.ts' },
  earcut: { files: ['planning/towerMesh.ts'], use: 'towerMesh of src/planning/towerMesh.ts' },
  qr: { files: ['imaging/qrCode.ts'], use: 'src/imaging/qrCode.ts' },
  'js-aruco2': { files: ['imaging/markers.ts'], use: 'src/imaging/markers.ts' },
  'exif-reader': { files: ['photo/captureData.ts'], use: 'src/photo/captureData.ts' },
  zod: {
    files: [
      'print/record.ts',
      'reading/schema.ts',
      'reading/jointSchema.ts',
      'reading/checkSchema.ts',
      'logbook/entry.ts',
      'web/jobRequest.ts',
    ],
    use: 'src/print/record.ts, the schemas of src/reading, src/logbook/entry.ts or src/web/jobRequest.ts',
  },
  yazl: { files: ['logbook/exportArchive.ts'], use: 'exportArchive of src/logbook' },
  yauzl: { files: ['logbook/archiveFiles.ts'], use: 'filesOfArchive of src/logbook' },
  canonicalize: { files: ['logbook/canonical.ts'], use: 'canonicalJson of src/logbook/canonical.ts' },
  'jsonc-parser': { files: ['print/record.ts'], use: 'src/print/record.ts' },
  fastify: { files: ['web/'], use: 'the web shell, src/web' },
  '@fastify/compress': { files: ['web/buildServer.ts'], use: 'buildServer of src/web' },
  '@fastify/multipart': { files: ['web/buildServer.ts'], use: 'buildServer of src/web' },
  piscina: { files: ['web/workers.ts'], use: 'the workers of src/web/workers.ts' },
  re2js: { files: ['job/frequencyLine.ts'], use: 'the functions of src/job/frequencyLine.ts' },
  commander: { files: ['cli/'], use: 'the command line, src/cli; below it there are no commands' },
  picocolors: { files: ['cli/'], use: 'the command line, src/cli; a report is plain text' },
  ndarray: {
    files: ['core/', 'imaging/', 'photo/', 'face/', 'profiles/'],
    use: 'plain typed arrays: after src/profiles the picture is gone',
  },
};
const escaped = (text) => text.replaceAll('.', '\\.').replaceAll('/', '\\/');
const packagePath = (name) => `(^|/)node_modules/(@types/)?${escaped(name)}/`;
const owner = ([name, { files, use }]) => ({
  name: `owner-of-${name}`,
  comment: `Only ${files.map((file) => `src/${file}`).join(', ')} may import ${name}. Use ${use}.`,
  severity: 'error',
  from: {
    path: '^src/',
    pathNot: files.map((file) => `^src/${escaped(file)}${file.endsWith('/') ? '' : '$'}`),
  },
  to: { path: packagePath(name) },
});

/** @type {import('dependency-cruiser').IConfiguration} */
export default {
  forbidden: [
    folder(
      'core',
      [],
      'core holds words that everything shares and imports nothing of ours. Move what you need up.',
    ),
    folder(
      'signal',
      ['core'],
      'signal is 1-D numbers and knows no photo or printer. Pass what it needs as arguments.',
    ),
    folder(
      'imaging',
      ['core', 'signal'],
      'imaging is 2-D numbers and knows no face or printer. Pass what it needs as arguments.',
    ),
    folder(
      'physics',
      ['core', 'signal'],
      'physics is the printer by theory. It sees no picture and no print record: pass numbers.',
    ),
    folder(
      'print',
      ['core', 'signal', 'imaging', 'physics'],
      'print is what the user told of the print. It may not look at what was measured.',
    ),
    ...STAGES.map((stage, i) =>
      folder(
        stage,
        [...GROUND, ...STAGES.slice(0, i)],
        `A stage reads only earlier stages (${STAGES.join(' → ')}). Move the shared part to an earlier folder, or pass the result in.`,
      ),
    ),
    folder(
      'planning',
      [...GROUND, 'face', 'profiles', 'ripple', 'band', 'reading'],
      'planning predicts what the stages will measure, by their own numbers. It sees no photo and writes no words.',
    ),
    folder(
      'history',
      ['core', 'signal', 'physics', 'print', 'reading'],
      'history sets finished readings side by side. It sees no photo and measures nothing.',
    ),
    folder(
      'decide',
      ['core', 'physics', 'print', 'reading', 'history'],
      'decide takes finished readings and the limits that were told, and chooses by theory. It sees no photo and measures nothing.',
    ),
    folder(
      'job',
      ['core', 'signal', 'physics', 'print'],
      "job reads the machine's own file and puts lines into it. It sees no photo and nothing that was measured.",
    ),
    folder(
      'logbook',
      ['core', 'print', 'photo', 'reading'],
      'A logbook keeps readings and photos and never measures. What measures is passed in.',
    ),
    folder(
      'report',
      ['core', 'print', 'planning', 'reading', 'history', 'decide', 'logbook', 'job'],
      'A report turns a stored reading into text and never measures. Put the number into the reading first.',
    ),
    {
      name: 'measurePhoto-imports',
      comment:
        'measurePhoto, measureTogether and checkPhoto compose the stages; words and shells come after them.',
      severity: 'error',
      from: { path: '^src/(measure(Photo|Together)|checkPhoto)\\.ts$' },
      to: {
        path: '^src/(report|logbook|told|cli|web|page)/|^src/(index|logbookIndex|drawReading|drawCard|drawTower|makeSheet|readCard)\\.ts$',
      },
    },
    {
      name: 'drawReading-imports',
      comment:
        'drawReading composes the picture of a finished measurement. What it lacks belongs into the reading or its view.',
      severity: 'error',
      from: { path: '^src/drawReading\\.ts$' },
      to: {
        path: '^src/',
        pathNot: ['^src/(core|imaging|reading|report)/', '^src/measurePhoto\\.ts$'],
      },
    },
    {
      name: 'makeSheet-imports',
      comment:
        'makeSheet encodes the pictures of a finished measurement for its sheet. What it lacks belongs into the reading or its view.',
      severity: 'error',
      from: { path: '^src/makeSheet\\.ts$' },
      to: {
        path: '^src/',
        pathNot: ['^src/(core|imaging|reading|report)/', '^src/measurePhoto\\.ts$'],
      },
    },
    {
      name: 'drawCard-imports',
      comment: 'drawCard puts what is told of a print on a card. It sees no photo: readCard does.',
      severity: 'error',
      from: { path: '^src/drawCard\\.ts$' },
      to: { path: '^src/', pathNot: ['^src/(core|imaging|print|report)/'] },
    },
    {
      name: 'drawTower-imports',
      comment: 'drawTower makes the solid of what is told of a print. It sees no photo and writes no words.',
      severity: 'error',
      from: { path: '^src/drawTower\\.ts$' },
      to: { path: '^src/', pathNot: ['^src/(core|print|planning)/'] },
    },
    {
      name: 'readCard-imports',
      comment:
        'readCard reads a card in a photo before anything is measured. It writes no words: report does.',
      severity: 'error',
      from: { path: '^src/readCard\\.ts$' },
      to: { path: '^src/', pathNot: ['^src/(core|imaging|print|photo|face)/'] },
    },
    {
      name: 'measureStored-imports',
      comment:
        'measureStored and replayLogbook measure what a logbook holds once more. Words for it belong into report.',
      severity: 'error',
      from: { path: '^src/(measureStored|replayLogbook)\\.ts$' },
      to: {
        path: '^src/',
        pathNot: [
          '^src/(core|print|reading|logbook)/',
          '^src/(measure(Photo|Together|Stored)|readCard|version)\\.ts$',
        ],
      },
    },
    {
      name: 'sheetOfEntry-imports',
      comment:
        'sheetOfEntry puts a stored reading and its photo, measured again, on a sheet. It says nothing itself.',
      severity: 'error',
      from: { path: '^src/sheetOfEntry\\.ts$' },
      to: {
        path: '^src/',
        pathNot: ['^src/(core|reading|logbook|report)/', '^src/(measureStored|makeSheet)\\.ts$'],
      },
    },
    {
      name: 'logbookTrends-imports',
      comment:
        'logbookTrends sets what a logbook holds side by side. It measures nothing and writes no words.',
      severity: 'error',
      from: { path: '^src/logbookTrends\\.ts$' },
      to: { path: '^src/', pathNot: ['^src/(core|reading|history|logbook)/'] },
    },
    {
      name: 'logbookIndex-imports',
      comment:
        'logbookIndex is quick to load, since it has only what a list needs. Export what needs more from index.ts. test/whole/logbook.test.ts looks at what it loads.',
      severity: 'error',
      from: { path: '^src/logbookIndex\\.ts$' },
      to: { path: '^src/', pathNot: ['^src/(core|logbook|report)/'] },
    },
    {
      name: 'index-imports',
      comment: 'index.ts is what the shells stand on, so it may not import a shell.',
      severity: 'error',
      from: { path: '^src/index\\.ts$' },
      to: { path: '^src/(cli|web|page)/' },
    },
    {
      name: 'cli-imports',
      comment:
        'The command line is a thin shell: import from src/index.ts, or from src/logbookIndex.ts what must load quickly. If something is missing there, export it.',
      severity: 'error',
      from: { path: '^src/cli/' },
      to: {
        path: '^src/',
        pathNot: ['^src/cli/', '^src/(index|logbookIndex)\\.ts$', '^src/web/(serve|terminalCode)\\.ts$'],
      },
    },
    {
      name: 'web-imports',
      comment:
        'The web server is a thin shell: import from src/index.ts. If something is missing there, export it.',
      severity: 'error',
      from: { path: '^src/web/' },
      to: { path: '^src/', pathNot: ['^src/web/', '^src/index\\.ts$'] },
    },
    {
      name: 'page-imports',
      comment:
        'What runs in the browser may share pure functions and types of these folders. Ask the server for the rest.',
      severity: 'error',
      from: { path: '^src/page/' },
      to: { path: '^src/', pathNot: ['^src/(page|core|report|reading|physics|print)/'] },
    },
    {
      name: 'page-without-packages',
      comment: 'The page is small and needs no framework: neither a package nor Node may be in it.',
      severity: 'error',
      from: { path: '^src/page/' },
      to: { dependencyTypesNot: ['local', 'type-only', 'type-import'], pathNot: '^src/' },
    },
    {
      name: 'told-imports',
      comment:
        'told makes a print record, limits for a decision, or what a plan or a job file needs, of what somebody gives, for every shell. It looks at no photo: the card is passed in.',
      severity: 'error',
      from: { path: '^src/told/' },
      to: {
        path: '^src/',
        pathNot: ['^src/(told|core|physics|print|planning|band|decide|job)/', '^src/checkPhoto\\.ts$'],
      },
    },
    {
      name: 'src-has-its-places',
      comment:
        'A file of src belongs to a folder of DESIGN §4. A new folder needs its own rule in this file.',
      severity: 'error',
      from: {
        path: '^src/',
        pathNot: [
          `^src/(${[...GROUND, ...STAGES, 'planning', 'history', 'decide', 'job', 'logbook', 'report', 'told', 'cli', 'web', 'page'].join('|')})/`,
          '^src/(index|logbookIndex|checkPhoto|measurePhoto|measureTogether|measureStored|drawReading|drawCard|drawTower|makeSheet|readCard|replayLogbook|sheetOfEntry|logbookTrends)\\.ts$',
        ],
      },
      to: {},
    },
    ...Object.entries(OWNERS).map(owner),
    {
      name: 'package-without-owner',
      comment:
        'A package that src imports needs an owner file in OWNERS above, and a place in "dependencies".',
      severity: 'error',
      from: { path: '^src/' },
      to: {
        dependencyTypes: [
          'npm',
          'npm-dev',
          'npm-optional',
          'npm-peer',
          'npm-bundled',
          'npm-no-pkg',
          'npm-unknown',
        ],
        pathNot: Object.keys(OWNERS).map(packagePath),
      },
    },
    {
      name: 'io-at-the-edge',
      comment:
        'Files, network and processes belong to the shells and the logbook. Take bytes in and give bytes or text back.',
      severity: 'error',
      from: { path: '^src/', pathNot: '^src/(cli|web|logbook)/' },
      to: {
        dependencyTypes: ['core'],
        path: '^(node:)?(fs|net|tls|dns|dgram|http|https|http2|child_process|cluster)(/|$)',
      },
    },
    {
      name: 'truth-is-independent',
      comment:
        'test/synth draws faces with known truth. If it reached src, even through a helper, a mistake in src would be in the truth too. Write the formula again, from its source.',
      severity: 'error',
      from: { path: '^test/synth/' },
      to: { path: '^src/', reachable: true },
    },
    {
      name: 'src-stands-alone',
      comment: 'What is shipped may not need a test or a script. Move the shared part into src.',
      severity: 'error',
      from: { path: '^src/' },
      to: { path: '^(test|scripts)/' },
    },
    {
      name: 'no-circular',
      comment: 'Two files that need each other are one file, or share a third. Move the shared part out.',
      severity: 'error',
      from: {},
      to: { circular: true },
    },
    {
      name: 'no-orphans',
      comment: 'Nothing imports this file and it imports nothing. Use it or delete it.',
      severity: 'error',
      from: { orphan: true, pathNot: ['^test/.*\\.test\\.ts$', '^scripts/', '^src/page/measure\\.ts$'] },
      to: {},
    },
    {
      name: 'not-resolvable',
      comment: 'The import leads nowhere. Check its spelling (with .js), or run npm ci.',
      severity: 'error',
      from: {},
      to: { couldNotResolve: true },
    },
  ],
  options: {
    doNotFollow: { path: 'node_modules' },
    tsPreCompilationDeps: true,
    tsConfig: { fileName: 'tsconfig.json' },
    enhancedResolveOptions: {
      exportsFields: ['exports'],
      conditionNames: ['import', 'require', 'node', 'default', 'types'],
    },
  },
};
