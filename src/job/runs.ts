import type { Mm, MmPerS } from '../core/units.js';
import type { Motion } from './readLines.js';

/** A straight stretch that is printed in one go; it may consist of several moves. One object serves all: copy what is kept. */
export interface Run {
  fromXMm: Mm;
  fromYMm: Mm;
  toXMm: Mm;
  toYMm: Mm;
  lengthMm: Mm;
  /** Unit direction. */
  directionX: number;
  directionY: number;
  /** Speed of its longest stretch of one speed; 0 where none is told. */
  speedMmPerS: MmPerS;
  /** By how much the direction turns into it, rad, counterclockwise positive; undefined behind a travelling move. */
  turnIn: number | undefined;
  /** By how much it turns at its end; undefined where a travelling move follows. */
  turnOut: number | undefined;
}

/** The end of a move may lie so far off the run's line, mm: what words of two decimals round. */
const OFF_LINE_MM: Mm = 0.02;

/** Joins printing moves to straight runs. */
export class Runs {
  readonly #onRun: (run: Readonly<Run>) => void;
  readonly #run: Run = {
    fromXMm: 0,
    fromYMm: 0,
    toXMm: 0,
    toYMm: 0,
    lengthMm: 0,
    directionX: 0,
    directionY: 0,
    speedMmPerS: 0,
    turnIn: undefined,
    turnOut: undefined,
  };
  #open = false;
  /** The stretch of one speed at the run's end, and the longest so far. */
  #speed = 0;
  #stretchMm = 0;
  #longestMm = 0;

  /**
   * @param onRun - Is told each run when it is complete.
   */
  constructor(onRun: (run: Readonly<Run>) => void) {
    this.#onRun = onRun;
  }

  /**
   * By how much a printing move turns from the run before it.
   * @param motion - The move, of some length along the bed.
   * @returns rad, counterclockwise positive; 0 where no run leads to it.
   */
  turnInto(motion: Readonly<Motion>): number {
    const run = this.#run;
    if (!this.#open) return 0;
    const x = motion.toXMm - motion.fromXMm;
    const y = motion.toYMm - motion.fromYMm;
    return Math.atan2(run.directionX * y - run.directionY * x, run.directionX * x + run.directionY * y);
  }

  /**
   * Takes a printing move.
   * @param motion - The move, of some length along the bed.
   */
  print(motion: Readonly<Motion>): void {
    const run = this.#run;
    if (this.#open && !motion.arc && this.#extends(run, motion)) {
      run.toXMm = motion.toXMm;
      run.toYMm = motion.toYMm;
      const x = run.toXMm - run.fromXMm;
      const y = run.toYMm - run.fromYMm;
      const lengthMm = Math.sqrt(x * x + y * y);
      run.directionX = x / lengthMm;
      run.directionY = y / lengthMm;
      this.#addSpeed(run, motion.speedMmPerS, lengthMm - run.lengthMm);
      run.lengthMm = lengthMm;
      return;
    }
    const turnIn = this.#open ? this.turnInto(motion) : undefined;
    if (this.#open) {
      run.turnOut = turnIn;
      this.#onRun(run);
    }
    this.#begin(motion, turnIn);
  }

  /** Ends the run: a travelling move follows, a layer ends, or the file. */
  end(): void {
    if (this.#open) this.#onRun(this.#run);
    this.#open = false;
  }

  #begin(motion: Readonly<Motion>, turnIn: number | undefined): void {
    const x = motion.toXMm - motion.fromXMm;
    const y = motion.toYMm - motion.fromYMm;
    const lengthMm = Math.sqrt(x * x + y * y);
    this.#speed = motion.speedMmPerS;
    this.#stretchMm = lengthMm;
    this.#longestMm = lengthMm;
    this.#open = true;
    const run = this.#run;
    run.fromXMm = motion.fromXMm;
    run.fromYMm = motion.fromYMm;
    run.toXMm = motion.toXMm;
    run.toYMm = motion.toYMm;
    run.lengthMm = lengthMm;
    run.directionX = x / lengthMm;
    run.directionY = y / lengthMm;
    run.speedMmPerS = motion.speedMmPerS;
    run.turnIn = turnIn;
    run.turnOut = undefined;
  }

  #extends(run: Run, motion: Readonly<Motion>): boolean {
    const x = motion.toXMm - run.fromXMm;
    const y = motion.toYMm - run.fromYMm;
    const along = run.directionX * x + run.directionY * y;
    return along > run.lengthMm && Math.abs(run.directionX * y - run.directionY * x) < OFF_LINE_MM;
  }

  #addSpeed(run: Run, speedMmPerS: MmPerS, lengthMm: Mm): void {
    if (speedMmPerS === this.#speed) this.#stretchMm += lengthMm;
    else {
      this.#speed = speedMmPerS;
      this.#stretchMm = lengthMm;
    }
    if (this.#stretchMm <= this.#longestMm) return;
    this.#longestMm = this.#stretchMm;
    run.speedMmPerS = speedMmPerS;
  }
}
