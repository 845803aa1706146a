import { isObject, type FieldPath } from './recordProblem.js';

const NUMBER = String.raw`(\d+\.?\d*|\.\d+)`;
const LAYERS = new RegExp(String.raw`^#(\d+)-(\d+):${NUMBER}-${NUMBER}$`);
const HEIGHTS = new RegExp(`^${NUMBER}-${NUMBER}:${NUMBER}-${NUMBER}$`);
const STEP = new RegExp(`^${NUMBER}-${NUMBER}:${NUMBER}$`);
const POINT = new RegExp(`^${NUMBER}:${NUMBER}$`);

/**
 * Reads ladders as a flag gives them, from the bottom up and with commas between: `0.9-31:20-70` climbs from 20 to 70 Hz
 * between two heights, `#4-154:20-70` between two layers; steps `0-5:30/5-10:32` and points `0:18/20:30/31:66` of one ladder
 * have strokes between them.
 * @param text - The flag's argument.
 * @returns The ladders as a print record holds them, not checked; undefined where the text cannot be read.
 */
export function readLadders(text: string): readonly Readonly<Record<string, unknown>>[] | undefined {
  const ladders = text.split(',').map((item) => readOne(item.trim()));
  const read = ladders.filter((one) => one !== undefined);
  return read.length === ladders.length ? read : undefined;
}

function readOne(item: string): Readonly<Record<string, unknown>> | undefined {
  const layers = numbersIn(LAYERS, item);
  if (layers !== undefined) {
    const [firstLayer, lastLayer, fromHz, toHz] = layers;
    return { kind: 'linear', firstLayer, lastLayer, fromHz, toHz };
  }
  const heights = numbersIn(HEIGHTS, item);
  if (heights !== undefined) {
    const [fromMm, toMm, fromHz, toHz] = heights;
    return { kind: 'linear', fromMm, toMm, fromHz, toHz };
  }
  const entries = item.split('/').map((entry) => entry.trim());
  const steps = entries.map((entry) => numbersIn(STEP, entry));
  if (steps.every((one) => one !== undefined)) {
    return { kind: 'stepped', bands: steps.map(([fromMm, toMm, hz]) => ({ fromMm, toMm, hz })) };
  }
  const points = entries.map((entry) => numbersIn(POINT, entry));
  if (points.every((one) => one !== undefined)) {
    return { kind: 'table', points: points.map(([mm, hz]) => ({ mm, hz })) };
  }
  return undefined;
}

function numbersIn(pattern: RegExp, text: string): readonly number[] | undefined {
  return pattern.exec(text)?.slice(1).map(Number);
}

/**
 * Writes ladders as `readLadders` reads them.
 * @param ladders - Of a checked record.
 * @param written - How a number is written.
 * @returns The flag's argument.
 */
export function writeLadders(ladders: readonly unknown[], written: (value: unknown) => string): string {
  return ladders
    .map((ladder) => {
      if (!isObject(ladder)) return written(ladder);
      const { bands, points, firstLayer, lastLayer, fromMm, toMm, fromHz, toHz } = ladder;
      const each = (list: readonly unknown[], fields: FieldPath) =>
        list.map((entry) => (isObject(entry) ? fields.map((field) => written(entry[field])) : []));
      if (Array.isArray(bands)) {
        return each(bands, ['fromMm', 'toMm', 'hz'])
          .map(([from = '', to = '', hz = '']) => `${from}-${to}:${hz}`)
          .join('/');
      }
      if (Array.isArray(points)) {
        return each(points, ['mm', 'hz'])
          .map((entry) => entry.join(':'))
          .join('/');
      }
      const hz = `${written(fromHz)}-${written(toHz)}`;
      return firstLayer === undefined
        ? `${written(fromMm)}-${written(toMm)}:${hz}`
        : `#${written(firstLayer)}-${written(lastLayer)}:${hz}`;
    })
    .join(',');
}
