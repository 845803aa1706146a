/** Child process of benchFiles: measures one mutated file at a time and answers with what came of it. */
import { readFileSync } from 'node:fs';
import sharp from 'sharp';
import { InputError } from '../../src/core/errors.js';
import { measurePhoto } from '../../src/measurePhoto.js';
import { parsePrintRecord, type PrintRecord } from '../../src/print/record.js';
import { mutate, wholeFiles, type MutationKind } from './mutate.js';

/** What came of a mutated file. */
export interface MutationOutcome {
  readonly seed: number;
  readonly file: string;
  readonly kind: MutationKind;
  /** A verdict, a declared error by its code, or what must not be: any other error. */
  readonly came: 'verdict' | 'error' | 'undeclared';
  /** State or reason of the verdict, code or text of the error. */
  readonly what: string;
  /** Where a frequency is proposed. */
  readonly hz?: number;
  /** Largest memory of the process so far. */
  readonly peakMb: number;
}

const root = new URL('../../', import.meta.url);
const record = parsePrintRecord(readFileSync(new URL('testimages/white-card.print.json', root), 'utf8'));
const truth = JSON.parse(readFileSync(new URL('testimages/white-card.truth.json', root), 'utf8')) as {
  readonly face_corners_px_tl_tr_br_bl: readonly (readonly [number, number])[];
};
/** Half its size, as `white-card-half.heic` is. */
const [tl, tr, br, bl] = truth.face_corners_px_tl_tr_br_bl.map(
  ([x, y]) => [x / 2, y / 2] as [number, number],
);
const told: PrintRecord = { ...record, facePx: [tl!, tr!, br!, bl!] };
const upright = await sharp(readFileSync(new URL('testimages/white-card.jpg', root)))
  .keepExif()
  .autoOrient()
  .resize(1512, 2016)
  .jpeg({ quality: 98 })
  .toBuffer();
const heic = ['white-card-half', 'exif', 'alpha'].map((name) => ({
  name: `heic, ${name}`,
  bytes: readFileSync(new URL(`test/photo/heic/${name}.heic`, root)),
}));
const files = await wholeFiles(() => sharp(upright).keepExif(), heic);

async function outcomeOf(seed: number): Promise<MutationOutcome> {
  const { file, kind, bytes } = mutate(files, seed);
  const came = await measurePhoto(bytes, told).then(
    ({ proposal }) => ({
      came: 'verdict' as const,
      what: proposal.state === 'refused' ? proposal.reason : proposal.state,
      ...(proposal.state === 'proposed' ? { hz: proposal.frequencyHz.value } : {}),
    }),
    (error: unknown) =>
      error instanceof InputError
        ? { came: 'error' as const, what: error.code }
        : { came: 'undeclared' as const, what: error instanceof Error ? (error.stack ?? '') : String(error) },
  );
  return { seed, file, kind, ...came, peakMb: process.resourceUsage().maxRSS / 1e3 };
}

process.on('message', (seed: number) => {
  void outcomeOf(seed).then((outcome) => process.send!(outcome));
});
process.send!('ready');
