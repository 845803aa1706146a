/**
 * Time, memory and accuracy on the photos of testimages, in one run (`npm run bench`). Time is told as a ratio to
 * sharp's grey decode of the same photo in the same round, never in seconds: those belong to a machine.
 *
 * Prints tables and writes docs/bench.json; exit code 1 when a limit is missed. Close other programs first, and
 * run it again when the quartiles lie far apart.
 */
import { execSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { format, resolveConfig } from 'prettier';
import sharp from 'sharp';
import { measurePhoto } from '../src/measurePhoto.js';
import { VERSION } from '../src/version.js';
import { freshRuns, helpRuns, type FreshRuns, type HelpRuns } from './bench/freshRuns.js';
import { readPhotos, readRecord, readTruth, type Photo } from './bench/photos.js';
import { ratioSpread, spreadOf, type Spread } from './bench/spread.js';
import { loadTimer, PARTS, type Part, type Round } from './bench/timePhoto.js';
import { plainResult } from './plainScript.js';

const ROOT = fileURLToPath(new URL('..', import.meta.url));
const OUTPUT = fileURLToPath(new URL('../docs/bench.json', import.meta.url));

const WARM_UP_ROUNDS = 2;
const ROUNDS = 11;
const FRESH_RUNS = 5;
const HELP_RUNS = 21;
/** Most that is allowed: whole ÷ decode of a photo of 12 megapixels, memory, help ÷ bare node. */
const LIMITS = { megapixels: 12, whole: 5, peakMb: 400, help: 1.5 };

interface Accuracy {
  readonly truthHz: number | undefined;
  /** A frequency, or why none is proposed. */
  readonly proposed: number | string;
  readonly plainHz: number | undefined;
  readonly spacing: {
    readonly truthHz: number;
    readonly measuredHz: number | undefined;
    readonly plainHz: number;
  };
}

interface PhotoBench extends FreshRuns {
  readonly name: string;
  readonly megapixels: number;
  /** Raw context only: it says how fast the machine was, nothing of stillband. */
  readonly decodeMs: Spread;
  readonly ratioToDecode: Readonly<Record<Exclude<Part, 'decode'>, Spread>>;
  readonly accuracy: Accuracy;
}

async function main(): Promise<void> {
  execSync('npm run build --silent', { cwd: ROOT, stdio: 'inherit' });
  // A decode that comes out of a cache is no unit.
  sharp.cache(false);
  const photos = readPhotos();
  const help = helpRuns(HELP_RUNS);
  const fresh = photos.map((photo) => freshRuns(photo, FRESH_RUNS));
  const rounds = await timeRounds(photos);
  const bench: PhotoBench[] = [];
  for (const [i, photo] of photos.entries()) {
    const of = rounds[i]!;
    const msOf = (part: Part) => of.map((round) => round[part]);
    const { width, height } = await sharp(photo.bytes).metadata();
    const ratios = PARTS.filter((part) => part !== 'decode').map((part) => [
      part,
      ratioSpread(msOf(part), msOf('decode')),
    ]);
    bench.push({
      name: photo.name,
      megapixels: (width * height) / 1e6,
      decodeMs: spreadOf(msOf('decode')),
      ratioToDecode: Object.fromEntries(ratios) as PhotoBench['ratioToDecode'],
      ...fresh[i]!,
      accuracy: await accuracyOf(photo),
    });
  }
  printTables(bench, help);
  await writeJson(bench, help);
  const missed = missedLimits(bench, help);
  console.log(missed.length === 0 ? 'All limits are met.' : `Missed: ${missed.join('; ')}.`);
  if (missed.length > 0) process.exitCode = 1;
}

/** Rounds of each photo. All photos take turns within a round. */
async function timeRounds(photos: readonly Photo[]): Promise<readonly (readonly Round[])[]> {
  const time = await loadTimer();
  const rounds = photos.map((): Round[] => []);
  for (let round = -WARM_UP_ROUNDS; round < ROUNDS; round += 1) {
    for (const [i, photo] of photos.entries()) {
      const found = await time(photo, round);
      if (round >= 0) rounds[i]!.push(found);
    }
  }
  return rounds;
}

async function accuracyOf(photo: Photo): Promise<Accuracy> {
  const { proposal, spacingCheck } = await measurePhoto(photo.bytes, readRecord(photo));
  const plain = await plainResult(photo);
  const truth = readTruth(photo);
  return {
    truthHz: truth.nullHz,
    proposed:
      proposal.state === 'proposed'
        ? proposal.frequencyHz.value
        : proposal.state === 'refused'
          ? proposal.reason
          : proposal.state,
    plainHz: plain.ladderHz,
    spacing: {
      truthHz: truth.dampedHz,
      measuredHz: spacingCheck.frequencyHz?.value,
      plainHz: plain.spacingHz,
    },
  };
}

function missedLimits(bench: readonly PhotoBench[], help: HelpRuns): readonly string[] {
  const missed: string[] = [];
  for (const { name, megapixels, ratioToDecode, peakMb } of bench) {
    const whole = ratioToDecode.whole.median;
    if (Math.round(megapixels) === LIMITS.megapixels && whole > LIMITS.whole) {
      missed.push(`${name}: whole ÷ decode ${whole.toFixed(2)}, at most ${LIMITS.whole}`);
    }
    if (peakMb.measure > LIMITS.peakMb) {
      missed.push(`${name}: ${peakMb.measure.toFixed(0)} MB, at most ${LIMITS.peakMb}`);
    }
  }
  if (help.ratioOfMedians > LIMITS.help) {
    missed.push(`help ÷ bare node ${help.ratioOfMedians.toFixed(2)}, at most ${LIMITS.help}`);
  }
  return missed;
}

function printTables(bench: readonly PhotoBench[], help: HelpRuns): void {
  const spread = ({ median, quartiles: [low, high] }: Spread): string =>
    `${median.toFixed(2)} (${low.toFixed(2)}–${high.toFixed(2)})`;
  const hz = (value: number | string | undefined): string =>
    typeof value === 'number' ? value.toFixed(2) : (value ?? '-');
  const names = bench.map(({ name }) => name);

  console.log(`Time ÷ sharp's grey decode of the same photo: median (quartiles) of ${ROUNDS} rounds, warm`);
  printTable([
    ['', ...names],
    ['megapixels', ...bench.map(({ megapixels }) => megapixels.toFixed(1))],
    ...PARTS.filter((part) => part !== 'decode').map((part) => [
      part,
      ...bench.map(({ ratioToDecode }) => spread(ratioToDecode[part])),
    ]),
    ['whole, cold', ...bench.map(({ coldRatio }) => spread(coldRatio))],
  ]);
  console.log('Peak memory of a fresh process, MB');
  printTable([
    ['', ...names],
    ['bare node', ...bench.map(({ peakMb }) => peakMb.bareNode.toFixed(0))],
    ['decode alone', ...bench.map(({ peakMb }) => peakMb.decode.toFixed(0))],
    ['measurement', ...bench.map(({ peakMb }) => peakMb.measure.toFixed(0))],
  ]);
  console.log('Frequency, Hz: of least ringing, and by spacing');
  printTable([
    ['', 'truth', 'proposed', 'plain script', 'truth', 'by spacing', 'plain script'],
    ...bench.map(({ name, accuracy: { truthHz, proposed, plainHz, spacing } }) => [
      name,
      ...[truthHz, proposed, plainHz, spacing.truthHz, spacing.measuredHz, spacing.plainHz].map(hz),
    ]),
  ]);
  const { ratioOfMedians } = help;
  console.log(`stillband --help ÷ node -e 0: ${ratioOfMedians.toFixed(2)}; in pairs ${spread(help)}\n`);
}

function printTable(rows: readonly (readonly string[])[]): void {
  const widths = rows[0]!.map((_, column) => Math.max(...rows.map((row) => row[column]!.length)));
  for (const row of rows) {
    const cells = row.map((cell, i) => (i === 0 ? cell.padEnd(widths[i]!) : cell.padStart(widths[i]!)));
    console.log(`  ${cells.join('  ')}`);
  }
  console.log();
}

async function writeJson(bench: readonly PhotoBench[], help: HelpRuns): Promise<void> {
  const report = {
    about:
      "Times are ratios to sharp's grey decode of the same photo in the same run. Written by npm run bench.",
    versions: {
      stillband: VERSION,
      node: process.versions.node,
      sharp: sharp.versions.sharp,
      libvips: sharp.versions.vips,
    },
    platform: `${process.platform} ${process.arch}`,
    sharpThreads: sharp.concurrency(),
    rounds: { warmUp: WARM_UP_ROUNDS, warm: ROUNDS, fresh: FRESH_RUNS, help: HELP_RUNS },
    limits: LIMITS,
    helpToBareNode: help,
    photos: bench,
  };
  const rounded = JSON.stringify(report, (_, value: unknown) =>
    typeof value === 'number' ? Number(value.toPrecision(4)) : value,
  );
  const style = await resolveConfig(OUTPUT);
  writeFileSync(OUTPUT, await format(rounded, { ...style, parser: 'json' }));
}

await main();
