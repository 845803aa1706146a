/**
 * How well the code of a printed marker card is read, and the scale that the card tells, on drawn photographs.
 *
 *   npx tsx scripts/benchCard.ts --photos 100 [--what record] [--seed 1] [--from 400] [--to 900]
 *
 * The card is made as PDF, rendered at 300 dpi by PDFium, and held flush beside a tower whose photograph is drawn; it is
 * between `--from` and `--to` px wide in it. `--what` is `machine`, `record` or `long`. Prints for each stretch of the
 * card's width how many codes were read, and the rms and largest error of its scale. Seeds below 500000 are for tuning.
 */
import { parseArgs } from 'node:util';
import { findMarkerCard } from '../src/face/findMarkerCard.js';
import { readCardCode } from '../src/face/readCardCode.js';
import { linearLut } from '../src/imaging/tone.js';
import { decodeWhole, inspectPhoto } from '../src/photo/decode.js';
import { checkPrintRecord } from '../src/print/record.js';
import { drawCardScene, scaleByCard } from '../test/helpers/drawnCard.js';
import { printCard } from '../test/helpers/renderedCard.js';
import { DEMO_RECORD } from '../test/print/exampleRecords.js';
import { seeded } from '../test/synth/random.js';

/** What is on the cards that are tried: a machine alone, a record, and one whose code is nearly the longest. */
const RECORDS = {
  machine: { machine: 'north bench 3' },
  record: { record: checkPrintRecord(DEMO_RECORD) },
  long: {
    record: checkPrintRecord({
      ...DEMO_RECORD,
      ladder: {
        kind: 'stepped',
        bands: Array.from({ length: 20 }, (_, i) => ({ fromMm: 3 * i, toMm: 3 * i + 3, hz: 20 + 2 * i })),
      },
    }),
  },
} as const;

interface Row {
  readonly what: keyof typeof RECORDS;
  readonly seed: number;
  readonly widthPx: number;
  readonly found: boolean;
  readonly state: string;
  readonly size: number | undefined;
}

async function main(): Promise<void> {
  const { values } = parseArgs({
    options: {
      photos: { type: 'string', default: '100' },
      seed: { type: 'string', default: '1' },
      from: { type: 'string', default: '400' },
      to: { type: 'string', default: '900' },
      what: { type: 'string', default: 'record' },
    },
  });
  const [photos, first, from, to] = [values.photos, values.seed, values.from, values.to].map(Number);
  const what = values.what as keyof typeof RECORDS;
  const print = await printCard(RECORDS[what]);
  const rows: Row[] = [];
  for (let seed = first!; rows.length < photos!; seed += 1) {
    const widthPx = seeded(seed + 77).logEven(from!, to!);
    // The edge of the paper is wider than the card's squares, which are what is measured.
    const drawn = await drawCardScene(seed, print, widthPx);
    if (drawn === undefined) continue;
    const [left, right] = drawn.truth.reference!.outlinePx;
    const seenPx = Math.hypot(left![0] - right![0], left![1] - right![1]);
    if (seenPx < from!) continue;
    const info = await inspectPhoto(drawn.jpeg);
    const codes = await decodeWhole(drawn.jpeg, info);
    const card = findMarkerCard(codes, linearLut(8));
    const code = card && readCardCode(codes, linearLut(8), card);
    rows.push({
      what,
      seed,
      widthPx: seenPx,
      found: card !== undefined,
      state: code?.state ?? 'none',
      size: card && scaleByCard(card, drawn.truth),
    });
    if (rows.at(-1)!.state !== 'read') {
      console.log(
        `seed ${seed}: ${seenPx.toFixed(0)} px, blur ${drawn.truth.blurPx.toFixed(2)} px, card ${card === undefined ? 'not ' : ''}found, code ${rows.at(-1)!.state}`,
      );
    }
  }
  console.log(`${what}, ${rows.length} photographs, seeds from ${first}`);
  for (const [low, high] of [
    [400, 500],
    [500, 700],
    [700, 1000],
    [1000, Infinity],
    [0, Infinity],
  ] as const) {
    const of = rows.filter((row) => row.widthPx >= low && row.widthPx < high);
    if (of.length === 0) continue;
    const errors = of.flatMap(({ size }) => (size === undefined ? [] : [size - 1]));
    const rms = Math.sqrt(errors.reduce((sum, error) => sum + error * error, 0) / errors.length);
    const worst = Math.max(...errors.map(Math.abs));
    const read = of.filter(({ state }) => state === 'read').length;
    console.log(
      `${low} to ${high} px: ${of.length} photos, card found in ${errors.length}, code read in ${read} (${((100 * read) / of.length).toFixed(1)} %), scale off by ${(100 * rms).toFixed(3)} % rms, ${(100 * worst).toFixed(3)} % at most`,
    );
  }
}

await main();
