import type { Mm, MmPerS } from '../core/units.js';
import { micrometres } from './micrometres.js';
import type { Run } from './runs.js';

/** A slot in a side, as the nozzle's middle goes around it. */
export interface PathSlot {
  /** Its middle, from the end of the side that is printed first. */
  readonly centreFromLeadingMm: Mm;
  /** From path to path: a line's width more than the slot itself. */
  readonly pathWidthMm: Mm;
}

/** A stretch of height over which a side is printed at one speed. */
export interface SpeedBand {
  readonly fromMm: Mm;
  readonly toMm: Mm;
  /** 0 where the job tells none. */
  readonly speedMmPerS: MmPerS;
}

/** Where the layers of a side start. */
export type SeamPlace = 'other-face' | 'this-face' | 'leading-corner' | 'none';

/** One flat side of what is printed, seen from outside. */
export interface JobSide {
  /** Where it looks to: degrees from X, counterclockwise seen from above. */
  readonly facingDeg: number;
  /** Length of the nozzle's way along it, most often: a line's width less than the printed side. */
  readonly pathLengthMm: Mm;
  /** Share of its layers that have this length. */
  readonly sameLengthShare: number;
  /** Heights of its layers, above the bed. */
  readonly fromMm: Mm;
  readonly toMm: Mm;
  /** The corner that is printed first, seen from outside; of alternating layers that of most. */
  readonly leadingCorner: 'left' | 'right';
  /** Whether all layers go the same way along it. */
  readonly direction: 'same' | 'alternates';
  /** By how much the nozzle turns at the leading corner, degrees; undefined where layers begin there. */
  readonly cornerDeg: number | undefined;
  readonly seam: SeamPlace;
  readonly slots: readonly PathSlot[];
  /** From the bottom up; neighbours differ. */
  readonly speeds: readonly SpeedBand[];
}

/** Shorter runs are no part of a test tower's face, mm. */
const SHORTEST_RUN_MM: Mm = 2;
/** Runs this far in from the outermost are still of the side: rounding, and a spiral's lean. */
const SAME_SIDE_MM: Mm = 0.05;
/** 1°: how far a run may lean against its side. */
const LARGEST_LEAN = Math.sin(Math.PI / 180);
/** A run that ends so near a side's end begins or ends at its corner: more than a seam's gap, less than a wall. */
const AT_CORNER_MM: Mm = 1.5;
/** A gap is more than what rounding leaves between two runs. */
const LEAST_GAP_MM: Mm = 0.2;
/** Layers of a length are counted for so many lengths: a tower has few, a hostile file many. */
const MOST_LENGTHS = 512;
/** Speeds of a side that differ by less are one. */
const SAME_SPEED = 0.005;
/** A side's speed may change so often; beyond, what follows is told as one band of the last speed's. */
const MOST_BANDS = 5000;
/** A side is told where it has this share of the layers. */
const LEAST_LAYERS = 0.5;

/** One run on a side of the open layer, by the coordinate along the side to the right as seen from outside. */
interface SideRun {
  readonly from: Mm;
  readonly to: Mm;
  readonly run: Readonly<Run>;
}

interface Counted {
  count: number;
  readonly lowMm: Mm;
  readonly highMm: Mm;
}

/** What is known of one side over all layers. */
class Side {
  readonly #normalX: number;
  readonly #normalY: number;
  readonly #facingDeg: number;
  #open: SideRun[] = [];
  #outermost = -Infinity;
  readonly #lengths = new Map<string, Counted>();
  readonly #slots = new Map<string, { count: number; readonly slots: readonly PathSlot[] }>();
  readonly #corners = new Map<number, number>();
  readonly #seams = new Map<SeamPlace, number>();
  readonly #speeds: { fromMm: Mm; toMm: Mm; speedMmPerS: MmPerS }[] = [];
  #layers = 0;
  #rightwards = 0;
  #fromMm = Infinity;
  #toMm = -Infinity;

  constructor(facingDeg: number) {
    this.#facingDeg = facingDeg;
    this.#normalX = Math.cos((facingDeg * Math.PI) / 180);
    this.#normalY = Math.sin((facingDeg * Math.PI) / 180);
  }

