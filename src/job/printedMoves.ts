import { InputError } from '../core/errors.js';
import type { Motion } from './readLines.js';

/** How a job tells the extruder's position: from the last reset, from the last move, or not at all. */
export type ExtruderWay = 'absolute' | 'relative' | 'none';

/** So many moves along the bed with an E word are looked at before it is decided which way they are told. */
const ENOUGH_MOVES = 256;
/** So many moves are kept until then: a job that has no E word among them has none. */
const MOST_KEPT = 4096;
/**
 * What is extruded for each mm is much the same from move to move. Read the wrong way it is not, or, where the moves are
 * alike, it is none at all: so the way counts by which it agrees with that of the move before more often. Of positions
 * that rise with moves of one length both agree, of lengths never.
 */
const SAME_FLOW = 0.2;

/**
 * Tells printing moves from travelling ones. ISO 6983 has no word for how the extruder is told, so that its numbers must
 * show it: the first moves are kept until they do. A job without E words prints wherever it feeds (G1, G2, G3).
 */
export class PrintedMoves {
  readonly #use: (motion: Readonly<Motion>, prints: boolean) => void;
  #kept: (() => void)[] | undefined = [];
  #way: ExtruderWay = 'none';
  /** The extruder's position where it is told absolutely. */
  #position = 0;
  #moves = 0;
  /** The position before the kept moves are gone through again. */
  #seenPosition = 0;
  readonly #flowByPosition = new Flow();
  readonly #flowByLength = new Flow();

  /**
   * @param use - Is told each move in order, and whether it prints.
   */
  constructor(use: (motion: Readonly<Motion>, prints: boolean) => void) {
    this.#use = use;
  }

  /**
   * Takes the next move.
   * @param motion - The move; copied where it is kept.
   * @throws {InputError} `job-unclear` when E words begin only after thousands of moves without.
   */
  move(motion: Readonly<Motion>): void {
    const along = motion.toXMm !== motion.fromXMm || motion.toYMm !== motion.fromYMm;
    const extrudes = !Number.isNaN(motion.extruder);
    if (extrudes) {
      if (along) {
        this.#moves += 1;
        const x = motion.toXMm - motion.fromXMm;
        const y = motion.toYMm - motion.fromYMm;
        const perMm = 1 / Math.sqrt(x * x + y * y);
        this.#flowByPosition.add((motion.extruder - this.#seenPosition) * perMm);
        this.#flowByLength.add(motion.extruder * perMm);
      }
      this.#seenPosition = motion.extruder;
    }
    if (this.#kept === undefined) {
      this.#tell(motion, along, extrudes);
      return;
    }
    const copy = { ...motion };
    this.#kept.push(() => {
      this.#tell(copy, along, extrudes);
    });
    if (this.#moves >= ENOUGH_MOVES || this.#kept.length >= MOST_KEPT) this.#decide();
  }

  /**
   * Takes a reset of the extruder's position.
   * @param position - The new number of where it is.
   */
  set(position: number): void {
    this.#seenPosition = position;
    this.inOrder(() => {
      this.#position = position;
    });
  }

  /**
   * Does something when all moves before it are told.
   * @param task - What to do.
   */
  inOrder(task: () => void): void {
    if (this.#kept === undefined) task();
    else this.#kept.push(task);
  }

  /**
   * Tells what is still kept.
   * @returns How the extruder is told.
   * @throws {InputError} `job-unclear` when it is told neither way.
   */
  end(): ExtruderWay {
    this.#decide();
    if (this.#way !== 'none' && this.#way !== this.#likelyWay()) {
      throw new InputError(
        'job-unclear',
        "The job file's E words are neither positions that rise nor lengths of single moves.",
        'Write the job anew with one way of telling the extruder throughout.',
      );
    }
    return this.#way;
  }

  #likelyWay(): ExtruderWay {
    return this.#flowByPosition.agreeing >= this.#flowByLength.agreeing ? 'absolute' : 'relative';
  }

  #decide(): void {
    const kept = this.#kept;
    if (kept === undefined) return;
    this.#kept = undefined;
    if (this.#moves > 0) this.#way = this.#likelyWay();
    for (const task of kept) task();
  }

  #tell(motion: Readonly<Motion>, along: boolean, extrudes: boolean): void {
    if (this.#way === 'none') {
      if (extrudes && along) {
        throw new InputError(
          'job-unclear',
          `The job file's first move along the bed with an E word is in line ${String(motion.line)}, after ${String(MOST_KEPT)} without one.`,
          'Give the job as it is printed, without thousands of moves before it begins.',
        );
      }
      this.#use(motion, motion.feed && along);
      return;
    }
    let prints = false;
    if (extrudes) {
      prints = along && motion.extruder > (this.#way === 'absolute' ? this.#position : 0);
      this.#position = motion.extruder;
    }
    this.#use(motion, prints);
  }
}

/** Counts how often what is extruded for each mm is that of the move before. */
class Flow {
  agreeing = 0;
  #before = Number.NaN;

  add(perMm: number): void {
    if (!(perMm > 0)) return;
    if (Math.abs(perMm - this.#before) < SAME_FLOW * perMm) this.agreeing += 1;
    this.#before = perMm;
  }
}
