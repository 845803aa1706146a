import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';

// What `npm run bench:logbook` has found is kept here with its limits, so that a worse file cannot be committed unseen.
const figures = JSON.parse(readFileSync('docs/logbook.json', 'utf8')) as {
  readonly corruptions: {
    readonly entries: number;
    readonly count: number;
    readonly named: number;
    readonly mostNamed: number;
    readonly kinds: object;
    readonly cleanLooks: number;
    readonly falseAlarms: number;
  };
  readonly kills: {
    readonly kills: number;
    readonly whileWriting: number;
    readonly failures: readonly string[];
  };
  readonly fullDisk: {
    readonly saved: number;
    readonly size: number;
    readonly failedWith: number;
    readonly told: string;
    readonly left: readonly string[];
    readonly afterRoom: number;
  };
  readonly large: {
    readonly entries: number;
    readonly verifyToSha256sum: number;
    readonly listToVerify: number;
    readonly listToVerifyAsCommands: number;
    readonly verifyMegabytes: Readonly<Record<string, number>>;
  };
};

test('every one of 300 corruptions of 200 entries was named, and none of 1,000 clean looks raised an alarm', () => {
  const { entries, count, named, mostNamed, kinds, cleanLooks, falseAlarms } = figures.corruptions;
  expect({ entries, count, named, cleanLooks, falseAlarms }).toEqual({
    entries: 200,
    count: 300,
    named: 300,
    cleanLooks: 1000,
    falseAlarms: 0,
  });
  expect(Object.keys(kinds)).toHaveLength(15);
  expect(mostNamed).toBeLessThanOrEqual(3);
});

test('of 200 stopped writers none left a logbook that does not verify', () => {
  const { kills, whileWriting, failures } = figures.kills;
  expect([kills, failures]).toEqual([200, []]);
  expect(whileWriting).toBeGreaterThan(50);
});

test('a full disk lost nothing', () => {
  const { saved, size, failedWith, told, left, afterRoom } = figures.fullDisk;
  expect([size, failedWith, left, afterRoom]).toEqual([saved, 73, ['README.txt', 'entries', 'log.jsonl'], 0]);
  expect(saved).toBeGreaterThan(2);
  expect(told).toMatch(/the disk is full/);
});

test('a large logbook is looked at about as quickly as its files are hashed, and listed in a tenth of that', () => {
  const { entries, verifyToSha256sum, listToVerify, listToVerifyAsCommands, verifyMegabytes } = figures.large;
  expect(entries).toBe(10_000);
  expect(verifyToSha256sum).toBeLessThanOrEqual(1.5);
  expect(listToVerify).toBeLessThanOrEqual(0.1);
  // With the time that a process takes to start.
  expect(listToVerifyAsCommands).toBeLessThanOrEqual(0.1);
  // Memory hardly grows with ten times as many entries.
  expect(verifyMegabytes['10000']! - verifyMegabytes['1000']!).toBeLessThan(40);
});
