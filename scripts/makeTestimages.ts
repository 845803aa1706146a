/**
 * Remakes testimages/ from the folder that the ray tracer wrote: NAME.jpg with NAME.truth.json and NAME.print.json.
 *
 *   npx tsx scripts/makeTestimages.ts SOURCE_FOLDER
 *
 * Photos, truths and records are copied unchanged. Then testimages/manifest.json is written for all that the folder
 * holds, the drawn ones and testimages/outside included. test/house/testimages.test.ts checks the result.
 */
import { createHash } from 'node:crypto';
import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { format, resolveConfig } from 'prettier';
import sharp from 'sharp';

const TARGET = fileURLToPath(new URL('../testimages', import.meta.url));
const OWN_LICENCE = 'MIT, like the project';
const NATURAL_HISTORY_MUSEUM = 'photograph © Trustees of the Natural History Museum, London';
const CHESSBOARD_MADE = 'photographed; sample image of OpenCV, Debian package opencv-doc 4.6.0+dfsg-12';
const CHESSBOARD_KNOWN =
  '9 × 6 inner corners, 25 mm apart; camera matrix, distortion and pose in test/reference/chessboard_views.json';

/** What is written by hand about the pictures of testimages/outside; details in its PROVENANCE.md. */
const OUTSIDE: Readonly<Record<string, Omit<Entry, 'file' | 'sha256' | 'uprightPx' | 'changed'>>> = {
  'ruler-half-mm-960x640.jpg': {
    shows: 'a ruler beside a museum specimen',
    made: `${NATURAL_HISTORY_MUSEUM}, specimen BMNH(E) 500606`,
    licence: 'CC BY (embedded Exif Copyright); found in a repository under GPL-2.0',
    known: 'graduations of 0.5 mm; 17.556 px per mm, test/reference/ruler_photos.json',
  },
  'ruler-half-mm-518x345.jpg': {
    shows: 'a ruler beside a museum specimen, near the sampling limit',
    made: `${NATURAL_HISTORY_MUSEUM}, specimen BMNH(E) 1105737`,
    licence: 'BSD-3-Clause (the repository that it was found in); none in the file itself',
    known: 'graduations of 0.5 mm; 6.691 px per mm, test/reference/ruler_photos.json',
  },
  'chessboard-left01.jpg': chessboard('a chessboard at a slant, view 1'),
  'chessboard-left03.jpg': chessboard('a chessboard at a slant, view 3'),
  'chessboard-left11.jpg': chessboard('a chessboard at a slant, view 11'),
  'charuco-tilted.jpg': {
    ...chessboard('a board of squares with markers, strong perspective'),
    known: '5 × 7 equal squares, size unknown',
  },
};

/** One file of testimages/manifest.json. */
interface Entry {
  readonly file: string;
  readonly shows: string;
  readonly made: string;
  readonly licence: string;
  readonly known: string;
  readonly changed: string;
  /** Size once turned upright, [width, height]; pictures only. */
  readonly uprightPx?: readonly [number, number];
  readonly sha256: string;
}

/** The fields of a truth file that are used here. */
interface Truth {
  readonly material: string;
  readonly axis: string;
  readonly f_n_hz: number;
  readonly zeta: number;
  readonly null: { readonly best_fs_hz: number; readonly height_mm: number } | null;
  readonly reference: { readonly kind: string } | null;
}

function chessboard(shows: string): (typeof OUTSIDE)[string] {
  return { shows, made: CHESSBOARD_MADE, licence: 'Apache-2.0 AND BSD-3-Clause', known: CHESSBOARD_KNOWN };
}

/** Copies one photo with its truth and its record. */
function copyPhoto(source: string, name: string): void {
  for (const file of [`${name}.jpg`, `${name}.truth.json`, `${name}.print.json`]) {
    // Bytes only: a copy of a read-only source must not be read-only itself.
    writeFileSync(join(TARGET, file), readFileSync(join(source, file)));
  }
}

