import { InputError } from '../core/errors.js';
import type { Hz, Mm, Seconds } from '../core/units.js';
import type { PrintRecord } from '../print/record.js';
import { median } from '../signal/median.js';
import { frequencyLine, type FrequencyLine } from './frequencyLine.js';
import { Layers, SAME_HEIGHT_MM, type PrintedLayer } from './layers.js';
import { micrometres } from './micrometres.js';
import { PrintedMoves, type ExtruderWay } from './printedMoves.js';
import { PrintTime, type MachineMotion } from './printTime.js';
import { readLadder, type LayerFrequency } from './readLadder.js';
import { readLines, type Chunks, type Motion } from './readLines.js';
import { Runs } from './runs.js';
import { Sides, type JobSide } from './sides.js';

/** What is told beside the job file. */
export interface JobOptions {
  /** By how much the tower stands turned on the bed, degrees counterclockwise. @default 0 */
  readonly turnedDeg?: number;
  /** The user's pattern for the line that sets the shaper's frequency. */
  readonly frequencyLine?: string;
  /** The axis whose frequency counts, where the pattern tells axes. */
  readonly axis?: string;
  /** Acceleration and corner speed, for the time. */
  readonly machine?: MachineMotion;
}

/** The layers of a job. */
export interface JobLayers {
  readonly count: number;
  /** Of most layers above the first. */
  readonly heightMm: Mm;
  readonly firstHeightMm: Mm;
  /** Whether all layers above the first are of one height, to 0.005 mm. */
  readonly even: boolean;
  /** Upper end of the last one above the bed. */
  readonly topMm: Mm;
  /** The wall climbs all the time. */
  readonly spiral: boolean;
}

/** The frequencies that a job sets. */
export interface JobFrequencies {
  /** Lines that the pattern found. */
  readonly lines: number;
  /** Those of them that name another axis. */
  readonly otherAxis: number;
  /** Those that stand where a layer is being printed already. */
  readonly withinLayers: number;
  readonly layers: readonly LayerFrequency[];
  /** The ladder that they make; undefined where none is for this axis. */
  readonly ladder: PrintRecord['ladder'] | undefined;
}

/** What a job file commands. */
export interface JobFile {
  readonly bytes: number;
  readonly lines: number;
  /** Lengths are told in inches somewhere, and were converted. */
  readonly inches: boolean;
  readonly numbered: boolean;
  readonly extruder: ExtruderWay;
  readonly layers: JobLayers;
  /** The flat outer sides, seen from outside. */
  readonly sides: readonly JobSide[];
  readonly time: { readonly leastS: Seconds; readonly rampedS: Seconds | undefined };
  readonly frequencies?: JobFrequencies;
}

/** More lines than a print has layers set no ladder; bounds what a hostile file costs. */
const MOST_FREQUENCIES = 200_000;
/** Before any layer. */
const NO_LAYER = -1;
/** Of all layers, those that climb, in a spiral: the foot is printed in layers. */
const SPIRAL_SHARE = 0.5;

/**
 * Reads what a job file commands of a test tower: layers, sides with their speeds and corners, time, and the ladder.
 * The file is read once, line by line.
 * @param chunks - The file's bytes.
 * @param options - What is told beside it.
 * @returns What is in it, as plain data.
 * @throws {InputError} `file-empty`, `job-not-text`, `job-line`, `job-unsupported`, `job-unclear`, `job-no-layers` or
 * `pattern-invalid`.
 */
export async function readJob(chunks: Chunks, options: JobOptions = {}): Promise<JobFile> {
  const pattern = options.frequencyLine === undefined ? undefined : frequencyLine(options.frequencyLine);
  const survey = new Survey(options);
  const moves = new PrintedMoves((motion, prints) => {
    survey.move(motion, prints);
  });
  const decoder = new TextDecoder('latin1');
  const read = await readLines(chunks, {
    onMove: (motion) => {
      moves.move(motion);
    },
    onExtruderSet: (position) => {
      moves.set(position);
    },
    ...(pattern === undefined
      ? {}
      : {
          onOther: (bytes: Uint8Array) => {
            survey.otherLine(pattern, decoder.decode(bytes), moves);
          },
        }),
  });
  const extruder = moves.end();
  const { bytes, lines, inches, numbered, tellsHeight } = read;
  return { bytes, lines, inches, numbered, extruder, ...survey.end(tellsHeight) };
}

class Survey {
  readonly #axis: string | undefined;
  readonly #time: PrintTime;
  readonly #sides: Sides;
  readonly #layers: Layers;
  readonly #runs: Runs;
  readonly #withPattern: boolean;
  #sets: { layer: number; heightMm: Mm; hz: Hz; decimals: number }[] = [];
  #pending: { hz: Hz; decimals: number; layer: number } | undefined;
  #matched = 0;
  #otherAxis = 0;
  #within = 0;

