import { randomUUID } from 'node:crypto';
import type { Limits } from './limits.js';
import { busy, notFound, toldOf, WebProblem, type WebError } from './problem.js';

/** Where a job stands. */
export type JobState =
  | { readonly name: 'queued'; readonly position: number }
  | { readonly name: 'running' }
  | { readonly name: 'done' }
  | { readonly name: 'failed'; readonly error: WebError };

/** What a job is to do. */
export interface Work<Result> {
  /** Does it; the signal ends it. */
  readonly run: (signal: AbortSignal) => Promise<Result>;
  /** How long it may take, ms. */
  readonly mostMs: number;
  /** The latest finished jobs of each kind are kept: a person who tries corners checks often, and measures seldom. */
  readonly kind: 'check' | 'measure';
  /** Bytes of the photos that it holds until it is finished, and that its result holds on to. */
  readonly bytes: number;
  readonly resultBytes: number;
}

/** A job, from when it is asked for until it is forgotten. */
export interface Job<Result> {
  readonly id: string;
  readonly state: JobState;
  /** Of a job that is done. */
  readonly result: Result | undefined;
}

interface Entry<Result> {
  readonly id: string;
  readonly kind: Work<Result>['kind'];
  /** Undefined once it is finished, so that what only it holds is let go. */
  work: Work<Result> | undefined;
  /** Bytes of photos that are held. */
  bytes: number;
  readonly abort: AbortController;
  readonly listeners: Set<(state: JobState) => void>;
  state: JobState;
  result?: Result;
  /** When somebody last listened or asked, ms. */
  heardAt: number;
}

/** A bounded queue of long work. A job that nobody listens to is ended. */
export class Jobs<Result> {
  readonly #limits: Limits;
  readonly #atOnce: number;
  readonly #now: () => number;
  readonly #tell: (error: unknown) => void;
  readonly #entries = new Map<string, Entry<Result>>();

  /**
   * @param limits - What is taken at most.
   * @param atOnce - How many jobs run at once.
   * @param now - The time, ms.
   * @param tell - Is told of our own mistakes.
   */
  constructor(limits: Limits, atOnce: number, now: () => number, tell: (error: unknown) => void) {
    this.#limits = limits;
    this.#atOnce = atOnce;
    this.#now = now;
    this.#tell = tell;
  }

