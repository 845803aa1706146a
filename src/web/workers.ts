import { Piscina } from 'piscina';
import { InputError } from '../index.js';
import { busy, WebProblem } from './problem.js';
import type * as worker from './worker.js';

/** What workers can do, by name. */
export type Tasks = typeof worker;
/** The name of a task. */
export type TaskName = keyof Tasks;
/** What a task is given. */
export type TaskInput<Name extends TaskName> = Parameters<Tasks[Name]>[0];
type Answered<Name extends TaskName> = Awaited<ReturnType<Tasks[Name]>>;
/** What a task gives. */
export type TaskOutput<Name extends TaskName> = Extract<Answered<Name>, { readonly ok: true }>['value'];

type Outcome = worker.Answer<unknown>;

/** How a task is run. */
export interface RunOptions {
  /** `long` for measurements, which wait for each other; `short` for all that somebody waits for beside them. */
  readonly lane: 'short' | 'long';
  /** Ends the task, by ending the thread that it runs in; a task without one is always brought to its end. */
  readonly signal?: AbortSignal;
}

/** Threads that do all work that takes longer than a moment, so that the server goes on answering. */
export interface Workers {
  /** How many long tasks run at once. */
  readonly longThreads: number;
  /**
   * Runs a task.
   * @throws {InputError} What the task throws.
   * @throws {WebProblem} `busy` where too much waits, `timed-out` where its signal ended it.
   */
  readonly run: <Name extends TaskName>(
    name: Name,
    input: TaskInput<Name>,
    options: RunOptions,
  ) => Promise<TaskOutput<Name>>;
  /** Ends all threads and whatever runs in them, but what has to be brought to its end. */
  readonly close: () => Promise<void>;
}

/** Short tasks that may wait; each holds a photo. */
const MOST_WAITING = 32;
/** The thread that answers comes first where cores are few. */
const NICE = 10;

/**
 * Starts the threads: one for short tasks, and the others for measurements.
 * @param cores - How many cores there are.
 * @param file - Address of the module with the tasks. @default the built `worker.js` beside this file
 * @returns The threads.
 */
export function startWorkers(
  cores: number,
  file: string = new URL('worker.js', import.meta.url).href,
): Workers {
  // Each measurement may hold some hundred megabytes.
  const longThreads = Math.min(4, Math.max(1, cores - 1));
  const pools = {
    short: new Piscina({
      filename: file,
      minThreads: 1,
      maxThreads: 1,
      maxQueue: MOST_WAITING,
      niceIncrement: NICE,
    }),
    long: new Piscina({
      filename: file,
      minThreads: 1,
      maxThreads: longThreads,
      idleTimeout: 60_000,
      niceIncrement: NICE,
    }),
  };
  const unbroken = new Set<Promise<Outcome>>();
  return {
    longThreads,
    run: async (name, input, { lane, signal }) => {
      const pool = pools[lane];
      if (lane === 'short' && pool.queueSize >= MOST_WAITING)
        throw busy('Too much is waiting to be looked at.');
      const run = pool.run(input, { name, ...(signal === undefined ? {} : { signal }) }) as Promise<Outcome>;
      if (signal === undefined) {
        unbroken.add(run);
        void run.catch(() => undefined).finally(() => unbroken.delete(run));
      }
      try {
        return unpacked(await run) as TaskOutput<typeof name>;
      } catch (error) {
        if (signal?.aborted === true) throw timedOut();
        throw error;
      }
    },
    close: async () => {
      await Promise.allSettled(unbroken);
      await Promise.all([pools.short.destroy(), pools.long.destroy()]);
    },
  };
}

function timedOut(): WebProblem {
  return new WebProblem(
    504,
    'timed-out',
    'It took longer than is waited for, and was ended.',
    'Try again when less is being measured.',
  );
}

/**
 * What a task answered.
 * @param answer - The answer as it came from another thread.
 * @returns Its value.
 * @throws {InputError} The user's mistake.
 * @internal
 */
export function unpacked<Value>(answer: worker.Answer<Value>): Value {
  if (answer.ok) return answer.value;
  const { code, message, advice, field } = answer.mistake;
  throw new InputError(code, message, advice, field);
}