  constructor({ turnedDeg = 0, axis, machine, frequencyLine: pattern }: JobOptions) {
    this.#axis = axis?.toLowerCase();
    this.#withPattern = pattern !== undefined;
    this.#time = new PrintTime(machine);
    this.#sides = new Sides(turnedDeg);
    this.#runs = new Runs((run) => {
      this.#sides.add(run);
    });
    this.#layers = new Layers(
      ({ topMm }, bottomMm) => {
        this.#sides.endLayer(bottomMm, topMm);
      },
      () => {
        this.#sides.restart();
        // What was set before the tower begins holds for its first layer.
        const last = this.#sets.at(-1);
        this.#sets = [];
        if (last !== undefined) this.#pending ??= { ...last, layer: NO_LAYER };
      },
    );
  }

  move(motion: Readonly<Motion>, prints: boolean): void {
    this.#time.add(motion);
    if (!prints) {
      const travels =
        motion.toXMm !== motion.fromXMm || motion.toYMm !== motion.fromYMm || motion.toZMm !== motion.fromZMm;
      if (travels) this.#runs.end();
      return;
    }
    // Only a wall that climbs is divided by its turns.
    const turn = motion.toZMm > motion.fromZMm ? this.#runs.turnInto(motion) : 0;
    this.#runs.print(motion);
    this.#layers.print(motion, turn);
    const pending = this.#pending;
    if (pending === undefined) return;
    this.#pending = undefined;
    const layer = this.#layers.index;
    if (layer === pending.layer) this.#within += 1;
    const heightMm = (motion.fromZMm + motion.toZMm) / 2;
    this.#sets.push({ layer, heightMm, hz: pending.hz, decimals: pending.decimals });
    if (this.#sets.length > MOST_FREQUENCIES) {
      throw new InputError(
        'job-unclear',
        `The frequency is set more than ${String(MOST_FREQUENCIES)} times between printing moves.`,
        'Give a pattern that finds only the lines that set the frequency.',
      );
    }
  }

  otherLine(pattern: FrequencyLine, text: string, moves: PrintedMoves): void {
    const set = pattern(text);
    if (set === undefined) return;
    this.#matched += 1;
    if (set.axis !== undefined && this.#axis !== undefined && set.axis.toLowerCase() !== this.#axis) {
      this.#otherAxis += 1;
      return;
    }
    // Moves before it may still be waiting for what the extruder's numbers mean.
    moves.inOrder(() => {
      this.#pending = { hz: set.hz, decimals: set.decimals, layer: this.#layers.index };
    });
  }

  end(tellsHeight: boolean): Pick<JobFile, 'layers' | 'sides' | 'time' | 'frequencies'> {
    this.#runs.end();
    const printed = this.#layers.end();
    if (printed.length === 0 || !tellsHeight) throw noLayers(printed.length > 0);
    const layers = layersOf(printed);
    return {
      layers,
      sides: this.#sides.result(printed.length),
      time: this.#time.end(),
      ...(this.#withPattern ? { frequencies: this.#frequencies(layers) } : {}),
    };
  }

  #frequencies(layers: JobLayers): JobFrequencies {
    const byLayer = new Map<number, LayerFrequency>();
    for (const { layer, heightMm, hz, decimals } of this.#sets) {
      const at = layers.spiral
        ? layerOfBead(heightMm, layers.heightMm, layers.firstHeightMm)
        : Math.min(layer, layers.count - 1);
      // The last one of a layer holds for most of it, or began it.
      byLayer.set(at, { layer: at, hz, decimals });
    }
    const sets = [...byLayer.values()].sort((a, b) => a.layer - b.layer);
    return {
      lines: this.#matched,
      otherAxis: this.#otherAxis,
      withinLayers: layers.spiral ? 0 : this.#within,
      layers: sets,
      ladder: readLadder(sets, layers),
    };
  }
}

/**
 * The layer that a bead belongs to by its middle, which lies half a layer below the nozzle: of a spiral, whose nozzle
 * climbs through the heights of two layers in each turn, the one that holds the middle of what is laid down.
 * @param nozzleMm - Height of the nozzle above the bed.
 * @param layerHeightMm - Layer height, > 0.
 * @param firstLayerHeightMm - Height of the first layer, > 0.
 * @returns Index of the layer, from 0.
 */
export function layerOfBead(nozzleMm: Mm, layerHeightMm: Mm, firstLayerHeightMm: Mm): number {
  const above = (nozzleMm - layerHeightMm / 2 - firstLayerHeightMm) / layerHeightMm;
  // A millionth of a layer: what sums of layer heights round.
  return Math.max(0, 1 + Math.floor(above + 1e-6));
}

function layersOf(printed: readonly PrintedLayer[]): JobLayers {
  const [first] = printed;
  if (first === undefined) throw noLayers(false);
  const spiral = printed.filter(({ climbs }) => climbs).length > SPIRAL_SHARE * printed.length;
  const firstHeightMm = first.climbs ? first.fromMm : first.topMm;
  const topMm = printed.at(-1)?.topMm ?? first.topMm;
  // A spiral may begin amid a wall and end before a turn is through.
  const last = printed.length - 1;
  const whole = printed.flatMap((layer, i) => {
    const below = printed[i - 1];
    if (below === undefined || (layer.climbs && (!below.climbs || i === last))) return [];
    return [layer.topMm - below.topMm];
  });
  const heightMm = whole.length === 0 ? firstHeightMm : micrometres(median(whole));
  return {
    count: spiral ? 1 + Math.round((topMm - firstHeightMm) / heightMm) : printed.length,
    heightMm,
    firstHeightMm: micrometres(firstHeightMm),
    even: whole.every((step) => Math.abs(step - heightMm) <= SAME_HEIGHT_MM),
    topMm: micrometres(topMm),
    spiral,
  };
}

/**
 * The error for a job without layers.
 * @param printed - It has printing moves, but tells no height.
 * @returns Error `job-no-layers`.
 */
export function noLayers(printed: boolean): InputError {
  return new InputError(
    'job-no-layers',
    printed
      ? 'No move of the job file says how high it prints: there is no Z word.'
      : 'The job file has no printing moves.',
    'Give the file that the machine prints, with moves like G1 X10 Y20 Z0.2 E0.5.',
  );
}
