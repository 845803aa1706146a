import { InputError } from '../core/errors.js';
import type { Mm } from '../core/units.js';
import { micrometres } from './micrometres.js';
import type { Motion } from './readLines.js';

/** A layer as it is printed. */
export interface PrintedLayer {
  /** Height of the nozzle above the bed, of a spiral's turn that at its end. */
  readonly topMm: Mm;
  /** Height at which the layer's first printing move begins. */
  readonly fromMm: Mm;
  /** One turn of a wall that climbs all the time. */
  readonly climbs: boolean;
}

/** Heights closer than this are one, mm: far above the rounding of a word, far below a layer. */
export const SAME_HEIGHT_MM: Mm = 0.005;
/** A turn is through when so much is turned, rad: 2π less what rounded words may hide. */
const WHOLE_TURN = 2 * Math.PI - 0.1;
/** A line that cleans the nozzle may lie above the first layer: so many layers may begin anew. */
const MOST_BEFORE_TOWER = 2;
/** No print has more; bounds what a hostile file costs. */
const MOST_LAYERS = 100_000;

/** Follows the printing moves upwards, layer by layer or turn by turn. */
export class Layers {
  readonly #onEnd: (layer: PrintedLayer, bottomMm: Mm) => void;
  readonly #onRestart: () => void;
  readonly #done: PrintedLayer[] = [];
  #open: { topMm: Mm; fromMm: Mm; climbs: boolean; turned: number } | undefined;

  /**
   * @param onEnd - Is told each layer when it is complete, and where it begins above the bed.
   * @param onRestart - Is told when what was printed so far was no part of the tower.
   */
  constructor(onEnd: (layer: PrintedLayer, bottomMm: Mm) => void, onRestart: () => void) {
    this.#onEnd = onEnd;
    this.#onRestart = onRestart;
  }

  /**
   * The layer that is being printed.
   * @returns Its index from 0, -1 before the first.
   */
  get index(): number {
    return this.#done.length - (this.#open === undefined ? 1 : 0);
  }

  /**
   * Takes a printing move.
   * @param motion - The move.
   * @param turn - By how much its direction differs from that of the printing move before it, rad, counterclockwise
   * positive; 0 where none led to it.
   * @returns True when it begins a layer.
   * @throws {InputError} `job-unclear` when it prints below what is printed already, or there are too many layers.
   */
  print(motion: Readonly<Motion>, turn: number): boolean {
    const { fromZMm, toZMm } = motion;
    const open = this.#open;
    const climbs = toZMm > fromZMm;
    if (open === undefined) return this.#begin(motion, climbs);
    if (toZMm < open.topMm - SAME_HEIGHT_MM) return this.#goDown(motion, climbs);
    if (!climbs) {
      if (open.climbs && open.topMm - open.fromMm < 2 * SAME_HEIGHT_MM) open.climbs = false;
      // A seam may climb to its layer before it goes on level there.
      if (open.climbs && Math.abs(open.turned) < Math.PI / 2 && toZMm <= open.topMm + SAME_HEIGHT_MM) {
        open.climbs = false;
      }
      return toZMm > open.topMm + SAME_HEIGHT_MM ? this.#begin(motion, false) : false;
    }
    if (!open.climbs) return this.#begin(motion, true);
    open.turned += turn;
    if (Math.abs(open.turned) >= WHOLE_TURN) return this.#begin(motion, true);
    open.topMm = toZMm;
    return false;
  }

  /**
   * Ends the last layer.
   * @returns All layers, from the bottom up.
   */
  end(): readonly PrintedLayer[] {
    this.#close();
    return this.#done;
  }

  #begin({ fromZMm, toZMm, line }: Readonly<Motion>, climbs: boolean): boolean {
    this.#close();
    if (this.#done.length >= MOST_LAYERS) {
      throw unclear(`has more than ${String(MOST_LAYERS)} layers (line ${String(line)})`);
    }
    this.#open = { topMm: toZMm, fromMm: fromZMm, climbs, turned: 0 };
    return true;
  }

  #goDown(motion: Readonly<Motion>, climbs: boolean): boolean {
    if (this.index >= MOST_BEFORE_TOWER) {
      throw unclear(
        `prints at ${String(micrometres(motion.toZMm))} mm in line ${String(motion.line)}, below what it has printed already`,
      );
    }
    this.#done.length = 0;
    this.#open = undefined;
    this.#onRestart();
    return this.#begin(motion, climbs);
  }

  #close(): void {
    const open = this.#open;
    if (open === undefined) return;
    const layer = { topMm: open.topMm, fromMm: open.fromMm, climbs: open.climbs };
    const bottomMm = this.#done.at(-1)?.topMm ?? 0;
    this.#done.push(layer);
    this.#open = undefined;
    this.#onEnd(layer, bottomMm);
  }
}

function unclear(what: string): InputError {
  return new InputError(
    'job-unclear',
    `The job file ${what}.`,
    'Give a job that prints one tower from the bottom up, layer by layer.',
  );
}
