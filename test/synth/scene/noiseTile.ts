import { fastNormals } from '../random.js';

/** Smooth noise with mean 0 and variance about 1 that repeats; the second index counts halvings of resolution. */
export interface NoiseTile {
  readonly texelMm: number;
  readonly levels: readonly Level[];
}

interface Level {
  readonly size: number;
  readonly values: Float32Array;
}

const SIZE = 512;
const LEVELS = 7;

/**
 * Noise with details of several sizes.
 * @param seed - Which noise.
 * @param texelMm - Size of its finest details.
 * @param octaves - How many sizes, each twice the one before.
 * @param fall - How much stronger each is than the next finer one.
 * @returns The tile.
 */
export function noiseTile(seed: number, texelMm: number, octaves: number, fall: number): NoiseTile {
  const normal = fastNormals(seed);
  const values = new Float32Array(SIZE * SIZE);
  let power = 0;
  for (let octave = 0; octave < octaves; octave += 1) {
    const size = SIZE >> octave;
    const strength = fall ** octave;
    power += strength ** 2;
    const coarse = Float32Array.from({ length: size * size }, () => strength * normal());
    for (let row = 0; row < SIZE; row += 1) {
      for (let column = 0; column < SIZE; column += 1) {
        values[row * SIZE + column]! += at(
          coarse,
          size,
          column >> octave,
          row >> octave,
          column,
          row,
          octave,
        );
      }
    }
  }
  const scale = 1 / Math.sqrt(power);
  for (let i = 0; i < values.length; i += 1) values[i] = values[i]! * scale;
  const levels: Level[] = [{ size: SIZE, values }];
  while (levels.length < LEVELS) levels.push(halved(levels.at(-1)!));
  return { texelMm, levels };
}

/** Bilinear between coarse values, so that no blocks show. */
function at(
  coarse: Float32Array,
  size: number,
  column: number,
  row: number,
  fineColumn: number,
  fineRow: number,
  octave: number,
): number {
  if (octave === 0) return coarse[row * size + column]!;
  const step = 1 << octave;
  const [a, b] = [(fineColumn % step) / step, (fineRow % step) / step];
  const [next, below] = [(column + 1) % size, (row + 1) % size];
  return (
    (1 - b) * ((1 - a) * coarse[row * size + column]! + a * coarse[row * size + next]!) +
    b * ((1 - a) * coarse[below * size + column]! + a * coarse[below * size + next]!)
  );
}

function halved(level: Level): Level {
  const size = level.size / 2;
  const values = new Float32Array(size * size);
  for (let i = 0; i < values.length; i += 1) {
    const from = 2 * Math.floor(i / size) * level.size + 2 * (i % size);
    values[i] =
      (level.values[from]! +
        level.values[from + 1]! +
        level.values[from + level.size]! +
        level.values[from + level.size + 1]!) /
      4;
  }
  return { size, values };
}

/**
 * Noise at a place, of a resolution that a pixel can show.
 * @param tile - The noise.
 * @param u - Place, mm.
 * @param v - Place, mm.
 * @param footprintMm - What a pixel covers there.
 */
export function noiseAt(tile: NoiseTile, u: number, v: number, footprintMm: number): number {
  const wanted = Math.floor(Math.log2(footprintMm / tile.texelMm + 1e-9) + 0.5);
  const level = Math.max(0, Math.min(LEVELS - 1, wanted));
  const { size, values } = tile.levels[level]!;
  const scale = 1 / (tile.texelMm * 2 ** level);
  const x = u * scale;
  const y = v * scale;
  const column = Math.floor(x);
  const row = Math.floor(y);
  const [a, b] = [x - column, y - row];
  const mask = size - 1;
  const [c0, c1] = [column & mask, (column + 1) & mask];
  const [r0, r1] = [(row & mask) * size, ((row + 1) & mask) * size];
  return (
    (1 - b) * ((1 - a) * values[r0 + c0]! + a * values[r0 + c1]!) +
    b * ((1 - a) * values[r1 + c0]! + a * values[r1 + c1]!)
  );
}
