import { median } from '../signal/median.js';
import { BLOCK_PX, type View, type ViewBend, type ViewLine } from './edgeView.js';

/** Fewer blocks than this tell no line. */
const LEAST_BLOCKS = 9;

/** Amplitudes of the first bend that are tried lie this far apart, px; the others are left to the fit. */
const BEND_STEP_PX = 2;
/** So many blocks along the edge are looked at for the rough line. */
const MOST_ROUGH_BLOCKS = 64;

/**
 * The line along which brightness changes most: profiles of blocks of columns, sheared along the line given,
 * differenced, and added up along every line that starts and ends within reach, with each amplitude of the first bend;
 * every second place first, as edges are wider than a px, then those around the best.
 * @param view - The picture along the edge; not modified.
 * @param reachPx - How far from the line given either end may lie, px.
 * @returns The line; undefined where the edge is too short or nothing changes.
 */
export function roughLine(view: View, reachPx: number): ViewLine | undefined {
  const { u0, u1, given } = view;
  const all = Math.floor((u1 - u0 + 1) / BLOCK_PX);
  if (all < LEAST_BLOCKS) return undefined;
  const every = Math.ceil(all / MOST_ROUGH_BLOCKS);
  const blocks = Math.floor((all - 1) / every) + 1;
  const cosine = 1 / Math.hypot(1, given.slope);
  const bend = view.bends[0];
  const bendReach = bend === undefined ? 0 : Math.max(Math.abs(bend.low), Math.abs(bend.high));
  const reach = Math.ceil(reachPx / cosine);
  const margin = Math.ceil(bendReach / cosine);
  const wide = 2 * (reach + margin) + 1;
  const strength = new Float32Array(blocks * wide);
  const peaks = new Float32Array(blocks);
  for (let block = 0; block < blocks; block += 1) {
    const out = strength.subarray(block * wide, (block + 1) * wide);
    peaks[block] = blockGradient(view, block * every, reach + margin, out);
  }
  // No block may outvote others: its say ends at half the median of all peaks.
  const cap = 0.5 * median(peaks);
  if (!(cap > 0)) return undefined;
  for (let i = 0; i < strength.length; i += 1) if (strength[i]! > cap) strength[i] = cap;
  const base = new Int32Array(blocks);
  const bendTo = (amplitude: number) => {
    for (let block = 0; block < blocks; block += 1) {
      const course = bend?.course[block * every * BLOCK_PX + (BLOCK_PX >> 1)] ?? 0;
      base[block] = block * wide + margin + Math.round(amplitude * course);
    }
  };
  const along = (start: number, end: number): number => {
    const step = (end - start) / (blocks - 1);
    let sum = 0;
    let at = start + reach + 0.5;
    for (let block = 0; block < blocks; block += 1) {
      sum += strength[base[block]! + (at | 0)]!;
      at += step;
    }
    // Of equals the one nearest to the line given.
    return sum - 1e-6 * cap * (Math.abs(start) + Math.abs(end));
  };
  let best = -1;
  let [start, end, bent] = [0, 0, 0];
  for (const amplitude of triedAmplitudes(bend)) {
    bendTo(amplitude);
    for (let a = -reach; a <= reach; a += 2) {
      for (let b = -reach; b <= reach; b += 2) {
        const sum = along(a, b);
        if (sum > best) [best, start, end, bent] = [sum, a, b, amplitude];
      }
    }
  }
  bendTo(bent);
  const [aroundStart, aroundEnd] = [start, end];
  for (let a = Math.max(-reach, aroundStart - 1); a <= Math.min(reach, aroundStart + 1); a += 1) {
    for (let b = Math.max(-reach, aroundEnd - 1); b <= Math.min(reach, aroundEnd + 1); b += 1) {
      const sum = along(a, b);
      if (sum > best) [best, start, end] = [sum, a, b];
    }
  }
  const span = (blocks - 1) * every * BLOCK_PX;
  const tilt = (end - start) / span;
  const middleOfFirst = u0 + (BLOCK_PX - 1) / 2;
  return {
    slope: given.slope + tilt,
    v0: given.v0 + start - tilt * middleOfFirst,
    bends: given.bends.map((one, k) => (k === 0 ? bent : one)),
  };
}

function triedAmplitudes(bend: ViewBend | undefined): number[] {
  if (bend === undefined) return [0];
  const count = 1 + Math.ceil((bend.high - bend.low) / BEND_STEP_PX);
  const step = (bend.high - bend.low) / Math.max(1, count - 1);
  // From the amplitude nearest to none on, so that equals bend least.
  return Array.from({ length: count }, (_, i) => bend.low + i * step).sort(
    (a, b) => Math.abs(a) - Math.abs(b),
  );
}

/** |Difference| across at each place of one block's mean profile; returns the largest. */
function blockGradient(view: View, block: number, reach: number, out: Float32Array): number {
  const { data, lut, offset, uStride, vStride, vCount, given } = view;
  const sums = new Float64Array(out.length + 2);
  for (let k = 0; k < BLOCK_PX; k += 1) {
    const u = view.u0 + block * BLOCK_PX + k;
    const first = Math.round(given.v0 + given.slope * u) - reach - 1;
    for (let i = 0; i < sums.length; i += 1) {
      const v = Math.min(vCount - 1, Math.max(0, first + i));
      sums[i] = sums[i]! + lut[data[offset + u * uStride + v * vStride]!]!;
    }
  }
  let peak = 0;
  for (let i = 0; i < out.length; i += 1) {
    const value = Math.abs(sums[i + 2]! - sums[i]!);
    out[i] = value;
    if (value > peak) peak = value;
  }
  return peak;
}
