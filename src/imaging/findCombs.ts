import type { CodeImage, PointPx } from '../core/image.js';
import type { Px } from '../core/units.js';

/** A stretch of a photo where brightness changes to and fro along one direction, as it does along a ruler's marks. */
export interface Comb {
  /** Ends of the line through the middle of the stretch, photo px. */
  readonly from: PointPx;
  readonly to: PointPx;
  /** Half of the width over which it was seen, px. */
  readonly halfWidthPx: Px;
  /** Sum over its cells of the rms change of brightness from px to px, code values: how much it stands out. */
  readonly strength: number;
}

/** Cells along the longer side of the photo: 25 px in a 12-megapixel photo, where a millimetre is 10 to 40 px. */
const CELLS_ALONG = 160;
const LEAST_CELL_PX = 8;
/** Of px in a cell, every so manyth is looked at along both sides; all of them where cells are small. */
const SAMPLES_ALONG_CELL = 8;
/** Coherence of the structure tensor above which a cell counts as striped: 1 is stripes and nothing else. */
const LEAST_COHERENCE = 0.55;
/** Rms change below this is noise, code values of 8 bits (common practice, no source). */
const LEAST_CHANGE = 2;
const ANGLES = 60;
/** A cell votes for directions that are up to this many bins of 3° from its own. */
const ANGLE_REACH = 1;
/** Cells beside a line with which it is compared: beyond the longest marks of a ruler. */
const BESIDE_CELLS = [7, 10] as const;
/** Gap in a stretch, and its least length, in cells. */
const LONGEST_GAP = 3;
const LEAST_RUN = 6;

/**
 * Stretches where brightness changes to and fro along one direction, by the structure tensor of cells and a vote of
 * the cells for lines along their direction of change. Wood, layer lines and text are stretches too: what
 * repeats evenly is for others to tell.
 * @param codes - Grey codes of the whole photo; not modified.
 * @param most - How many stretches to give at most.
 * @returns The stretches, the strongest first.
 * @see Bigün & Granlund, "Optimal orientation detection of linear symmetry", Proc. ICCV 1987; Duda & Hart, "Use of the
 * Hough transformation to detect lines and curves in pictures", Comm. ACM 15, 1972 (both from memory).
 */
export function findCombs(codes: CodeImage, most: number): readonly Comb[] {
  const cells = stripedCells(codes);
  const combs: Comb[] = [];
  const votes = aboveSurroundings(voteForLines(cells));
  while (combs.length < most) {
    const peak = highest(votes.counts);
    if (peak === undefined) break;
    const members = membersOf(cells, votes, peak);
    for (const run of runsOf(members, cells, angleOf(Math.floor(peak / votes.offsets)))) combs.push(run);
    clearAround(votes, peak);
  }
  return combs.sort((one, other) => other.strength - one.strength).slice(0, most);
}

/** Cells of the photo that are striped, as arrays. */
interface Cells {
  readonly sizePx: Px;
  readonly diagonalPx: Px;
  readonly count: number;
  readonly x: Float64Array;
  readonly y: Float64Array;
  /** Direction in which the brightness changes, radians, 0 to π. */
  readonly angle: Float64Array;
  /** Rms change of brightness, code values of 8 bits for each px. */
  readonly change: Float64Array;
}

