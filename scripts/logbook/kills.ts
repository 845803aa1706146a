import { spawn } from 'node:child_process';
import { existsSync, readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseHead, type Head } from '../../src/logbook/head.js';
import { listEntries } from '../../src/logbook/listEntries.js';
import { verifyLogbook } from '../../src/logbook/verifyLogbook.js';
import { proposedReading } from '../../test/report/fixtures.js';
import { tinyPhoto } from '../../test/logbook/sampleLogbook.js';

const WORKER = fileURLToPath(new URL('saveLoop.mjs', import.meta.url));

/** What came of stopping writers. */
export interface KillCount {
  readonly kills: number;
  /** How often a writer had left a lock behind: it was stopped while it wrote. */
  readonly whileWriting: number;
  /** How many entries had been written in all. */
  readonly entries: number;
  /** What went wrong, in words; empty when nothing did. */
  readonly failures: readonly string[];
}

/**
 * Starts a writer that saves without end, stops it by SIGKILL at a random moment, looks whether the logbook is whole, and
 * begins again on the same logbook. Needs `npm run build`.
 * @param folder - Where to put the logbook.
 * @param kills - How often.
 * @param random - Numbers 0 to 1.
 * @returns Counts and failures.
 */
export async function stopWriters(folder: string, kills: number, random: () => number): Promise<KillCount> {
  const logbook = join(folder, 'killed');
  const sample = join(folder, 'sample.json');
  writeFileSync(
    sample,
    JSON.stringify({ reading: proposedReading(), photo: tinyPhoto(1).toString('base64') }),
  );
  const failures: string[] = [];
  let whileWriting = 0;
  let known: Head | undefined;
  for (let kill = 1; kill <= kills; kill += 1) {
    const printed = (await stopOne(logbook, sample, 80 * random())).at(-1);
    if (printed !== undefined) known = printed;
    if (!existsSync(logbook)) continue;
    if (existsSync(join(logbook, '.lock'))) whileWriting += 1;
    const fail = (what: string): void => void failures.push(`kill ${kill}: ${what}`);
    const entries = readdirSync(logbook).includes('log.jsonl') ? listEntries(logbook).length : 0;
    const least = known?.size ?? 0;
    // The entry that was being written may be there or not; all that was told to be saved must be.
    if (entries < least || (printed !== undefined && entries > least + 1)) {
      fail(`${entries} entries, ${least} were told to be saved`);
    }
    const { findings, verdicts } = await verifyLogbook(logbook, known === undefined ? [] : [known]);
    if (findings.length > 0) fail(JSON.stringify(findings.slice(0, 3)));
    if (known !== undefined && verdicts.log !== 'intact') fail(`the log is ${verdicts.log}`);
  }
  return { kills, whileWriting, entries: known?.size ?? 0, failures };
}

/**
 * Lets two writers save into one logbook at the same time, and stops both.
 * @param folder - Where to put the logbook.
 * @returns The sizes that each was told, and what a look at the logbook finds, against all heads that were told.
 */
export async function stopTwo(folder: string) {
  const logbook = join(folder, 'shared');
  const sample = writeSample(folder);
  const told = await Promise.all([stopOne(logbook, sample, 700), stopOne(logbook, sample, 700)]);
  return {
    sizes: told.map((heads) => heads.map(({ size }) => size)),
    verification: await verifyLogbook(logbook, told.flat()),
  };
}

function writeSample(folder: string): string {
  const sample = join(folder, 'sample.json');
  writeFileSync(
    sample,
    JSON.stringify({ reading: proposedReading(), photo: tinyPhoto(1).toString('base64') }),
  );
  return sample;
}

/** The heads that the writer told before it was stopped. */
function stopOne(logbook: string, sample: string, afterMs: number): Promise<readonly Head[]> {
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [WORKER, logbook, sample], {
      stdio: ['ignore', 'pipe', 'inherit'],
    });
    let told = '';
    let isUnderWay = false;
    child.stdout.setEncoding('utf8').on('data', (text: string) => {
      told += text;
      if (isUnderWay) return;
      isUnderWay = true;
      setTimeout(() => child.kill('SIGKILL'), afterMs);
    });
    child.on('error', reject);
    child.on('close', (code) => {
      if (code !== null) reject(new Error(`the writer ended by itself, with ${code}`));
      // A line that was cut tells nothing.
      const lines = told.split('\n').slice(0, -1);
      resolve(lines.map((line) => parseHead(line.split(' ')[1] ?? '')));
    });
  });
}