  /**
   * Puts work into the queue.
   * @param work - What to do.
   * @returns Its job.
   * @throws {WebProblem} `busy` where too much waits already.
   */
  add(work: Work<Result>): Job<Result> {
    const open = [...this.#inState('queued'), ...this.#inState('running')];
    const openBytes = open.reduce((sum, { bytes }) => sum + bytes, 0);
    const isFull = open.length > 0 && openBytes + work.bytes > this.#limits.allBytes;
    if (isFull || this.#inState('queued').length >= this.#limits.waiting)
      throw busy('Too many measurements are waiting.');
    const entry: Entry<Result> = {
      id: randomUUID(),
      kind: work.kind,
      work,
      bytes: work.bytes,
      abort: new AbortController(),
      listeners: new Set(),
      state: { name: 'queued', position: 1 },
      heardAt: this.#now(),
    };
    this.#entries.set(entry.id, entry);
    this.#advance();
    return this.get(entry.id);
  }

  /**
   * A job as it stands. Asking for it keeps it on.
   * @param id - Its name.
   * @returns The job.
   * @throws {WebProblem} `not-found`.
   */
  get(id: string): Job<Result> {
    const { state, result } = this.#entry(id);
    return { id, state, result };
  }

  /**
   * Replaces what a job that is done came to; of one that was forgotten meanwhile nothing is left to replace.
   * @param id - Its name.
   * @param result - The new result.
   */
  update(id: string, result: Result): void {
    const entry = this.#entries.get(id);
    if (entry !== undefined) entry.result = result;
  }

  /**
   * Listens to a job; the state that it is in is told at once.
   * @param id - Its name.
   * @param listener - Is told each state.
   * @returns Ends the listening.
   * @throws {WebProblem} `not-found`.
   */
  listen(id: string, listener: (state: JobState) => void): () => void {
    const entry = this.#entry(id);
    entry.listeners.add(listener);
    listener(entry.state);
    return () => {
      if (entry.listeners.delete(listener)) entry.heardAt = this.#now();
    };
  }

  /**
   * Ends a job and forgets it.
   * @param id - Its name.
   * @throws {WebProblem} `not-found`.
   */
  remove(id: string): void {
    this.#cancel(this.#entry(id));
    this.#entries.delete(id);
    this.#advance();
  }

  /** Ends jobs that nobody listens to, and forgets those that nobody asked for in a long time. */
  sweep(): void {
    for (const entry of this.#entries.values()) {
      if (entry.listeners.size > 0) continue;
      const unheardMs = this.#now() - entry.heardAt;
      const isOpen = entry.state.name === 'queued' || entry.state.name === 'running';
      if (unheardMs > (isOpen ? this.#limits.unheardMs : this.#limits.keptMs)) this.remove(entry.id);
    }
  }

  /** Ends and forgets all jobs. */
  close(): void {
    for (const entry of this.#entries.values()) this.#cancel(entry);
    this.#entries.clear();
  }

  #entry(id: string): Entry<Result> {
    const entry = this.#entries.get(id);
    if (entry === undefined) throw notFound('such job');
    entry.heardAt = this.#now();
    return entry;
  }

  #inState(name: JobState['name']): readonly Entry<Result>[] {
    return [...this.#entries.values()].filter(({ state }) => state.name === name);
  }

  #enter(entry: Entry<Result>, state: JobState): void {
    entry.state = state;
    if (state.name === 'done' || state.name === 'failed') {
      entry.bytes = state.name === 'done' ? (entry.work?.resultBytes ?? 0) : 0;
      entry.work = undefined;
    }
    for (const listener of [...entry.listeners]) listener(state);
  }

  #cancel(entry: Entry<Result>): void {
    if (entry.state.name !== 'queued' && entry.state.name !== 'running') return;
    const cancelled = new WebProblem(
      409,
      'cancelled',
      'It was cancelled.',
      'Begin again where it is wanted.',
    );
    this.#enter(entry, { name: 'failed', error: toldOf(cancelled).error });
    entry.abort.abort();
  }

  // Begins what can begin, tells those that wait their place, and forgets the oldest that are finished.
  #advance(): void {
    for (const entry of this.#inState('queued')) {
      if (this.#inState('running').length >= this.#atOnce) break;
      const { work } = entry;
      this.#enter(entry, { name: 'running' });
      if (work !== undefined) void this.#run(entry, work);
    }
    for (const [i, entry] of this.#inState('queued').entries()) {
      const isTold = entry.state.name === 'queued' && entry.state.position === i + 1;
      if (!isTold) this.#enter(entry, { name: 'queued', position: i + 1 });
    }
    this.#forgetOldest('check');
    this.#forgetOldest('measure');
  }

  // The latest one is kept whatever it holds: somebody has just waited for it.
  #forgetOldest(kind: Work<Result>['kind']): void {
    const finished = [...this.#inState('done'), ...this.#inState('failed')]
      .filter((entry) => entry.kind === kind)
      .toSorted((a, b) => b.heardAt - a.heardAt);
    let bytes = 0;
    for (const [i, entry] of finished.entries()) {
      bytes += entry.bytes;
      if (i >= this.#limits.finished || (i > 0 && bytes > this.#limits.allBytes))
        this.#entries.delete(entry.id);
    }
  }

  async #run(entry: Entry<Result>, work: Work<Result>): Promise<void> {
    const { abort } = entry;
    const timer = setTimeout(() => {
      const late = new WebProblem(
        504,
        'timed-out',
        'The measurement took longer than is waited for, and was ended.',
        'Crop the photo to the tower and its reference, or measure it on the command line.',
      );
      this.#finish(entry, () => {
        this.#enter(entry, { name: 'failed', error: toldOf(late).error });
      });
      abort.abort();
    }, work.mostMs);
    try {
      const result = await work.run(abort.signal);
      this.#finish(entry, () => {
        entry.result = result;
        this.#enter(entry, { name: 'done' });
      });
    } catch (error) {
      this.#finish(entry, () => {
        const { status, error: told } = toldOf(error);
        if (status === 500) this.#tell(error);
        this.#enter(entry, { name: 'failed', error: told });
      });
    } finally {
      clearTimeout(timer);
    }
  }

  // The first end that a job comes to counts.
  #finish(entry: Entry<Result>, end: () => void): void {
    if (entry.state.name !== 'running') return;
    entry.heardAt = this.#now();
    end();
    this.#advance();
  }
}
