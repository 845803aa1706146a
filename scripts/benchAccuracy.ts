/**
 * How good stillband is on drawn faces with known truth: DESIGN §10's table, beside the plain script, the
 * least error that is possible and the target.
 *
 *   npm run bench:accuracy -- --faces 400 [--must-refuse 2000] [--fusion 200] [--kind main,flat] [--seed 1]
 *
 * Without `--kind` and `--fusion`: N faces with the record right, N with the record's errors, N (or as many as `--must-refuse` says)
 * with nothing to propose, and the Cramér–Rao row; then docs/accuracy/ is written, as with `--out NAME`. Seeds below 500000 are for tuning, those above for the figures that
 * count. Two processes work at a time for each two cores. All faces are drawn: this says nothing of real prints.
 */
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { format, resolveConfig } from 'prettier';
import { FACE_KINDS, MUST_REFUSE, populationCase, type FaceKind } from '../test/synth/population.js';
import type { CramerRaoJob, CramerRaoSums } from './accuracy/cramerRao.js';
import { FUSIONS, type FusionOutcome } from './accuracy/fusion.js';
import type { FaceOutcome } from './accuracy/measureCase.js';
import { accuracyRows, fusionRows, refusalCounts, worstFaces, type Row } from './accuracy/table.js';
import type { Job } from './accuracy/worker.js';
import { runInWorkers } from './bench/workerPool.js';

const WORKER = fileURLToPath(new URL('accuracy/worker.ts', import.meta.url));
/** Seeds from here on are never looked at while tuning. */
const FIRST_TEST_SEED = 500_000;
const WORST = 10;
const BOUND_RUNS = 5000;
/** Amplitude ÷ noise of a sample, with the target of rms ÷ bound. */
const BOUNDS = [
  { amplitudeToNoise: 20, target: '1.03' },
  { amplitudeToNoise: 5, target: '1.10' },
] as const;

async function main(): Promise<void> {
  const { values } = parseArgs({
    options: {
      faces: { type: 'string', default: '200' },
      'must-refuse': { type: 'string' },
      fusion: { type: 'string' },
      kind: { type: 'string' },
      seed: { type: 'string', default: '1' },
      out: { type: 'string' },
    },
  });
  const count = wholeNumber('faces', values.faces);
  const mustRefuse = wholeNumber('must-refuse', values['must-refuse'] ?? values.faces);
  const seed = wholeNumber('seed', values.seed);
  const kinds = values.kind?.split(',').map(kindOf);
  const fusion = values.fusion === undefined ? 0 : wholeNumber('fusion', values.fusion);
  const whole = kinds === undefined && fusion === 0;
  const jobs: Job[] = [];
  const wanted: readonly (readonly [FaceKind, number])[] =
    fusion > 0
      ? []
      : kinds
        ? kinds.map((kind) => [kind, count])
        : [
            ['main', count],
            ['record', count],
            ...MUST_REFUSE.map((kind) => [kind, Math.ceil(mustRefuse / MUST_REFUSE.length)] as const),
          ];
  for (const [kind, faces] of wanted) {
    for (let i = 0; i < faces; i += 1) jobs.push({ kind, seed: seed + i });
  }
  for (const one of FUSIONS) {
    for (let i = 0; i < fusion; i += 1) jobs.push({ kind: 'fusion', fusion: one, seed: seed + i });
  }
  if (whole) jobs.unshift(...boundJobs(seed));
  const results = await runInWorkers<FaceOutcome | CramerRaoSums | FusionOutcome>(WORKER, jobs, 100);
  const faces = results.filter((result): result is FaceOutcome => 'truth' in result);
  const sums = results.filter((result): result is CramerRaoSums => 'runs' in result);
  const fused = results.filter((result): result is FusionOutcome => 'fusion' in result);
  const rows = [...accuracyRows(faces), ...boundRows(sums), ...fusionRows(fused)];
  console.log(tableText(rows));
  console.log(`\nRefused though a null exists:\n  ${refusalCounts(faces).join('\n  ')}`);
  console.log(`\nWorst ${WORST} proposals:`);
  for (const face of worstFaces(faces, WORST)) console.log(describe(face));
  const name = values.out ?? (whole ? `${seed < FIRST_TEST_SEED ? 'tuning' : 'test'}-seeds` : undefined);
  if (name !== undefined) await writeJson(name, rows, faces, seed);
}

function wholeNumber(name: string, text: string): number {
  const value = Number(text);
  if (!Number.isInteger(value) || value < 1) {
    throw new RangeError(`Expected a whole number of at least 1 for --${name} but received ${text}.`);
  }
  return value;
}

function kindOf(name: string): FaceKind {
  const kind = FACE_KINDS.find((one) => one === name);
  if (kind === undefined) {
    throw new RangeError(`Expected --kind of ${FACE_KINDS.join(', ')} but received ${name}.`);
  }
  return kind;
}

/** In pieces, so that all cores have something to do. */
function boundJobs(seed: number): readonly Job[] {
  const pieces = 10;
  return BOUNDS.flatMap(({ amplitudeToNoise }, i) =>
    Array.from({ length: pieces }, (_, piece): Job => {
      const job: CramerRaoJob = {
        amplitudeToNoise,
        runs: BOUND_RUNS / pieces,
        seed: 100 * seed + 50 * i + piece + 1,
      };
      return { kind: 'bound', job };
    }),
  );
}

