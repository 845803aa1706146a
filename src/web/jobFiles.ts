import { randomUUID } from 'node:crypto';
import { mkdtemp, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { busy } from './problem.js';

/** Who may read what is written: nobody but the user that the server runs as. */
export const PRIVATE_MODE = 0o600;

/** A private folder for one job file and its copy, which is removed with all that is in it. */
export class JobPlace {
  /** Ends the work on the file: its sender has gone, or the server ends. */
  readonly signal: AbortSignal;
  readonly #folder: string;
  readonly #ending = new AbortController();
  readonly #onRemoved: () => void;
  #removal: Promise<void> | undefined;

  /**
   * @param folder - The folder, which is there.
   * @param onRemoved - Is told when it is there no longer.
   */
  constructor(folder: string, onRemoved: () => void) {
    this.signal = this.#ending.signal;
    this.#folder = folder;
    this.#onRemoved = onRemoved;
  }

  /**
   * A name in the folder that nobody guesses and nothing has.
   * @returns Its path.
   */
  newPath(): string {
    return join(this.#folder, randomUUID());
  }

  /** Ends the work, and removes the folder; once, however often it is asked. */
  async remove(): Promise<void> {
    this.#ending.abort();
    // A thread that is being ended may write for a moment more.
    this.#removal ??= rm(this.#folder, { recursive: true, force: true, maxRetries: 5 }).finally(
      this.#onRemoved,
    );
    await this.#removal;
  }
}

/** Job files that are read or woven: each for as long as one answer takes, and so many at once. */
export class JobFiles {
  readonly #most: number;
  readonly #root: string;
  readonly #places = new Set<JobPlace>();
  #opening = 0;
  readonly #ending = new AbortController();

  /**
   * @param most - How many at once.
   * @param root - Folder that their folders are made in.
   */
  constructor(most: number, root: string) {
    this.#most = most;
    this.#root = root;
  }

  /**
   * Makes a place for a job file before it arrives.
   * @returns The place, to be removed by whoever asked.
   * @throws {WebProblem} `busy` where as many as there may be are there.
   */
  async open(): Promise<JobPlace> {
    const isEnding = (): boolean => this.#ending.signal.aborted;
    const isFull = this.#places.size + this.#opening >= this.#most;
    if (isFull || isEnding()) throw busy('Other job files are being read at the moment.');
    this.#opening += 1;
    try {
      // Only its owner may look into a folder that is made so.
      const folder = await mkdtemp(join(this.#root, 'stillband-job-'));
      const place = new JobPlace(folder, () => this.#places.delete(place));
      this.#places.add(place);
      if (isEnding()) await place.remove();
      return place;
    } finally {
      this.#opening -= 1;
    }
  }

  /** Ends all work, and removes all that is left; afterwards there is no place. */
  async close(): Promise<void> {
    this.#ending.abort();
    await Promise.all([...this.#places].map((place) => place.remove()));
  }
}