function stripedCells(codes: CodeImage): Cells {
  const [rows, columns] = codes.shape as [number, number];
  const sizePx = Math.max(LEAST_CELL_PX, Math.round(Math.max(rows, columns) / CELLS_ALONG));
  const down = Math.floor((rows - 2) / sizePx);
  const across = Math.floor((columns - 2) / sizePx);
  const most = Math.max(0, down * across);
  const x = new Float64Array(most);
  const y = new Float64Array(most);
  const angle = new Float64Array(most);
  const change = new Float64Array(most);
  const step = Math.max(1, Math.floor(sizePx / SAMPLES_ALONG_CELL));
  const codeScale = 255 / (2 ** (8 * codes.data.BYTES_PER_ELEMENT) - 1) / 2;
  let count = 0;
  for (let row = 0; row < down; row += 1) {
    for (let column = 0; column < across; column += 1) {
      const tensor = tensorOf(codes, 1 + row * sizePx, 1 + column * sizePx, sizePx, step);
      const energy = tensor.xx + tensor.yy;
      const rms = codeScale * Math.sqrt(energy / tensor.samples);
      if (rms < LEAST_CHANGE) continue;
      const difference = tensor.xx - tensor.yy;
      if (Math.hypot(difference, 2 * tensor.xy) < LEAST_COHERENCE * energy) continue;
      const direction = Math.atan2(2 * tensor.xy, difference) / 2;
      x[count] = 1 + (column + 0.5) * sizePx;
      y[count] = 1 + (row + 0.5) * sizePx;
      angle[count] = direction < 0 ? direction + Math.PI : direction;
      change[count] = rms;
      count += 1;
    }
  }
  return { sizePx, diagonalPx: Math.hypot(rows, columns), count, x, y, angle, change };
}

interface Tensor {
  readonly xx: number;
  readonly xy: number;
  readonly yy: number;
  readonly samples: number;
}

function tensorOf(codes: CodeImage, top: number, left: number, size: number, step: number): Tensor {
  const { data } = codes;
  const [down, right] = codes.stride as [number, number];
  let [xx, xy, yy] = [0, 0, 0];
  let samples = 0;
  // The inner loop goes the way that the photo is stored.
  const [inner, outer] = Math.abs(right) < Math.abs(down) ? [right, down] : [down, right];
  const first = codes.offset + top * down + left * right;
  for (let i = 0; i < size; i += step) {
    let at = first + i * outer;
    for (let j = 0; j < size; j += step) {
      const gx = data[at + right]! - data[at - right]!;
      const gy = data[at + down]! - data[at - down]!;
      xx += gx * gx;
      xy += gx * gy;
      yy += gy * gy;
      samples += 1;
      at += step * inner;
    }
  }
  return { xx, xy, yy, samples };
}

interface Votes {
  readonly counts: Float64Array;
  readonly offsets: number;
}

const angleOf = (bin: number): number => (bin * Math.PI) / ANGLES;

/** Distance of a point from the origin, across a line of this direction, in cells from the lowest possible one. */
function offsetOf(x: number, y: number, angle: number, cells: Cells): number {
  return (y * Math.cos(angle) - x * Math.sin(angle) + cells.diagonalPx) / cells.sizePx;
}

function voteForLines(cells: Cells): Votes {
  const offsets = Math.ceil((2 * cells.diagonalPx) / cells.sizePx) + 2;
  const counts = new Float64Array(ANGLES * offsets);
  for (let i = 0; i < cells.count; i += 1) {
    const own = Math.round((cells.angle[i]! * ANGLES) / Math.PI);
    for (let k = own - ANGLE_REACH; k <= own + ANGLE_REACH; k += 1) {
      const bin = (k + ANGLES) % ANGLES;
      const offset = offsetOf(cells.x[i]!, cells.y[i]!, angleOf(bin), cells);
      // Shared out between two bins, so that a line between them loses nothing.
      const low = Math.floor(offset - 0.5);
      const share = offset - 0.5 - low;
      counts[bin * offsets + low] = counts[bin * offsets + low]! + (1 - share) * cells.change[i]!;
      counts[bin * offsets + low + 1] = counts[bin * offsets + low + 1]! + share * cells.change[i]!;
    }
  }
  return { counts, offsets };
}

/**
 * Votes less those beside them, on the side where there are more: a row of marks stands out there, and layer lines or
 * wood, which fill an area, do not.
 */
function aboveSurroundings({ counts, offsets }: Votes): Votes {
  const above = new Float64Array(counts.length);
  for (let bin = 0; bin < ANGLES; bin += 1) {
    const row = counts.subarray(bin * offsets, (bin + 1) * offsets);
    for (let j = 0; j < offsets; j += 1) {
      const before = meanBetween(row, j - BESIDE_CELLS[1], j - BESIDE_CELLS[0]);
      const after = meanBetween(row, j + BESIDE_CELLS[0], j + BESIDE_CELLS[1]);
      above[bin * offsets + j] = row[j]! - Math.max(before, after);
    }
  }
  return { counts: above, offsets };
}

