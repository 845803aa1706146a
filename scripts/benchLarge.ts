/**
 * Time and memory on photos of 108 megapixels, the largest that phones take (`npx tsx scripts/benchLarge.ts`): the check
 * beside sharp's grey decode of the same photo, in CPU time of one process, warm, and the most memory of a fresh process
 * that checks or measures. Writes docs/large.json; exit code 1 when a limit is missed.
 */
import { execFileSync, execSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { format, resolveConfig } from 'prettier';
import sharp from 'sharp';

const ROOT = fileURLToPath(new URL('..', import.meta.url));
const OUTPUT = fileURLToPath(new URL('../docs/large.json', import.meta.url));
const CHILD = fileURLToPath(new URL('bench/large.mjs', import.meta.url));
const PHOTO = fileURLToPath(new URL('../testimages/white-card.jpg', import.meta.url));
const RECORD = fileURLToPath(new URL('../testimages/white-card.print.json', import.meta.url));
const SIDES_PX = [9000, 12000] as const;
/** Most grain, codes to each side: without any, a file decodes in less time than a camera's. */
const GRAIN = 7;
const LIMITS = { checkToDecode: 1, peakMb: 700 };

interface Child {
  readonly checkToDecode?: readonly number[];
  readonly peakMb: number;
}

/** A photograph of the bench, enlarged, with grain, as JPEG. */
async function write(path: string, progressive: boolean): Promise<void> {
  const [width, height] = SIDES_PX;
  const { data, info } = await sharp(PHOTO)
    .autoOrient()
    .resize(width, height, { fit: 'fill' })
    .raw()
    .toBuffer({ resolveWithObject: true });
  let state = 7;
  for (let at = 0; at < data.length; at += 1) {
    // A linear congruential generator (Knuth; from memory): quick, and good enough for grain.
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    data[at] = Math.max(0, Math.min(255, data[at]! + (state >>> 24) * (GRAIN / 128) - GRAIN));
  }
  await sharp(data, { raw: info })
    .withExif({ IFD2: { FocalLengthIn35mmFilm: '26' } })
    .jpeg({ quality: 85, progressive })
    .toFile(path);
}

execSync('npm run build --silent', { cwd: ROOT, stdio: 'inherit' });
const work = mkdtempSync(join(tmpdir(), 'large-'));
try {
  const rows = [];
  for (const kind of ['baseline', 'progressive'] as const) {
    const path = join(work, `${kind}.jpg`);
    await write(path, kind === 'progressive');
    const child = (job: string) => {
      const out = execFileSync(process.execPath, [CHILD, job, path, RECORD], {
        encoding: 'utf8',
        env: { ...process.env, NODE_OPTIONS: '' },
      });
      return JSON.parse(out) as Child;
    };
    const ratios = [...(child('ratio').checkToDecode ?? [])].sort((a, b) => a - b);
    rows.push({
      jpeg: kind,
      checkToDecode: { median: ratios[Math.floor(ratios.length / 2)]!, of: ratios },
      peakMb: {
        decode: child('decode').peakMb,
        check: child('check').peakMb,
        measure: child('measure').peakMb,
      },
    });
  }
  const json = {
    about:
      "Photos of 108 megapixels: CPU time of the check ÷ that of sharp's grey decode of the same photo in the same process, warm; most memory of a fresh process. Written by scripts/benchLarge.ts.",
    versions: { node: process.versions.node, sharp: sharp.versions.sharp, libvips: sharp.versions.vips },
    limits: LIMITS,
    photos: rows,
  };
  const rounded = JSON.stringify(json, (_, value: unknown) =>
    typeof value === 'number' ? Number(value.toPrecision(4)) : value,
  );
  const style = await resolveConfig(OUTPUT);
  const text = await format(rounded, { ...style, filepath: OUTPUT });
  console.log(text);
  writeFileSync(OUTPUT, text);
  const missed = rows.some(
    ({ checkToDecode, peakMb }) =>
      checkToDecode.median > LIMITS.checkToDecode || Math.max(...Object.values(peakMb)) > LIMITS.peakMb,
  );
  if (missed) process.exitCode = 1;
} finally {
  rmSync(work, { recursive: true });
}
