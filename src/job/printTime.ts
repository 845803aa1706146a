import type { Mm, MmPerS, MmPerS2, Seconds } from '../core/units.js';
import { reachedSpeed } from '../physics/straightMove.js';
import type { Motion } from './readLines.js';

/** What the machine makes of commanded speeds. */
export interface MachineMotion {
  readonly accelerationMmPerS2: MmPerS2;
  /** Speed that is kept through a corner. */
  readonly cornerSpeedMmPerS: MmPerS;
}

/** A turn below is taken at full speed, cosine of 15°: a curve of short chords, not a corner. */
const STRAIGHT_ON = Math.cos((15 * Math.PI) / 180);

/** Adds up how long moves take. */
export class PrintTime {
  readonly #machine: MachineMotion | undefined;
  #leastS: Seconds = 0;
  #rampedS: Seconds = 0;
  /** The stretch of one speed that is not added yet, and the unit direction of its last move. */
  #lengthMm: Mm = 0;
  #speed: MmPerS = 0;
  #startSpeed: MmPerS = 0;
  #x = 0;
  #y = 0;
  #z = 0;

  /**
   * @param machine - Acceleration and corner speed; undefined where they are not known.
   */
  constructor(machine: MachineMotion | undefined) {
    this.#machine = machine;
  }

  /**
   * Adds a move.
   * @param motion - The move; of an arc its chord counts, and a move without any speed takes no time.
   */
  add(motion: Readonly<Motion>): void {
    const x = motion.toXMm - motion.fromXMm;
    const y = motion.toYMm - motion.fromYMm;
    const z = motion.toZMm - motion.fromZMm;
    const lengthMm = Math.sqrt(x * x + y * y + z * z);
    const speed = motion.speedMmPerS;
    if (lengthMm === 0 || speed === 0) return;
    this.#leastS += lengthMm / speed;
    if (this.#machine === undefined) return;
    const straight = (x * this.#x + y * this.#y + z * this.#z) / lengthMm > STRAIGHT_ON;
    if (straight && speed === this.#speed) this.#lengthMm += lengthMm;
    else {
      const junction = Math.min(speed, this.#speed, straight ? Infinity : this.#machine.cornerSpeedMmPerS);
      this.#flush(junction, this.#machine);
      this.#lengthMm = lengthMm;
      this.#speed = speed;
      this.#startSpeed = junction;
    }
    this.#x = x / lengthMm;
    this.#y = y / lengthMm;
    this.#z = z / lengthMm;
  }

  /**
   * Ends the last move.
   * @returns The time at the speeds commanded, which no machine undercuts, and that with acceleration, where it is known.
   */
  end(): { readonly leastS: Seconds; readonly rampedS: Seconds | undefined } {
    if (this.#machine === undefined) return { leastS: this.#leastS, rampedS: undefined };
    this.#flush(0, this.#machine);
    this.#lengthMm = 0;
    return { leastS: this.#leastS, rampedS: this.#rampedS };
  }

  #flush(endMmPerS: MmPerS, { accelerationMmPerS2 }: MachineMotion): void {
    if (this.#lengthMm === 0) return;
    this.#rampedS += reachedSpeed({
      lengthMm: this.#lengthMm,
      speedMmPerS: this.#speed,
      startMmPerS: this.#startSpeed,
      endMmPerS,
      accelerationMmPerS2,
    }).timeS;
  }
}