  add(run: Readonly<Run>): void {
    if (Math.abs(run.directionX * this.#normalX + run.directionY * this.#normalY) > LARGEST_LEAN) return;
    const out =
      ((run.fromXMm + run.toXMm) / 2) * this.#normalX + ((run.fromYMm + run.toYMm) / 2) * this.#normalY;
    if (out > this.#outermost + SAME_SIDE_MM) this.#open = [];
    else if (out < this.#outermost - SAME_SIDE_MM) return;
    this.#outermost = Math.max(out, this.#outermost);
    this.#open.push({
      from: this.#along(run.fromXMm, run.fromYMm),
      to: this.#along(run.toXMm, run.toYMm),
      run: { ...run },
    });
  }

  /** Ends a layer: what was added since the last one is this side of it. */
  endLayer(bottomMm: Mm, topMm: Mm): void {
    const runs = this.#open;
    this.#open = [];
    this.#outermost = -Infinity;
    if (runs.length === 0) return;
    const lowMm = Math.min(...runs.map(({ from, to }) => Math.min(from, to)));
    const highMm = Math.max(...runs.map(({ from, to }) => Math.max(from, to)));
    const rightMm = runs.reduce((sum, { from, to }) => sum + to - from, 0);
    const right = rightMm > 0;
    this.#layers += 1;
    this.#rightwards += right ? 1 : 0;
    this.#fromMm = Math.min(this.#fromMm, bottomMm);
    this.#toMm = Math.max(this.#toMm, topMm);
    const length = `${lowMm.toFixed(2)} ${highMm.toFixed(2)}`;
    const known = this.#lengths.get(length);
    if (known !== undefined) known.count += 1;
    else if (this.#lengths.size < MOST_LENGTHS) this.#lengths.set(length, { count: 1, lowMm, highMm });
    const leadMm = right ? lowMm : highMm;
    const leading = runs.find(({ from }) => Math.abs(from - leadMm) < AT_CORNER_MM);
    const turn = leading?.run.turnIn;
    if (turn !== undefined) {
      const degrees = Math.round(Math.abs((turn * 180) / Math.PI));
      this.#corners.set(degrees, (this.#corners.get(degrees) ?? 0) + 1);
    }
    this.#count(this.#seams, seamOf(runs, leading));
    const slots = slotsOf(runs, leadMm);
    const slotKey = slots
      .map(
        ({ centreFromLeadingMm, pathWidthMm }) =>
          `${centreFromLeadingMm.toFixed(2)} ${pathWidthMm.toFixed(2)}`,
      )
      .join();
    const seen = this.#slots.get(slotKey);
    if (seen !== undefined) seen.count += 1;
    else if (this.#slots.size < MOST_LENGTHS) this.#slots.set(slotKey, { count: 1, slots });
    this.#addSpeed(bottomMm, topMm, longestOf(runs).run.speedMmPerS);
  }

  result(layers: number): JobSide | undefined {
    const [most] = [...this.#lengths.values()].sort((a, b) => b.count - a.count);
    if (most === undefined || this.#layers < LEAST_LAYERS * layers) return undefined;
    const right = this.#rightwards >= this.#layers / 2;
    const straying = Math.min(this.#rightwards, this.#layers - this.#rightwards);
    const [slots] = [...this.#slots.values()].sort((a, b) => b.count - a.count);
    return {
      facingDeg: this.#facingDeg,
      pathLengthMm: micrometres(most.highMm - most.lowMm),
      sameLengthShare: most.count / this.#layers,
      fromMm: micrometres(this.#fromMm),
      toMm: micrometres(this.#toMm),
      leadingCorner: right ? 'left' : 'right',
      // A foot or a last layer that goes the other way is no alternation.
      direction: straying > 0.25 * this.#layers ? 'alternates' : 'same',
      cornerDeg: mostOf(this.#corners),
      seam: mostOf(this.#seams) ?? 'none',
      slots: slots?.slots ?? [],
      speeds: this.#speeds.map(({ fromMm, toMm, speedMmPerS }) => ({
        fromMm: micrometres(fromMm),
        toMm: micrometres(toMm),
        speedMmPerS: micrometres(speedMmPerS),
      })),
    };
  }

  #along(xMm: Mm, yMm: Mm): Mm {
    // Seen from outside, right is the normal turned by 90° counterclockwise.
    return yMm * this.#normalX - xMm * this.#normalY;
  }

  #count<T>(counts: Map<T, number>, value: T): void {
    counts.set(value, (counts.get(value) ?? 0) + 1);
  }

  #addSpeed(fromMm: Mm, toMm: Mm, speedMmPerS: MmPerS): void {
    const last = this.#speeds.at(-1);
    const same =
      last !== undefined &&
      Math.abs(last.speedMmPerS - speedMmPerS) <= SAME_SPEED * Math.max(last.speedMmPerS, speedMmPerS);
    if (last !== undefined && (same || this.#speeds.length >= MOST_BANDS)) last.toMm = toMm;
    else this.#speeds.push({ fromMm, toMm, speedMmPerS });
  }
}

/** Finds the four outermost sides of what is printed, layer by layer. */
export class Sides {
  readonly #turnedDeg: number;
  #sides: readonly Side[] = [];

  /**
   * @param turnedDeg - By how much the tower stands turned on the bed, degrees counterclockwise seen from above: one of
   * its sides looks there.
   */
  constructor(turnedDeg: number) {
    this.#turnedDeg = turnedDeg;
    this.restart();
  }

  /** Forgets all layers. */
  restart(): void {
    this.#sides = [0, 90, 180, 270].map((quarter) => new Side((this.#turnedDeg + quarter) % 360));
  }

  /**
   * Takes a run of the open layer.
   * @param run - The run; copied where it is kept.
   */
  add(run: Readonly<Run>): void {
    if (run.lengthMm < SHORTEST_RUN_MM) return;
    for (const side of this.#sides) side.add(run);
  }

  /**
   * Ends a layer.
   * @param bottomMm - Its lower end above the bed.
   * @param topMm - Its upper end.
   */
  endLayer(bottomMm: Mm, topMm: Mm): void {
    for (const side of this.#sides) side.endLayer(bottomMm, topMm);
  }

  /**
   * What the sides are.
   * @param layers - How many layers there are.
   * @returns Those that most layers have, by the angle to which they look.
   */
  result(layers: number): readonly JobSide[] {
    return this.#sides.flatMap((side) => side.result(layers) ?? []).sort((a, b) => a.facingDeg - b.facingDeg);
  }
}

function longestOf(runs: readonly SideRun[]): SideRun {
  return runs.reduce((longest, one) => (one.run.lengthMm > longest.run.lengthMm ? one : longest));
}

function seamOf(runs: readonly SideRun[], leading: SideRun | undefined): SeamPlace {
  if (leading !== undefined && leading.run.turnIn === undefined) return 'leading-corner';
  return runs.some(({ run }) => run.turnIn === undefined) ? 'this-face' : 'other-face';
}

/** Gaps that the path leaves and comes back from by turning: where it travels, a seam lies between. */
function slotsOf(runs: readonly SideRun[], leadMm: Mm): readonly PathSlot[] {
  if (runs.length < 2) return [];
  const sorted = [...runs].sort((a, b) => Math.min(a.from, a.to) - Math.min(b.from, b.to));
  const slots: PathSlot[] = [];
  let reach = sorted[0] === undefined ? 0 : Math.max(sorted[0].from, sorted[0].to);
  let before = sorted[0]?.run;
  for (const { from, to, run } of sorted.slice(1)) {
    const low = Math.min(from, to);
    const turns = before?.turnOut !== undefined || run.turnOut !== undefined;
    if (low - reach > LEAST_GAP_MM && turns) {
      slots.push({
        centreFromLeadingMm: micrometres(Math.abs((low + reach) / 2 - leadMm)),
        pathWidthMm: micrometres(low - reach),
      });
    }
    if (Math.max(from, to) > reach) before = run;
    reach = Math.max(reach, from, to);
  }
  return slots.sort((a, b) => a.centreFromLeadingMm - b.centreFromLeadingMm);
}

function mostOf<T>(counts: ReadonlyMap<T, number>): T | undefined {
  return [...counts].reduce<readonly [T, number] | undefined>(
    (most, one) => (most === undefined || one[1] > most[1] ? one : most),
    undefined,
  )?.[0];
}
