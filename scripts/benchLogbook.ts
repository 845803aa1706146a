import { execFileSync, spawnSync } from 'node:child_process';
import { createHash, randomFillSync } from 'node:crypto';
import { mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { cpus, tmpdir } from 'node:os';
import { join } from 'node:path';
import { canonicalJson } from '../src/logbook/canonical.js';
import { entryLeaf, type Entry } from '../src/logbook/entry.js';
import { folderOf, lineOf } from '../src/logbook/entryLine.js';
import { HashTree } from '../src/logbook/hashTree.js';
import type { Head } from '../src/logbook/head.js';
import { README } from '../src/logbook/layout.js';
import { listEntries } from '../src/logbook/listEntries.js';
import { verifyLogbook } from '../src/logbook/verifyLogbook.js';
import { corrupt, isNamed, randomOf } from '../test/logbook/corrupt.js';
import { saveSample, tinyPhoto } from '../test/logbook/sampleLogbook.js';
import { proposedReading } from '../test/report/fixtures.js';
import { stopWriters } from './logbook/kills.js';

// Corruptions, clean looks, stopped writers, a full disk, and the time of a large logbook as ratios within one run:
// npm run bench:logbook. Writes docs/logbook.json. The full disk needs the right to mount one.

const LARGE = 10_000;
const SMALL = 1_000;
const PHOTO_BYTES = 150_000;
/** Tuning seeds are those of test/logbook/verify.test.ts. */
const FIRST_SEED = 500_000;

const folder = mkdtempSync(join(tmpdir(), 'stillband-bench-'));
try {
  const figures = {
    machine: `${cpus()[0]?.model ?? 'unknown'}, node ${process.version}`,
    corruptions: await corruptions(200, 300),
    kills: await stopWriters(folder, 200, randomOf(FIRST_SEED)),
    fullDisk: fullDisk(),
    large: large(),
  };
  writeFileSync('docs/logbook.json', `${JSON.stringify(figures, null, 2)}\n`);
  process.stdout.write(`${JSON.stringify(figures, null, 2)}\n`);
} finally {
  rmSync(folder, { recursive: true, force: true });
}

async function corruptions(entries: number, count: number) {
  const logbook = join(folder, 'corrupted');
  let head: Head | undefined;
  for (let number = 1; number <= entries; number += 1) ({ head } = await saveSample(logbook, number));
  const heads = head === undefined ? [] : [head];
  const kinds: Record<string, number> = {};
  const missed: string[] = [];
  let mostNamed = 0;
  for (let seed = FIRST_SEED; seed < FIRST_SEED + count; seed += 1) {
    const done = corrupt(logbook, seed);
    const found = await verifyLogbook(logbook, heads);
    done.undo();
    kinds[done.kind] = (kinds[done.kind] ?? 0) + 1;
    if (!isNamed(done, found)) missed.push(`${seed}: ${done.kind}`);
    mostNamed = Math.max(mostNamed, new Set(found.findings.map(({ entry, file }) => entry ?? file)).size);
  }
  let falseAlarms = 0;
  const looks = 1000;
  for (let look = 0; look < looks; look += 1) {
    if ((await verifyLogbook(logbook, heads)).findings.length > 0) falseAlarms += 1;
  }
  return {
    entries,
    count,
    named: count - missed.length,
    missed,
    mostNamed,
    kinds,
    cleanLooks: looks,
    falseAlarms,
  };
}

/** A disk of 1 MB is filled by saving; then some room is made, and saving goes on. */
function fullDisk() {
  const disk = join(folder, 'disk');
  mkdirSync(disk);
  if (spawnSync('mount', ['-t', 'tmpfs', '-o', 'size=1m', 'tmpfs', disk]).status !== 0)
    return 'no right to mount a disk';
  try {
    const logbook = join(disk, 'log');
    writeFileSync(join(disk, 'other'), Buffer.alloc(300_000));
    const save = () =>
      spawnSync(
        process.execPath,
        ['dist/cli/bin.js', 'logbook', 'note', 'x'.repeat(60_000), '--logbook', logbook],
        { encoding: 'utf8' },
      );
    const codes: (number | null)[] = [];
    let told = '';
    while (codes.filter((code) => code !== 0).length < 3 && codes.length < 40) {
      const { status, stderr } = save();
      codes.push(status);
      if (status !== 0) told = stderr.split('\n')[0] ?? '';
    }
    const saved = codes.filter((code) => code === 0).length;
    const size = listEntries(logbook).length;
    const left = readdirSync(logbook).sort();
    rmSync(join(disk, 'other'));
    const after = save().status;
    return {
      saved,
      size,
      failedWith: codes.find((code) => code !== 0),
      told: told.replaceAll(logbook, 'LOGBOOK'),
      left,
      afterRoom: after,
    };
  } finally {
    execFileSync('umount', [disk]);
  }
}

/** Writes a logbook as `saveReading` does, without waiting for the disk. */
function writeLarge(logbook: string, count: number): void {
  mkdirSync(join(logbook, 'entries'), { recursive: true });
  writeFileSync(join(logbook, 'README.txt'), README);
  const reading = canonicalJson(proposedReading());
  const tree = new HashTree();
  const lines: string[] = [];
  let last: string | undefined;
  const sha256 = (data: string | Uint8Array) => createHash('sha256').update(data).digest('hex');
  const readingHash = sha256(reading);
  const tail = Buffer.alloc(PHOTO_BYTES);
  for (let number = 1; number <= count; number += 1) {
    randomFillSync(tail);
    const photo = Buffer.concat([tinyPhoto(number), tail]);
    const photoHash = sha256(photo);
    const entry: Entry = {
      schema: 'stillband/entry@1',
      number,
      before: { root: tree.root(), ...(last === undefined ? {} : { last }) },
      kind: 'reading',
      savedAt: '2026-03-14T18:02:11Z',
      machine: 'north bench 3',
      axis: 'Y',
      photos: [
        {
          file: `${photoHash}.jpg`,
          bytes: photo.length,
          original: { sha256: photoHash, bytes: photo.length },
          removed: [],
        },
      ],
      reading: { sha256: readingHash, bytes: Buffer.byteLength(reading) },
      result: { state: 'proposed', frequencyHz: { value: 41, sd: 0.2, low95: 40.6, high95: 41.4 } },
    };
    const bytes = Buffer.from(canonicalJson(entry));
    last = entryLeaf(bytes);
    tree.append(Buffer.from(last, 'hex'));
    const place = join(logbook, 'entries', folderOf(entry));
    mkdirSync(place);
    writeFileSync(join(place, 'entry.json'), bytes);
    writeFileSync(join(place, 'reading.json'), reading);
    writeFileSync(join(place, `${photoHash}.jpg`), photo);
    lines.push(`${lineOf(entry, last)}\n`);
  }
  writeFileSync(join(logbook, 'log.jsonl'), lines.join(''));
}

/** A command's time by the processor and its largest memory, by GNU time. */
function timed(command: string, args: readonly string[]) {
  const file = join(folder, 'time');
  const begun = performance.now();
  const { status } = spawnSync('/usr/bin/time', ['-f', '%U %S %M', '-o', file, command, ...args], {
    stdio: 'ignore',
  });
  const wallS = (performance.now() - begun) / 1000;
  if (status !== 0) throw new Error(`${command} ended with ${String(status)}`);
  const [user = 0, system = 0, kilobytes = 0] = readFileSync(file, 'utf8')
    .trim()
    .split('\n')
    .at(-1)!
    .split(' ')
    .map(Number);
  return { cpuS: user + system, wallS, megabytes: kilobytes / 1024 };
}

function large() {
  const [small, big] = [join(folder, 'small'), join(folder, 'big')];
  writeLarge(small, SMALL);
  writeLarge(big, LARGE);
  const cli = (logbook: string, ...args: readonly string[]) =>
    timed(process.execPath, ['dist/cli/bin.js', 'logbook', ...args, '--logbook', logbook]);
  const sums = () =>
    timed('sh', ['-c', `find "$1" -type f -print0 | xargs -0 sha256sum > /dev/null`, 'sh', big]);
  sums(); // The files are in memory from here on, for both alike.
  const runs = [0, 1, 2].map(() => ({ sums: sums(), verify: cli(big, 'verify'), list: cli(big, 'list') }));
  const least = (of: (run: (typeof runs)[number]) => number) => Math.min(...runs.map(of));
  // Beside what every command takes to begin with.
  const start = Math.min(...[0, 1, 2].map(() => cli(small, 'head').cpuS));
  const cpu = process.cpuUsage();
  listEntries(big);
  const used = process.cpuUsage(cpu);
  const listCpuS = (used.user + used.system) / 1e6;
  const verifyS = least(({ verify }) => verify.cpuS);
  const megabytes =
    readdirSync(join(big, 'entries')).length *
    (PHOTO_BYTES / 1e6 +
      statSync(join(big, 'entries', readdirSync(join(big, 'entries'))[0]!, 'reading.json')).size / 1e6);
  return {
    entries: LARGE,
    megabytes: round(megabytes),
    verifyToSha256sum: round(verifyS / least(({ sums: one }) => one.cpuS)),
    verifyToSha256sumByTheClock: round(
      least(({ verify }) => verify.wallS) / least(({ sums: one }) => one.wallS),
    ),
    listToVerify: round(listCpuS / (verifyS - start)),
    listToVerifyAsCommands: round(least(({ list }) => list.cpuS) / verifyS),
    verifyMegabytes: {
      [SMALL]: round(cli(small, 'verify').megabytes),
      [LARGE]: round(least(({ verify }) => verify.megabytes)),
    },
  };
}

function round(value: number): number {
  return Number(value.toPrecision(3));
}