async function describePhoto(name: string): Promise<readonly Entry[]> {
  const truth = readTruth(name);
  const beside = truth.reference === null ? 'nothing beside it' : `beside it: ${truth.reference.kind}`;
  const vanishes =
    truth.null === null
      ? 'the shaper is off'
      : `ringing vanishes at ${truth.null.height_mm} mm, ${truth.null.best_fs_hz} Hz`;
  const simulated = `axis ${truth.axis}, natural frequency ${truth.f_n_hz} Hz, damping ratio ${truth.zeta}`;
  return [
    {
      file: `${name}.jpg`,
      shows: `a ${truth.material} test tower; ${beside}`,
      made: 'ray-traced from a simulated print; not a photograph of a real one',
      licence: OWN_LICENCE,
      known: `${simulated}; ${vanishes}; all else in ${name}.truth.json`,
      changed: 'nothing',
      ...(await fingerprint(`${name}.jpg`)),
    },
    {
      file: `${name}.print.json`,
      shows: `the print record that the user of ${name}.jpg would write`,
      made: 'written by the simulation',
      licence: OWN_LICENCE,
      known: 'what the user knows, no more',
      changed: 'nothing',
      ...(await fingerprint(`${name}.print.json`)),
    },
    {
      file: `${name}.truth.json`,
      shows: `the truth behind ${name}.jpg`,
      made: 'written by the simulation',
      licence: OWN_LICENCE,
      known: 'exact: what was simulated',
      changed: 'nothing',
      ...(await fingerprint(`${name}.truth.json`)),
    },
  ];
}

async function describeOutside(file: string): Promise<Entry> {
  const words = OUTSIDE[file];
  if (words === undefined)
    throw new Error(`testimages/outside/${file} is not described in ${import.meta.filename}`);
  const path = `outside/${file}`;
  return { file: path, ...words, changed: 'nothing but the name', ...(await fingerprint(path)) };
}

/** Folders of drawn photographs: what they show, and what draws them. */
const DRAWN = {
  proof: {
    shows: 'a proof print: the acceleration climbs with height, the shaper stays',
    script: 'scripts/makeProofPhoto.ts',
  },
  lamps: {
    shows: 'one print, the camera still and the lamp at another place in each photo',
    script: 'scripts/makeLampPhotos.ts',
  },
  walk: {
    shows: 'a print of the tuning that docs/whole-tuning.md tells of',
    script: 'scripts/makeTuningFiles.ts',
  },
} as const;

async function describeDrawn(folder: keyof typeof DRAWN, file: string): Promise<Entry> {
  const path = `${folder}/${file}`;
  const { shows, script } = DRAWN[folder];
  const isPhoto = file.endsWith('.jpg');
  const what = file.endsWith('.truth.json')
    ? 'the truth behind it'
    : file.endsWith('.job')
      ? 'the job file of its tower'
      : 'the print record that its user would write';
  return {
    file: path,
    shows: isPhoto ? shows : what,
    made: `drawn by test/synth/scene (${script}); not a photograph of a real one`,
    licence: OWN_LICENCE,
    known: 'exact, in its .truth.json: what was drawn',
    changed: 'nothing',
    ...(await fingerprint(path)),
  };
}

async function fingerprint(file: string): Promise<Pick<Entry, 'sha256' | 'uprightPx'>> {
  const bytes = readFileSync(join(TARGET, file));
  const sha256 = createHash('sha256').update(bytes).digest('hex');
  if (!file.endsWith('.jpg')) return { sha256 };
  const { width, height } = (await sharp(bytes).metadata()).autoOrient;
  return { uprightPx: [width, height], sha256 };
}

function readTruth(name: string): Truth {
  return readJson(join(TARGET, `${name}.truth.json`)) as Truth;
}

function readJson(path: string): unknown {
  return JSON.parse(readFileSync(path, 'utf8'));
}

async function writeJson(path: string, content: unknown): Promise<void> {
  const options = { ...(await resolveConfig(path)), filepath: path };
  writeFileSync(path, await format(JSON.stringify(content, null, 2), options));
}

const source = process.argv[2];
if (source === undefined)
  throw new Error('expected a folder: npx tsx scripts/makeTestimages.ts SOURCE_FOLDER');
const names = readdirSync(source)
  .filter((file) => file.endsWith('.jpg'))
  .map((file) => file.slice(0, -'.jpg'.length))
  .sort();
const entries: Entry[] = [];
for (const name of names) {
  copyPhoto(source, name);
  entries.push(...(await describePhoto(name)));
}
for (const folder of ['lamps', 'proof', 'walk'] as const) {
  for (const file of readdirSync(join(TARGET, folder)).sort())
    entries.push(await describeDrawn(folder, file));
}
for (const file of readdirSync(join(TARGET, 'outside')).sort()) {
  if (file.endsWith('.jpg')) entries.push(await describeOutside(file));
}
await writeJson(join(TARGET, 'manifest.json'), { files: entries });
