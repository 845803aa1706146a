import { EXPECTED, SCENE_KINDS, type Expected, type SceneKind } from '../../test/synth/scene/kinds.js';
import type { SceneOutcome } from './searchScene.js';

/** What became of the scenes of one kind. */
export interface FindingRow {
  readonly kind: SceneKind | 'all';
  readonly expected?: Expected;
  readonly scenes: number;
  readonly right: number;
  /** The told face, but a corner is off. */
  readonly inexact: number;
  /** Of both, faces whose corners are off by more than three times what they were said to be unsure by, rms. */
  readonly tooSure: number;
  /** Refusals by what the finder called them. */
  readonly refused: Readonly<Record<string, number>>;
  readonly wrong: number;
  /** Scenes in which a reference that the record names was not found. */
  readonly withoutReference: number;
  /** Of faces that were found right, px at 12 megapixels: rms over all corners, and of the standard uncertainties. */
  readonly cornerRmsPx?: number;
  readonly claimedRmsPx?: number;
  readonly timeToDecode: Times;
}

/** Search ÷ decode: median and ninth tenth. */
export interface Times {
  readonly median: number;
  readonly tenth: number;
}

/**
 * Time of the search where a face was found and where none was: a refusal may be no slower.
 * @param outcomes - What became of the scenes.
 */
export function timesToDecode(outcomes: readonly SceneOutcome[]): {
  readonly found?: Times;
  readonly refused?: Times;
} {
  const found = outcomes.filter((one) => one.verdict !== 'refused');
  const refused = outcomes.filter((one) => one.verdict === 'refused');
  return {
    ...(found.length === 0 ? {} : { found: timesOf(found) }),
    ...(refused.length === 0 ? {} : { refused: timesOf(refused) }),
  };
}

function timesOf(outcomes: readonly SceneOutcome[]): Times {
  const ratios = outcomes.map((one) => one.timeToDecode).sort((a, b) => a - b);
  const at = (share: number) => ratios[Math.min(ratios.length - 1, Math.floor(share * ratios.length))]!;
  return { median: at(0.5), tenth: at(0.9) };
}

/** Corners off by so many standard uncertainties were said to be surer than they are. */
const TOO_SURE = 3;

/**
 * One row for each kind, and one for all.
 * @param outcomes - What became of the scenes.
 */
export function findingRows(outcomes: readonly SceneOutcome[]): readonly FindingRow[] {
  const rows = SCENE_KINDS.flatMap((kind): FindingRow[] => {
    const of = outcomes.filter((one) => one.kind === kind);
    return of.length === 0 ? [] : [{ ...rowOf(kind, of), expected: EXPECTED[kind] }];
  });
  return [...rows, rowOf('all', outcomes)];
}

function rowOf(kind: FindingRow['kind'], of: readonly SceneOutcome[]): FindingRow {
  const right = of.filter((one) => one.verdict === 'right');
  const refused: Record<string, number> = {};
  for (const one of of) {
    if (one.verdict === 'refused') refused[one.state] = (refused[one.state] ?? 0) + 1;
  }
  const rms = (values: readonly number[]) =>
    Math.sqrt(values.reduce((sum, value) => sum + value * value, 0) / values.length);
  return {
    kind,
    scenes: of.length,
    right: right.length,
    inexact: of.filter((one) => one.verdict === 'inexact').length,
    tooSure: of.filter(isTooSure).length,
    refused,
    wrong: of.filter((one) => one.verdict === 'wrong').length,
    withoutReference: of.filter((one) => one.missing > 0).length,
    ...(right.length === 0
      ? {}
      : {
          cornerRmsPx: rms(right.flatMap((one) => one.corners?.rmsPx ?? [])),
          claimedRmsPx: Math.SQRT2 * rms(right.flatMap((one) => one.cornerSdPx ?? [])),
        }),
    timeToDecode: timesOf(of),
  };
}

/** Both coordinates of a corner are uncertain. */
function isTooSure({ verdict, corners, cornerSdPx }: SceneOutcome): boolean {
  const isFound = verdict === 'right' || verdict === 'inexact';
  return isFound && (corners?.rmsPx ?? 0) > TOO_SURE * Math.SQRT2 * (cornerSdPx ?? Infinity);
}

/**
 * The rows as text.
 * @param rows - Rows.
 */
export function findingText(rows: readonly FindingRow[]): string {
  const head = [
    'kind',
    'may',
    'scenes',
    'right',
    'inexact',
    'too sure',
    'refused',
    'wrong',
    'no reference',
    'corner rms px',
    'claimed',
    '÷ decode',
  ];
  const lines = rows.map((row) => [
    row.kind,
    row.expected ?? '',
    String(row.scenes),
    String(row.right),
    String(row.inexact),
    String(row.tooSure),
    Object.entries(row.refused)
      .map(([state, count]) => `${count} ${state}`)
      .join(', ') || '0',
    String(row.wrong),
    String(row.withoutReference),
    row.cornerRmsPx?.toFixed(2) ?? '–',
    row.claimedRmsPx?.toFixed(2) ?? '–',
    timesText(row.timeToDecode),
  ]);
  const widths = head.map((title, i) =>
    Math.max(...[head, ...lines].map((line) => line[i]!.length), title.length),
  );
  return [head, ...lines].map((line) => line.map((cell, i) => cell.padEnd(widths[i]!)).join('  ')).join('\n');
}

/**
 * Median and ninth tenth as text.
 * @param times - Times.
 */
export function timesText({ median, tenth }: Times): string {
  return `${median.toFixed(2)} (${tenth.toFixed(2)})`;
}