function meanBetween(row: Float64Array, from: number, to: number): number {
  let sum = 0;
  for (let j = Math.max(0, from); j <= Math.min(row.length - 1, to); j += 1) sum += row[j]!;
  return sum / (to - from + 1);
}

function highest(counts: Float64Array): number | undefined {
  let best = 0;
  for (let i = 1; i < counts.length; i += 1) if (counts[i]! > counts[best]!) best = i;
  return counts[best]! > LEAST_RUN * LEAST_CHANGE ? best : undefined;
}

/** Cells that lie on the line and are striped along it. */
function membersOf(cells: Cells, votes: Votes, peak: number): number[] {
  const angle = angleOf(Math.floor(peak / votes.offsets));
  const offset = (peak % votes.offsets) + 0.5;
  const members: number[] = [];
  const reach = (1.5 * ANGLE_REACH * Math.PI) / ANGLES;
  for (let i = 0; i < cells.count; i += 1) {
    const turn = Math.abs(cells.angle[i]! - angle);
    if (Math.min(turn, Math.PI - turn) > reach) continue;
    if (Math.abs(offsetOf(cells.x[i]!, cells.y[i]!, angle, cells) - offset) <= 1) members.push(i);
  }
  return members;
}

/** Stretches without a large gap, each with the line that its cells lie about. */
function runsOf(members: number[], cells: Cells, angle: number): Comb[] {
  const along = (i: number): number => cells.x[i]! * Math.cos(angle) + cells.y[i]! * Math.sin(angle);
  members.sort((one, other) => along(one) - along(other));
  const runs: Comb[] = [];
  let start = 0;
  for (let i = 1; i <= members.length; i += 1) {
    const goesOn =
      i < members.length && along(members[i]!) - along(members[i - 1]!) <= LONGEST_GAP * cells.sizePx;
    if (goesOn) continue;
    const run = members.slice(start, i);
    start = i;
    if (along(run.at(-1)!) - along(run[0]!) >= LEAST_RUN * cells.sizePx)
      runs.push(combOf(run, cells, along, angle));
  }
  return runs;
}

function combOf(run: readonly number[], cells: Cells, along: (i: number) => number, angle: number): Comb {
  // A line through the cells by least squares, weighed by how much changes in them.
  const across = (i: number): number => cells.y[i]! * Math.cos(angle) - cells.x[i]! * Math.sin(angle);
  let [weight, u, v] = [0, 0, 0];
  for (const i of run) {
    weight += cells.change[i]!;
    u += cells.change[i]! * along(i);
    v += cells.change[i]! * across(i);
  }
  u /= weight;
  v /= weight;
  let [uu, uv] = [0, 0];
  for (const i of run) {
    uu += cells.change[i]! * (along(i) - u) ** 2;
    uv += cells.change[i]! * (along(i) - u) * (across(i) - v);
  }
  const slope = uv / uu;
  const pointAt = (t: number): PointPx => {
    const s = v + slope * (t - u);
    return [t * Math.cos(angle) - s * Math.sin(angle), t * Math.sin(angle) + s * Math.cos(angle)];
  };
  const half = cells.sizePx / 2;
  return {
    from: pointAt(along(run[0]!) - half),
    to: pointAt(along(run.at(-1)!) + half),
    halfWidthPx: half,
    strength: weight,
  };
}

/** Takes a line out of the vote, with those that the same cells voted for. */
function clearAround(votes: Votes, peak: number): void {
  const own = Math.floor(peak / votes.offsets);
  const offset = peak % votes.offsets;
  for (let k = own - ANGLE_REACH; k <= own + ANGLE_REACH; k += 1) {
    const bin = (k + ANGLES) % ANGLES;
    // Past 180° the direction is the same and the offset's sign another: those few stay in.
    for (let j = Math.max(0, offset - 1); j <= Math.min(votes.offsets - 1, offset + 1); j += 1) {
      votes.counts[bin * votes.offsets + j] = 0;
    }
  }
}