function boundRows(sums: readonly CramerRaoSums[]): readonly Row[] {
  return BOUNDS.flatMap(({ amplitudeToNoise, target }) => {
    const of = sums.filter((one) => one.amplitudeToNoise === amplitudeToNoise);
    const runs = of.reduce((sum, one) => sum + one.runs, 0);
    if (runs === 0) return [];
    const ratio = (part: 'frequencySquares' | 'dampingSquares') =>
      Math.sqrt(of.reduce((sum, one) => sum + one[part], 0) / runs).toFixed(3);
    const name = `rms ÷ Cramér–Rao at ${amplitudeToNoise}`;
    return [
      {
        what: `${name}: frequency`,
        ours: `${ratio('frequencySquares')} (${runs} runs)`,
        plain: '1.2–10',
        target,
      },
      { what: `${name}: damping`, ours: ratio('dampingSquares'), plain: '–', target: '–' },
    ];
  });
}

function tableText(rows: readonly Row[]): string {
  const head: Row = { what: 'what', ours: 'ours', plain: 'plain script', limit: 'limit', target: 'target' };
  const keys = ['what', 'ours', 'plain', 'limit', 'target'] as const;
  const cell = (row: Row, key: (typeof keys)[number]) => row[key] ?? '–';
  const width = (key: (typeof keys)[number]) =>
    Math.max(...[head, ...rows].map((row) => cell(row, key).length));
  return [head, ...rows]
    .map((row) => keys.map((key) => cell(row, key).padEnd(width(key))).join('  '))
    .join('\n');
}

function describe(face: FaceOutcome): string {
  const { recipe, told, jpegQuality } = populationCase(face.kind, face.seed);
  const { flaws, texture, picture, lighting, ladder } = recipe;
  const n = (value: number | undefined, digits = 2) => value?.toFixed(digits) ?? '–';
  return [
    `${face.kind} seed ${face.seed}: combined ${n(face.combined?.value)} ± ${n(face.combined?.sd)}, null ${n(face.fromNull?.value)} ± ` +
      `${n(face.fromNull?.sd)}, spacing ${n(face.dampedHz?.value)} ± ${n(face.dampedHz?.sd)}; truth ${n(face.truth.nullHz)} / ${n(face.truth.dampedHz)}; SNR ${n(face.signalToNoise, 1)}`,
    `    ${n(recipe.widthMm, 0)}×${n(recipe.heightMm, 0)} mm, ${n(recipe.pxPerMm, 1)} px/mm, v ${n(recipe.speedMmPerS, 0)}, a ${n(recipe.accelerationMmPerS2, 0)}, vc ${n(recipe.cornerSpeedMmPerS, 1)}, ` +
      `ζ ${n(recipe.dampingRatio, 3)}, ladder ${n(ladder?.fromHz, 0)}–${n(ladder?.toHz, 0)} Ds ${n(ladder?.dampingRatio)}${recipe.wallShaped ? ', wall shaped' : ''}, gain ${n(recipe.gain)} drift ${n(recipe.gainDrift)}`,
    `    lamp ${n(lighting?.lamp.azimuthDeg, 0)}°/${n(lighting?.lamp.elevationDeg, 0)}° at ${n(lighting?.lamp.distanceWidths, 1)}, silk ${n(lighting?.surface.silk)}/${n(lighting?.surface.silkAlong)}, ` +
      `noise ${n(recipe.noise, 3)}, width noise ${n(texture?.widthSlope, 3)} over ${n(texture?.widthMm, 1)}, blur ${n(picture?.blurPx, 1)}, exposure ${n(picture?.exposure)}, ` +
      `pitch ${n(recipe.pitch?.pitchMm)}×${n(recipe.pitch?.amplitude, 3)}, JPEG ${jpegQuality ?? '–'}, flaws ${Object.keys(flaws ?? {}).join(' ')} (${flaws?.stains?.length ?? 0} stains, ${flaws?.scratches?.length ?? 0} scratches)` +
      (Object.keys(told).length > 0 ? `, told ${Object.keys(told).join(' ')}` : ''),
  ].join('\n');
}

async function writeJson(
  name: string,
  rows: readonly Row[],
  faces: readonly FaceOutcome[],
  seed: number,
): Promise<void> {
  const tuning = seed < FIRST_TEST_SEED;
  const file = fileURLToPath(new URL(`../docs/accuracy/${name}.json`, import.meta.url));
  const counts = new Map<FaceKind, number>();
  for (const { kind } of faces) counts.set(kind, (counts.get(kind) ?? 0) + 1);
  const json = {
    about: `Drawn faces with known truth, ${tuning ? 'seeds used for tuning' : 'seeds not used for tuning'}. Written by npm run bench:accuracy.`,
    faces: Object.fromEntries(counts),
    firstSeed: seed,
    rows,
    refused: refusalCounts(faces),
    worst: worstFaces(faces, WORST).map(
      ({ kind, seed: own, truth, signalToNoise, combined, fromNull, dampedHz }) => ({
        kind,
        seed: own,
        truth,
        signalToNoise,
        combined,
        fromNull,
        dampedHz,
      }),
    ),
  };
  const style = await resolveConfig(file);
  writeFileSync(file, await format(JSON.stringify(json), { ...style, filepath: file }));
}

await main();
